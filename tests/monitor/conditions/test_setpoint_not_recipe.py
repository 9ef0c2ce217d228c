"""Set-points that are not the recipe's, by size; ramps, trims and changes of the total at constant shares are not."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.block import Note
from monitor.conditions.setpoint_not_recipe import SetpointNotRecipe
from monitor.core import Monitor
from monitor.records import Finding
from monitor.records import findings as made_of
from tests.monitor.conditions.told import Story, block_of, changed, only, seconds, told
from tests.monitor.scripted_world import FEEDERS, NS, T0
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_TARGETS, HEAT_ZONES, HeatScript
from tests.monitor.world_path import path_recipe, path_script, pump_line

LOG_S, FROM, TO = 6000, 1800, 4800


def put(key: str, value: float):  # type: ignore[no-untyped-def]
    def story(s: HeatScript) -> None:
        s.put(key, FROM, TO, value)

    return story


def findings(story, recipe=HEAT_RECIPE):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, SetpointNotRecipe(), line=HEAT_LINE, recipe=recipe)


@pytest.mark.parametrize(
    ("key", "value", "priority", "says"),
    [
        ("zone_setpoint:Z3", 218, 4, "zone Z3 is set to 218 °C, the recipe says 215"),
        ("zone_setpoint:Z3", 225, 3, "zone Z3 is set to 225 °C, the recipe says 215"),
        ("zone_setpoint:Z3", 180, 2, "zone Z3 is set to 180 °C"),
        ("screw_speed_setpoint", 330, 3, "screw speed is set to 330 rpm, the recipe says 300"),
        ("screw_speed_setpoint", 200, 2, "screw speed is set to 200 rpm"),
        ("vacuum_setpoint:V1", 120, 3, "vacuum V1 is set to 120 mbar, the recipe says 80"),
        ("vacuum_setpoint:V1", 300, 2, "vacuum V1 is set to 300 mbar"),
        ("feeder_setpoint:F2", 60, 3, "feeder F2 is set to 60 kg/h, the recipe says 57, by its share"),
        ("feeder_setpoint:F2", 70, 2, "feeder F2 is set to 70 kg/h"),
        ("feeder_setpoint:F1", 280, 2, "feeder F1 is set to 280 kg/h, the recipe says 240"),
        ("feeder_setpoint:F3", 3.2, 3, "feeder F3 is set to 3.2 kg/h, the recipe says 3"),
    ],
)
def test_speaks_of_each_kind_by_its_size(key: str, value: float, priority: int, says: str) -> None:
    finding = only(findings(put(key, value)))

    assert says in finding.last.summary and finding.last.priority == priority
    assert finding.last.channel == key
    # A speed is led by hand for minutes; what is set wrong unseen is said after four.
    latest = FROM + (740 if key == "screw_speed_setpoint" else 320)
    assert FROM <= (seconds(finding.first_decided_at) or 0) <= latest


def new_total(s: HeatScript) -> None:
    for feeder in FEEDERS:
        s.scale(f"feeder_setpoint:{feeder}", FROM, TO, 0.7)


def new_total_and_speed(s: HeatScript) -> None:
    new_total(s)
    s.scale("screw_speed_setpoint", FROM, TO, 0.7)
    s.scale("screw_speed", FROM, TO, 0.7)


def trim(s: HeatScript) -> None:
    """A rate trim moves all feeders by up to 4 %, all the time."""
    for feeder in FEEDERS:
        s.x[f"feeder_setpoint:{feeder}"] *= 1 + 0.04 * np.sin(np.arange(s.n) / 500)


def slow_ramp(s: HeatScript) -> None:
    """A planned ramp of one zone: 1 C in 5 min, up and back."""
    part = s.span(FROM, TO)
    steps = np.arange(part.stop - part.start) // 300
    s.x["zone_setpoint:Z3"][part] += np.minimum(steps, steps.max() - steps)


def rounding(s: HeatScript) -> None:
    s.put("feeder_setpoint:F3", 0, LOG_S, 3.05)


def while_it_stands(s: HeatScript) -> None:
    s.stop(FROM, TO)
    for zone in HEAT_ZONES:
        s.put(f"zone_setpoint:{zone}", FROM, TO, HEAT_TARGETS[zone] - 40)


def a_little(s: HeatScript) -> None:
    s.put("zone_setpoint:Z3", FROM, TO, 216.5)
    s.put("screw_speed_setpoint", FROM, TO, 308)
    s.put("vacuum_setpoint:V1", FROM, TO, 100)


@pytest.mark.parametrize(
    "story", [new_total, new_total_and_speed, trim, slow_ramp, rounding, while_it_stands, a_little]
)
def test_stays_silent(story: Story) -> None:
    assert findings(story) == []


def test_a_lower_speed_at_the_same_rate_is_not_a_planned_change() -> None:
    assert only(findings(put("screw_speed_setpoint", 210.0))).last.channel == "screw_speed_setpoint"


def test_without_a_recipe_for_it_nothing_is_said() -> None:
    bare = changed(HEAT_RECIPE, recipe={"screw_speed_rpm": None})
    assert findings(put("screw_speed_setpoint", 200.0), bare) == []
    s = HeatScript(LOG_S)
    put("zone_setpoint:Z3", 180.0)(s)
    assert told(s, SetpointNotRecipe(), line=HEAT_LINE, recipes=False) == []


def test_a_set_point_that_is_not_read_stands() -> None:
    def story(s: HeatScript) -> None:
        put("zone_setpoint:Z3", 225.0)(s)
        s.put("zone_setpoint:Z3", FROM + 300, FROM + 1500, float("nan"))

    assert only(findings(story)).last.channel == "zone_setpoint:Z3"


def no_vacuum_target(s: HeatScript):  # type: ignore[no-untyped-def]
    windows = tuple(one for one in HEAT_RECIPE.window if one.role != "vacuum")
    recipe = HEAT_RECIPE.model_copy(update={"window": windows, "version": "no vacuum target"})
    return told(s, SetpointNotRecipe(), line=HEAT_LINE, recipe=recipe)


@pytest.mark.parametrize(("value", "priority"), [(180, 3), (500, 3), (40, 4), (100, None)])
def test_a_vacuum_the_recipe_says_nothing_of_is_held_against_what_it_was(value: int, priority: int | None) -> None:
    """Worse is looked at this shift, deeper is a note; within 30 mbar nothing is said."""
    s = HeatScript(LOG_S)
    s.put("vacuum_setpoint:V1", FROM, TO, value)
    made = no_vacuum_target(s)

    assert [f.last.priority for f in made] == ([priority] if priority else [])
    for finding in made:
        assert f"vacuum V1 is set to {value} mbar, it was 80 at first, the recipe says nothing" in finding.last.summary
        assert FROM <= (seconds(finding.first_decided_at) or 0) <= FROM + 320


def test_what_a_vacuum_was_set_to_is_learned_anew_after_a_stop() -> None:
    s = HeatScript(LOG_S)
    s.stop(FROM, FROM + 900)
    s.put("vacuum_setpoint:V1", FROM, LOG_S, 180)

    assert no_vacuum_target(s) == []


def total(factor: float, speed: float = 1.0):  # type: ignore[no-untyped-def]
    def story(s: HeatScript) -> None:
        for feeder in FEEDERS:
            s.scale(f"feeder_setpoint:{feeder}", FROM, TO, factor)
            s.scale(f"feeder_rate:{feeder}", FROM, TO, factor)
        for key in ("screw_speed_setpoint", "screw_speed"):
            s.scale(key, FROM, TO, speed)

    story.__name__ = f"total_{factor:g}_at_{speed:g}"
    return story


@pytest.mark.parametrize(("factor", "priority"), [(1.2, 3), (1.46, 2), (0.6, 4)])
def test_a_total_that_the_screw_does_not_go_with_is_said(factor: float, priority: int) -> None:
    finding = only(findings(total(factor)))

    assert f"the rate in all is set to {300 * factor:.4g} kg/h, the recipe says 300" in finding.last.summary
    assert finding.last.priority == priority and finding.last.channel == "total_setpoint"
    assert FROM + 180 <= (seconds(finding.first_decided_at) or 0) <= FROM + 320


@pytest.mark.parametrize("story", [total(1.1), total(1.3, 1.3), total(0.7), total(0.6, 0.6)], ids=lambda s: s.__name__)
def test_a_total_that_is_trimmed_limited_or_goes_with_the_screw_is_not(story: Story) -> None:
    assert findings(story) == []


def test_a_recipe_being_loaded_is_given_time_and_a_lone_wrong_set_point_is_not() -> None:
    def first_said(*zones: str) -> float:
        def story(s: HeatScript) -> None:
            for zone in zones:
                s.put(f"zone_setpoint:{zone}", FROM + 5, TO, HEAT_TARGETS[zone] + 20)

        return min(seconds(one.first_decided_at) or 0 for one in findings(story)) - FROM

    assert 200 <= first_said("Z3") <= 230
    assert first_said("Z3", "Z4") <= 230
    assert 660 <= first_said("Z2", "Z3", "Z4") <= 690


@pytest.mark.parametrize(("off_c", "after_s"), [(6, 240), (15, 240), (20, 180), (30, 120), (60, 120)])
def test_the_further_off_a_zone_is_the_sooner_it_is_said(off_c: int, after_s: int) -> None:
    said = seconds(only(findings(put("zone_setpoint:Z3", HEAT_TARGETS["Z3"] + off_c))).first_decided_at) or 0

    assert FROM + after_s <= said <= FROM + after_s + 30


def test_zones_that_are_set_one_after_the_other_by_hand_are_given_time() -> None:
    def story(s: HeatScript) -> None:
        for i, zone in enumerate(("Z2", "Z3", "Z4")):
            s.put(f"zone_setpoint:{zone}", FROM + 50 * i, TO, HEAT_TARGETS[zone] + 20)

    assert min(seconds(one.first_decided_at) or 0 for one in findings(story)) >= FROM + 660


def test_a_start_on_low_speed_and_rate_for_six_minutes_is_none() -> None:
    def story(s: HeatScript) -> None:
        s.stop(0, FROM)
        for key in ("screw_speed_setpoint", "screw_speed"):
            s.put(key, FROM, FROM + 360, 90)
        for feeder in FEEDERS:
            for what in ("setpoint", "rate"):
                s.scale(f"feeder_{what}:{feeder}", FROM, FROM + 360, 0.4)

    assert findings(story) == []


def test_a_rate_that_its_controller_leads_up_is_one_move() -> None:
    """46 % within two minutes, a little each second."""

    def story(s: HeatScript) -> None:
        for feeder in FEEDERS:
            part = s.span(FROM, TO)
            rise = 1 + 0.46 * np.minimum(np.arange(part.stop - part.start) / 120, 1)
            for what in ("setpoint", "rate"):
                s.x[f"feeder_{what}:{feeder}"][part] *= rise

    said = seconds(only(findings(story)).first_decided_at) or 0
    assert FROM + 120 + 240 <= said <= FROM + 120 + 330


def test_a_ramp_in_steps_is_given_time() -> None:
    """10 C each five minutes, twice, then it stands."""

    def story(s: HeatScript) -> None:
        for step in range(5):
            s.put("zone_setpoint:Z3", FROM + 300 * step, TO, HEAT_TARGETS["Z3"] + (1, 4, 8, 14, 20)[step])

    said = seconds(only(findings(story)).first_decided_at) or 0
    assert FROM + 1200 + 600 <= said <= FROM + 1200 + 690


def test_a_set_point_that_the_log_begins_with_is_known_within_minutes() -> None:
    s = HeatScript(LOG_S)
    s.put("zone_setpoint:Z3", 0, LOG_S, HEAT_TARGETS["Z3"] + 25)

    assert (seconds(only(told(s, SetpointNotRecipe(), line=HEAT_LINE)).first_decided_at) or 0) <= 400


def test_after_the_recipe_in_force_has_changed_the_line_is_given_time() -> None:
    """The schedule is some minutes early: zones stand on the old recipe for five minutes more."""
    s = HeatScript(LOG_S)
    other = changed(HEAT_RECIPE, recipe={"name": "R2"}, zones={**HEAT_TARGETS, "Z3": HEAT_TARGETS["Z3"] + 8})
    s.notes += [Note(T0, "recipe", HEAT_RECIPE.name), Note(T0 + FROM * NS, "recipe", "R2")]
    monitor = Monitor(HEAT_LINE, (HEAT_RECIPE, other), conditions=(SetpointNotRecipe(),))

    def said() -> list[Finding]:
        state, step = monitor.advance(monitor.start(), block_of(s, HEAT_LINE))
        return made_of([*step.records, *monitor.finish(state)])

    left_so = only(said())
    assert FROM + 600 <= (seconds(left_so.first_decided_at) or 0) <= FROM + 690
    s.put("zone_setpoint:Z3", FROM + 400, LOG_S, HEAT_TARGETS["Z3"] + 8)
    assert said() == []


@pytest.mark.parametrize(("speed", "priorities"), [(270, []), (330, []), (200, [4])])
def test_a_speed_that_holds_the_suction_of_a_melt_pump_is_a_note_at_most(speed: float, priorities: list[int]) -> None:
    line, recipe = pump_line(), path_recipe("single-screw")
    s = path_script(LOG_S, line)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.put(key, FROM, TO, speed)

    found = told(s, SetpointNotRecipe(), line=line, recipe=recipe)
    assert [f.last.priority for f in found] == priorities
    assert all("holds the suction" in f.last.causes[0].text for f in found)
