"""Which open finding explains which: by physics, in its own place, never a priority 1, never afterwards."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from monitor import causes, explains
from monitor.conditions.registry import CONDITIONS
from monitor.contract import Context
from monitor.episodes import Turn
from monitor.records import Cause, Evidence
from tests.monitor.desk import CTX, Desk, S, Spoken, standing_as


def test_a_feed_that_fails_takes_what_follows_with_it() -> None:
    desk = Desk()
    cause = desk.say("feeder_bridged", 100)
    effect = desk.say("starved", 110)

    assert effect.part_of == cause.finding and cause.part_of == ""


@pytest.mark.parametrize("effect", ["screen_ruptured", "recipe_window", "sme_off"])
def test_a_feeder_whose_rate_is_averaged_takes_along_what_the_screws_felt_before(effect: str) -> None:
    """A loss-in-weight rate is a mean over a minute or two; load and pressure follow the material itself."""
    desk = Desk()
    before = desk.say(effect, 100)
    cause = desk.say("feeder_bridged", 220)

    assert [record.finding for record in desk.told if record.part_of == cause.finding] == [before.finding]


def test_what_physics_does_not_allow_is_not_folded() -> None:
    desk = Desk()
    desk.say("feeder_bridged", 100)

    assert desk.say("zone_under_temperature", 110).part_of == ""
    assert desk.say("hot_hold", 110).part_of == ""


def test_who_explains_something_more_urgent_becomes_as_urgent() -> None:
    """A note calls nobody: what somebody must be called for is not hidden under it."""
    desk = Desk()
    outer = desk.say("heater_dead", 90, subject="Z2", priorities=(3,))
    note = desk.say("heater_partial", 100, subject="Z2", priorities=(4,))
    effect = desk.say("zone_under_temperature", 110, subject="Z2", priorities=(2,))
    raised = {record.finding: record.priority for record in desk.told[1:]}

    assert effect.part_of in (note.finding, outer.finding)
    assert all(priority == 2 for priority in raised.values()) and effect.part_of in raised
    assert desk.say("heater_dead", 90, "closed", until_s=300, subject="Z2", priorities=(3,)).priority == 2


def test_a_note_that_has_ended_explains_nothing_more_urgent() -> None:
    desk = Desk()
    desk.say("starved", 100, priorities=(4,))
    desk.say("starved", 100, "closed", until_s=200, priorities=(4,))

    assert desk.say("zone_over_temperature", 300, subject="Z2", priorities=(2,)).part_of == ""


def test_what_outlasts_its_cause_by_far_stands_for_itself() -> None:
    desk = Desk()
    cause = desk.say("starved", 100)
    effect = desk.say("zone_over_temperature", 150, subject="Z2")
    desk.say("starved", 100, "closed", until_s=200)
    soon = desk.say("zone_over_temperature", 150, "revised", until_s=1200, subject="Z2")
    late = desk.say("zone_over_temperature", 150, "closed", until_s=7200, subject="Z2")

    assert [effect.part_of, soon.part_of, late.part_of] == [cause.finding, cause.finding, ""]


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


@pytest.mark.parametrize("cause", [name for name in explains.NEAR_BY if name != "zone_under_temperature"])
def test_a_zone_explains_only_what_happens_in_it_and_next_to_it(cause: str) -> None:
    """Z1, Z2, Z3, ADAPTER, DIE: Z2 heats and cools Z1 and Z3, not the die; two swapped ones do so both."""
    desk = Desk()
    own = desk.say(cause, 100, subject="Z2")

    effect = next(name for name in explains.EXPLAINS[cause] if name.startswith("zone_"))
    folded = {zone: desk.say(effect, 100, subject=zone).part_of for zone in CTX.line.zone_names}
    further = own.finding if cause == "couples_swapped" else ""
    assert folded == {"Z1": own.finding, "Z2": own.finding, "Z3": own.finding, "ADAPTER": further, "DIE": ""}


@pytest.mark.parametrize(
    ("cause", "effect"), [("cooling_passing", "thermocouple_loose"), ("zone_in_manual", "cooling_passing")]
)
def test_what_a_zone_takes_for_one_fault_makes_no_second_story(cause: str, effect: str) -> None:
    desk = Desk()
    own = desk.say(cause, 100, subject="Z2")
    assert [desk.say(effect, 7300, subject=zone).part_of for zone in ("Z2", "DIE")] == [own.finding, ""]


def test_two_swapped_far_apart_explain_what_happens_at_both() -> None:
    desk = Desk()
    own = desk.say("couples_swapped", 100, subject="Z1", moved={"apart": 4.0})
    folded = {zone: desk.say("heater_dead", 100, subject=zone).part_of for zone in CTX.line.zone_names}
    assert folded == {"Z1": own.finding, "Z2": own.finding, "Z3": "", "ADAPTER": own.finding, "DIE": own.finding}


@pytest.mark.parametrize("cause", ["heater_dead", "zone_under_temperature"])
def test_only_a_wall_beyond_the_screw_or_the_whole_supply_makes_pressure(cause: str) -> None:
    """A cold die raises the pressure; a cold barrel zone is not seen there."""
    for subject, folds in (("Z2", False), ("ADAPTER", True), ("DIE", True)):
        desk = Desk()
        own = desk.say(cause, 100, subject=subject)
        assert (desk.say("restricted", 110).part_of == own.finding) == folds, subject


BY_HOW_MUCH = {"melt_over_temperature": ({"melt_c": 10.0}, {"torque": -0.1})}
"""What explains only as far as it goes."""


# One drift explains another by when both began: see test_causes_of_drift.
@pytest.mark.parametrize("cause", sorted(explains.EXPLAINS.keys() - {"drift"}))
def test_no_cause_explains_what_began_long_before_it(cause: str) -> None:
    """Its rule looks back over a window, so it may be dated a little late; not more than that window."""
    effect = explains.EXPLAINS[cause][0]
    late = explains.LATE_FOR_S.get((cause, effect), causes.dated_late_s(cause))
    zone = "DIE" if cause == "zone_over_temperature" else "Z2"
    by, of = BY_HOW_MUCH.get(cause, ({}, {}))
    for ahead, folded in ((0, True), (late, True), (late + 1, False)):
        desk = Desk()
        said = desk.say(cause, 5000, subject=zone, moved=by)
        assert (desk.say(effect, 5000 - ahead, subject="Z2", moved=of).part_of == said.finding) == folded, ahead


def test_a_screen_told_after_four_points_takes_the_restriction_it_made_before() -> None:
    desk = Desk()
    desk.say("restricted", 1000)
    assert desk.told[-1].part_of == ""
    screen = desk.say("screen_blinding", 2000)
    assert (desk.told[-1].condition, desk.told[-1].part_of) == ("restricted", screen.finding)


def test_a_feed_zone_explains_no_pressure() -> None:
    """It is kept cool before anything melts: that its cooling is spent moves neither load nor pressure."""
    for subject, folded in (("Z1", False), ("Z2", True)):
        desk = Desk()
        desk.say("cooling_scaled", 100, subject=subject)
        assert (desk.say("drift", 110, subject="melt_pressure:P1").part_of != "") is folded


def test_what_an_overheated_zone_gives_its_neighbours_is_no_fault_of_theirs() -> None:
    desk = Desk()
    cause = desk.say("thermocouple_open", 100, subject="Z2")
    desk.say("thermocouple_open", 100, "closed", until_s=2000, subject="Z2")

    assert desk.say("contactor_stuck", 2100, subject="Z3").part_of == cause.finding
    assert desk.say("contactor_stuck", 2100, subject="Z5").part_of == ""


def test_a_controller_that_comes_back_from_a_flush_is_no_bridge() -> None:
    desk = Desk()
    cause = desk.say("flushing", 100, subject="feeder_rate:F1")
    desk.say("flushing", 100, "closed", until_s=130, subject="feeder_rate:F1")

    assert desk.say("feeder_bridged", 200, subject="feeder_rate:F1").part_of == cause.finding
    assert desk.say("feeder_weight_still", 200, subject="feeder_weight:F1").part_of == cause.finding
    assert desk.say("feeder_bridged", 200, subject="feeder_rate:F2").part_of == ""
    assert desk.say("feeder_bridged", 600, subject="feeder_rate:F1").part_of == ""


def test_of_several_the_oldest_explains() -> None:
    desk = Desk()
    desk.say("feeder_off_target", 200, subject="F2")
    older = desk.say("feeder_bridged", 100, subject="F1")

    assert desk.say("starved", 210).part_of == older.finding


def test_a_cause_that_has_ended_explains_nothing_new() -> None:
    desk = Desk()
    desk.say("feeder_bridged", 100)
    desk.say("feeder_bridged", 100, "closed", until_s=200)

    assert desk.say("starved", 201).part_of == ""
    assert desk.say("share_wrong", 200).part_of != "", "it began before the cause was over"


def test_temperatures_find_back_slowly() -> None:
    desk = Desk()
    cause = desk.say("starved", 100)
    desk.say("starved", 100, "closed", until_s=200)

    assert desk.say("zone_over_temperature", 200 + explains.AFTERMATH_S, subject="Z2").part_of == cause.finding
    assert desk.say("zone_over_temperature", 201 + explains.AFTERMATH_S, subject="Z3").part_of == ""


@pytest.mark.parametrize("feeder", explains.BACKS_UP["starved"])
@pytest.mark.parametrize("later_s", [60, 61, 120, 300, 900])
def test_two_findings_never_explain_each_other(feeder: str, later_s: int) -> None:
    """A blocked path stands in front of the feeder, or the feeder starves the screw: one or the other. Were each
    part of the other, both would be out of sight."""
    desk = Desk()
    path = desk.say("starved", 100)
    backed_up = desk.say(feeder, 100 + later_s)
    again = desk.say("starved", 100, "revised")

    assert backed_up.part_of == path.finding
    assert again.part_of == ""


@pytest.mark.parametrize(("by_the_side", "backs_up"), [(False, True), (True, False)])
def test_a_blocked_throat_backs_up_into_the_feeders_above_it_only(by_the_side: bool, backs_up: bool) -> None:
    feeders = tuple(
        one.model_copy(update={"side": by_the_side}) if one.name == "F3" else one for one in CTX.line.feeder
    )
    path = standing_as("starved", "") | {"moved": {"torque": -0.5}}
    bridged = standing_as("feeder_bridged", "") | {"channel": "feeder_rate:F3", "since": 300 * S}
    ctx = replace(CTX, line=CTX.line.model_copy(update={"feeder": feeders}))

    assert causes._explains(path, bridged, ctx) is backs_up


def test_a_feeder_that_failed_first_is_not_backed_up() -> None:
    desk = Desk()
    feeder = desk.say("feeder_bridged", 100)

    assert desk.say("starved", 110).part_of == feeder.finding
    assert desk.say("feeder_bridged", 100, "revised").part_of == ""


def test_nothing_explains_itself_over_others() -> None:
    desk = Desk()
    desk.standing = {
        "a": standing_as("feeder_off_target", "b"),
        "b": standing_as("starved", "a"),
    }

    assert desk.say("recipe_window", 10).part_of in ("a", "b"), "a chain that runs in a circle ends all the same"


def test_what_ended_long_ago_is_forgotten() -> None:
    desk = Desk()
    for number in range(50):
        desk.say("recipe_window", 1000 * number, subject=str(number))
        desk.say("recipe_window", 1000 * number, "closed", subject=str(number), until_s=1000 * number + 100)

    assert len(desk.standing) <= 6


def test_what_was_folded_stays_folded_when_its_cause_ends_first() -> None:
    desk = Desk()
    cause = desk.say("feeder_bridged", 100)
    desk.say("starved", 110)
    desk.say("feeder_bridged", 100, "closed")

    assert desk.say("starved", 110, "closed").part_of == cause.finding


def test_a_cause_found_later_revises_what_is_still_open_at_once() -> None:
    desk = Desk()
    effect = desk.say("starved", 100)
    assert effect.part_of == ""
    cause = desk.say("feeder_weight_still", 90)

    (_, revised) = desk.told
    assert (revised.finding, revised.kind, revised.part_of) == (effect.finding, "revised", cause.finding)
    assert (revised.decided_at, revised.seq) == (cause.decided_at, cause.seq + 1)
    assert desk.say("starved", 100, "closed").part_of == cause.finding


def test_a_cause_found_later_leaves_priority_one_and_what_has_ended_alone() -> None:
    desk = Desk()
    desk.say("recipe_window", 100, priorities=(1,))
    desk.say("share_wrong", 100)
    desk.say("share_wrong", 100, "closed", until_s=200)
    desk.say("feeder_bridged", 90)

    assert len(desk.told) == 1


@pytest.mark.parametrize(
    ("cause_name", "pressure", "folded"),
    [
        ("starved", -0.09, True),
        ("starved", -0.25, True),
        ("starved", -0.45, False),
        ("starved", 0.2, False),
        ("feeder_bridged", -0.45, True),
        ("feeder_bridged", -0.6, False),
        ("feeder_bridged", 0.2, False),
    ],
)
def test_a_feed_loss_explains_no_more_than_its_share_of_pressure(
    cause_name: str, pressure: float, folded: bool
) -> None:
    """20 % less feed is some 8 % less pressure, with a Newtonian melt 20 %, and more where it was the filler that
    thickened the melt: not all of it, and never more pressure."""
    desk = Desk()
    cause = desk.say(cause_name, 100, moved={"rate": -0.223})

    effect = desk.say("recipe_window", 110, moved={"pressure": pressure})
    assert (effect.part_of == cause.finding) == folded


@pytest.mark.parametrize(("torque", "pressure", "folded"), [(0.09, 0.15, True), (0.09, 0.36, False), (0.3, 0.36, True)])
def test_a_load_explains_no_more_pressure_than_a_thicker_melt_makes(
    torque: float, pressure: float, folded: bool
) -> None:
    """A narrower way out moves pressure much and the load a little: then the pressure stands for itself."""
    desk = Desk()
    cause = desk.say("sme_off", 100, moved={"torque": torque})

    effect = desk.say("recipe_window", 110, moved={"pressure": pressure})
    assert (effect.part_of == cause.finding) == folded


def test_a_speed_off_the_recipe_does_not_explain_what_its_window_has_allowed_for() -> None:
    desk = Desk()
    desk.say("setpoint_not_recipe", 100, moved={"rate": 0.0})

    assert desk.say("recipe_window", 110, moved={"pressure": -0.25}).part_of == ""


def test_a_cause_with_a_witness_comes_first_and_names_it() -> None:
    desk = Desk()
    desk.say("feeder_bridged", 100)
    causes_said = (Cause("thin melt"), Cause("a feeder", shown_by=("feeder_bridged",)))

    record = desk.say("drift", 10_000, causes=causes_said)
    assert record.cause_texts == ("a feeder", "thin melt")
    assert record.causes[0].speaks_for == ("feeder_bridged x",)


def test_a_witness_that_comes_later_turns_the_order_then() -> None:
    desk = Desk()
    causes_said = (Cause("thin melt"), Cause("a feeder", shown_by=("feeder_bridged",)))
    assert desk.say("hot_hold", 100, causes=causes_said).cause_texts == ("thin melt", "a feeder")

    desk.say("feeder_bridged", 200)
    assert desk.told[1].cause_texts == ("a feeder", "thin melt") and desk.told[1].condition == "hot_hold"


def test_the_record_carries_everything_that_was_said() -> None:
    record = Desk().say("starved", 100)

    assert (record.line, record.lot, record.recipe, record.seq) == ("scripted", "lot", "R1", 1)
    assert (record.since, record.decided_at, record.until) == (100 * S, 160 * S, None)
    assert (record.condition, record.channel, record.summary) == ("starved", "x", "starved x")


def test_without_a_known_recipe_the_record_names_none() -> None:
    turn = Turn(0, 60 * S, "opened", 1, 0, None, {})
    (record,), _ = causes.said(Spoken("starved"), "x", turn, Context(CTX.line, None, None, 10.0), "", 1, {})  # type: ignore[arg-type]

    assert record.recipe == ""


def test_every_name_is_a_condition() -> None:
    names = {condition.name for condition in CONDITIONS}
    for table in (explains.EXPLAINS, explains.BACKS_UP):
        assert set(table) <= names and all(set(effects) <= names for effects in table.values())
    assert set(explains.DATED_LATE_S) <= set(explains.EXPLAINS) and set(explains.NEAR_BY) <= set(explains.EXPLAINS)


def test_a_fact_that_was_not_read_is_not_told_and_a_sentence_is() -> None:
    facts = (Evidence("cooling water warmer by", math.nan, "C"), Evidence("seen by nobody", None, ""))
    assert Desk().say("vacuum_off", 100, evidence=facts).evidence == facts[1:]


@pytest.mark.parametrize("name", ["torque_high", "toward_over_pressure"])
def test_a_feeder_that_may_give_too_little_is_no_witness_for_too_much_feed(name: str) -> None:
    """Off its set-point is said of both sides, and of a scale that lies."""
    source = {condition.name: condition for condition in CONDITIONS}[name]
    facts: dict[str, float] = dict.fromkeys(("load", "mean", "value", "limit", "bar_s", "left_s"), 100.0)
    fed = [
        one
        for one in source.explain("P1", 2, facts, CTX).causes
        if isinstance(one, Cause) and ("over-fed" in one.text or "more comes in" in one.text)
    ]
    assert fed and {"flushing", "flooded"} <= {*fed[0].shown_by}
    assert not {"feeder_off_target", "scale_wrong"} & {*fed[0].shown_by}
