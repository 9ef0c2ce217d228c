"""Starved: never from one quantity, and told from thin melt, restriction, speed and feeders that only say so."""

from __future__ import annotations

import pytest

from monitor.conditions.starved import Starved
from tests.monitor.conditions.told import (
    R1,
    SINGLE,
    TWIN,
    Story,
    changed,
    only,
    seconds,
    single,
    told,
    twin,
    without,
    words,
)  # fmt: skip
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 2400, 1200, 1800


def feeds(s: Script, factor: float) -> None:
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, TO, factor)


def fed_less(s: Script) -> None:
    """A fifth less is fed: torque falls by a fifth, pressure by Q^0.35 about 7.5 %."""
    feeds(s, 0.8)
    s.scale("torque", FROM + 5, TO, 0.83)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.925)


def path_blocked(s: Script) -> None:
    """All feeders on set, a third of the torque gone at once, pressure down a third as much."""
    s.scale("torque", FROM, TO, 0.68)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.87)


def thin_melt(s: Script) -> None:
    """A lot of lower viscosity: pressure moves at least as much as torque."""
    s.scale("torque", FROM, TO, 0.8)
    s.scale("melt_pressure:P1", FROM, TO, 0.75)


def restriction(s: Script) -> None:
    s.scale("torque", FROM, TO, 1.03)
    s.scale("melt_pressure:P1", FROM, TO, 1.3)


def faster_screw(s: Script) -> None:
    """Speed raised by a quarter by somebody: same feed, emptier screw, less torque."""
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, LOG_S, 1.25)
    s.scale("torque", FROM, LOG_S, 0.8)
    s.scale("melt_pressure:P1", FROM + 5, LOG_S, 0.99)


def only_the_feeders_say_so(s: Script) -> None:
    """A fifth less reported, and nothing follows: the signal lies."""
    feeds(s, 0.8)


def slow_slide(s: Script) -> None:
    """The first hour after a start: torque slides by 6 % while pressure follows a little."""
    part = s.span(600, LOG_S)
    n = len(s.x["torque"][part])
    s.x["torque"][part] *= [1 - 0.06 * i / n for i in range(n)]


def planned_lower_rate(s: Script) -> None:
    feeds(s, 0.8)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_setpoint:{feeder}", FROM, TO, 0.8)
    s.scale("torque", FROM + 5, TO, 0.83)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.925)


def one_bad_cell(s: Script) -> None:
    s.scale("torque", FROM, FROM + 9, 0.5)
    s.scale("melt_pressure:P1", FROM, FROM + 9, 0.8)


@pytest.mark.parametrize(
    ("story", "word", "confidence"),
    [(fed_less, "% less than set and the machine follows", "high"), (path_blocked, "all feeders on set", "medium")],
)
def test_speaks(story: Story, word: str, confidence: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, Starved()))

    assert word in finding.last.summary and finding.last.confidence == confidence
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 40
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 60
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 30


@pytest.mark.parametrize(
    "story",
    [thin_melt, restriction, faster_screw, only_the_feeders_say_so, slow_slide, planned_lower_rate, one_bad_cell],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, Starved()) == []


def test_a_blocked_path_that_empties_the_screw_is_said_to_be_deep() -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, TO, 9.0)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.5)

    assert "a scale or rate signal lies" in words(only(told(s, Starved())))


def test_without_torque_pressure_confirms_the_feeders() -> None:
    s = twin(LOG_S)
    fed_less(s)

    assert told(s, Starved(), line=without(TWIN, "torque"))
    silent = twin(LOG_S)
    only_the_feeders_say_so(silent)
    assert told(silent, Starved(), line=without(TWIN, "torque")) == []


def test_near_the_torque_limit_a_screw_is_not_empty() -> None:
    """The limiter trims the feed of a screw that labours: more torque than before, less fed, not starved."""
    s = twin(LOG_S)
    s.put("torque", FROM, TO, 97.0)
    feeds(s, 0.8)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.925)

    assert told(s, Starved()) == []


def test_a_torque_in_an_unknown_unit_is_not_held_against_a_limit_in_percent() -> None:
    """600 Nm is no 600 %: the screw that is fed less is still starved."""
    s = twin(LOG_S)
    fed_less(s)
    s.x["torque"] = s.x["torque"] * 10
    data = TWIN.model_dump()
    data["sensor"] = [{**one, "unit": "relative" if one["role"] == "torque" else one["unit"]} for one in data["sensor"]]

    assert told(s, Starved(), line=type(TWIN).model_validate(data))


# -- flood-fed


def throat_bridged(s: Script) -> None:
    s.scale("torque", FROM, TO, 0.75)
    s.scale("melt_pressure:P1", FROM, TO, 0.8)
    s.scale("line_rate", FROM, TO, 0.65)


def thinner_at_the_same_rate(s: Script) -> None:
    s.scale("torque", FROM, TO, 0.8)
    s.scale("melt_pressure:P1", FROM, TO, 0.8)


def restricted_single(s: Script) -> None:
    s.scale("melt_pressure:P1", FROM, TO, 1.4)
    s.scale("torque", FROM, TO, 1.05)
    s.scale("line_rate", FROM, TO, 0.9)


def test_flood_fed_speaks_when_rate_load_and_pressure_fall_together() -> None:
    s = single(LOG_S)
    throat_bridged(s)

    finding = only(told(s, Starved()))
    assert finding.last.confidence == "high" and "hopper empty or bridged" in words(finding)


@pytest.mark.parametrize("story", [thinner_at_the_same_rate, restricted_single])
def test_flood_fed_stays_silent(story: Story) -> None:
    s = single(LOG_S)
    story(s)

    assert told(s, Starved()) == []


def test_flood_fed_without_a_measured_rate_both_causes_are_said() -> None:
    s = single(LOG_S)
    throat_bridged(s)
    finding = only(told(s, Starved(), line=without(SINGLE, "line_rate")))

    assert finding.last.confidence == "medium"
    assert "thinner melt: a new lot, hotter zones" in words(finding)


def test_a_recipe_that_floods_a_twin_screw_is_judged_as_flood_fed() -> None:
    s = twin(LOG_S)
    path_blocked(s)
    flooded_feed = changed(R1, recipe={"feed": "flooded"})

    assert told(s, Starved(), recipe=flooded_feed) == [], "its rate over speed held"
