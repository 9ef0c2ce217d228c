"""Which open finding explains which: by physics, in its own place, never a priority 1, never afterwards."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import pytest

from monitor import causes
from monitor.conditions.registry import CONDITIONS
from monitor.contract import Context, Explanation
from monitor.episodes import Turn
from tests.monitor.scripted_world import scripted_line, scripted_recipe

S = 1_000_000_000
CTX = Context(scripted_line(), scripted_recipe(), None, 10.0)
ROLES = {
    "heater_dead": "zone_output",
    "thermocouple_open": "zone_temperature",
    "zone_under_temperature": "zone_temperature",
    "zone_over_temperature": "zone_temperature",
}


@dataclass(frozen=True)
class Spoken:
    """A condition of any name that says what it is told to say."""

    name: str
    priorities: tuple[int, ...] = (3,)
    family: str = "drift"

    def channel(self, subject: str) -> str:
        return f"{ROLES[self.name]}:{subject}" if self.name in ROLES else subject

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        return Explanation(f"{self.name} {subject}", self.priorities[min(level, len(self.priorities)) - 1], "high")


class Desk:
    """Findings as they are said, one turn after another."""

    def __init__(self) -> None:
        self.standing: dict[str, Any] = {}
        self.seq = itertools.count(1)

    def say(
        self, name: str, since_s: int, kind: str = "opened", subject: str = "x", level: int = 1, **given: Any
    ) -> Any:
        turn = Turn(0, (since_s + 60) * S, kind, level, since_s * S, None, {})  # type: ignore[arg-type]
        spoken: Any = Spoken(name, **given)
        before = dict(self.standing)
        record, after = causes.record(spoken, subject, turn, CTX, "lot", next(self.seq), self.standing)
        assert self.standing == before, "what stood before is not written into"
        self.standing = after
        return record


def test_a_feed_that_fails_takes_what_follows_with_it() -> None:
    desk = Desk()
    cause = desk.say("feeder_bridged", 100)
    effect = desk.say("starved", 110)

    assert effect.part_of == cause.finding and cause.part_of == ""


def test_what_physics_does_not_allow_is_not_folded() -> None:
    desk = Desk()
    desk.say("feeder_bridged", 100)

    assert desk.say("zone_under_temperature", 110).part_of == ""
    assert desk.say("hot_hold", 110).part_of == ""


def test_priority_one_is_never_folded() -> None:
    desk = Desk()
    desk.say("starved", 100)

    assert desk.say("melt_over_temperature", 110, priorities=(1,)).part_of == ""


def test_what_becomes_priority_one_is_unfolded() -> None:
    """It was a warm melt under a starving; now it is above the ceiling, and must be seen for itself."""
    desk = Desk()
    cause = desk.say("starved", 100)
    first = desk.say("melt_over_temperature", 110, priorities=(2, 1))
    second = desk.say("melt_over_temperature", 110, "revised", level=2, priorities=(2, 1))
    third = desk.say("melt_over_temperature", 110, "closed", level=2, priorities=(2, 1))

    assert [first.part_of, second.part_of, third.part_of] == [cause.finding, "", ""]


@pytest.mark.parametrize("cause", causes.SAME_PLACE)
def test_a_zone_explains_only_what_happens_in_it(cause: str) -> None:
    desk = Desk()
    own = desk.say(cause, 100, subject="Z2")

    assert desk.say("zone_under_temperature", 100, subject="Z2").part_of == own.finding
    assert desk.say("zone_under_temperature", 100, subject="Z3").part_of == ""


@pytest.mark.parametrize("cause", sorted(causes.EXPLAINS))
def test_no_cause_explains_what_began_long_before_it(cause: str) -> None:
    """Its rule looks back over a window, so it may be dated a little late; not more than that window."""
    effect = causes.EXPLAINS[cause][0]
    late = causes.dated_late_s(cause)
    for ahead, folded in ((0, True), (late, True), (late + 1, False)):
        desk = Desk()
        said = desk.say(cause, 5000, subject="Z2")
        assert (desk.say(effect, 5000 - ahead, subject="Z2").part_of == said.finding) == folded, ahead


def test_of_several_the_oldest_explains() -> None:
    desk = Desk()
    desk.say("feeder_off_target", 200, subject="F2")
    older = desk.say("feeder_bridged", 100, subject="F1")

    assert desk.say("starved", 210).part_of == older.finding


def test_a_cause_that_has_ended_explains_nothing_new() -> None:
    desk = Desk()
    desk.say("feeder_bridged", 100)
    desk.say("feeder_bridged", 100, "closed")

    assert desk.say("starved", 210).part_of == ""
    assert len(desk.standing) == 1


def test_what_was_folded_stays_folded_when_its_cause_ends_first() -> None:
    desk = Desk()
    cause = desk.say("feeder_bridged", 100)
    desk.say("starved", 110)
    desk.say("feeder_bridged", 100, "closed")

    assert desk.say("starved", 110, "closed").part_of == cause.finding
    assert desk.standing == {}


def test_a_cause_found_later_explains_what_is_still_open() -> None:
    desk = Desk()
    assert desk.say("starved", 100).part_of == ""
    cause = desk.say("feeder_weight_still", 90)

    assert desk.say("starved", 100, "revised").part_of == cause.finding


def test_the_record_carries_everything_that_was_said() -> None:
    record = Desk().say("starved", 100)

    assert (record.line, record.lot, record.recipe, record.seq) == ("scripted", "lot", "R1", 1)
    assert (record.since, record.decided_at, record.until) == (100 * S, 160 * S, None)
    assert (record.condition, record.channel, record.summary) == ("starved", "x", "starved x")


def test_without_a_known_recipe_the_record_names_none() -> None:
    turn = Turn(0, 60 * S, "opened", 1, 0, None, {})
    record, _ = causes.record(Spoken("starved"), "x", turn, Context(CTX.line, None, None, 10.0), "", 1, {})  # type: ignore[arg-type]

    assert record.recipe == ""


def test_every_name_is_a_condition_and_nothing_explains_itself_round_a_corner() -> None:
    names = {condition.name for condition in CONDITIONS}
    assert set(causes.EXPLAINS) <= names
    for cause, effects in causes.EXPLAINS.items():
        assert set(effects) <= names and cause not in effects
        reached, ahead = set(), list(effects)
        while ahead:
            now = ahead.pop()
            if now not in reached:
                reached.add(now)
                ahead += causes.EXPLAINS.get(now, ())
        assert cause not in reached
