"""A step below the clean base is a torn screen; back to the base, a lost feed or a leak is not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.over_temperature import OverTemperature
from monitor.conditions.screen_ruptured import ScreenRuptured
from tests.monitor.conditions.path_nuisances import bolt_changer, feed_lost
from tests.monitor.conditions.told import Story, only, seconds, told, without
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

P1 = "melt_pressure:P1"
ONE_PRESSURE = path_line(P1="before_screen")
BEHIND_PUMP = pump_line(PS="pump_suction", PD="pump_discharge", P2="after_screen")


def back_to_the_base(s: Script) -> None:
    """A screen that filled by a fifth is changed without any trace in the pressure but the step."""
    s.x[P1][s.span(2000, 6000)] *= np.linspace(1, 1.2, 4000)


def burst(s: Script) -> None:
    s.put(P1, 6000, s.n, 0.5)


def disc_opens(s: Script) -> None:
    """Not at once, and a few bar are left: no screen leaves so little."""
    s.x[P1][s.span(6000, 8000)] *= 0.06 + 0.94 * np.exp(-np.arange(2000) / 6.0)


def work_heats_the_melt(s: Script) -> None:
    """More torque makes the melt hot and thin: pressure falls while torque is up, more than the correction takes."""
    s.scale("torque", 6000, s.n, 1.25)
    s.scale(P1, 6000, s.n, 0.7)


def probe_drops(s: Script) -> None:
    """The melt probe reads 12 C less all at once; the pressure does not move."""
    s.x["melt_temperature:MT1"][s.span(6000, 6600)] -= 12


def path_blocked(s: Script) -> None:
    """Torque is at no load within seconds, pressure follows half a minute later in half a minute."""
    s.put("torque", 6000, 7000, 7)
    s.x[P1][s.span(6030, 7000)] *= 0.4 + 0.6 * np.exp(-np.arange(970) / 8)


def _stands(s: Script, start: int, end: int) -> None:
    """The line stands in between: what was learned of the clean screen is forgotten."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque", P1, "melt_pressure:P2"):
        s.put(key, start, end, 0.0)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", start, end, 0.0)
        s.put(f"feeder_setpoint:{feeder}", start, end, 0.0)


def slow_thinning(s: Script) -> None:
    s.x[P1][s.span(4000, 6000)] *= np.linspace(1, 0.85, 2000)
    s.scale(P1, 6000, s.n, 0.85)


def slow_thinning_then_a_step(s: Script) -> None:
    """Wet resin: the melt thins by a sixth in half an hour, and a coarse reading takes one step at last."""
    slow_thinning(s)
    s.scale(P1, 6000, s.n, 0.93)


@pytest.mark.parametrize("fall", [0.88, 0.75, 0.6])
def test_a_step_below_the_clean_base(fall: float) -> None:
    s = path_script(8000)
    s.scale(P1, 6000, 8000, fall)
    found = only(told(s, ScreenRuptured(), recipe=path_recipe()))
    assert 6000 <= (seconds(found.last.since) or 0) <= 6040 and found.last.priority == 2
    assert (seconds(found.first_decided_at) or 0) <= 6200


@pytest.mark.parametrize(("fall", "first"), [(0.7, "screen torn"), (0.4, "leak ahead of the die")])
def test_more_than_a_screen_takes_is_a_leak_before_a_torn_screen(fall: float, first: str) -> None:
    s = path_script(8000, ONE_PRESSURE)
    s.scale(P1, 6000, 8000, fall)

    last = only(told(s, ScreenRuptured(), recipe=path_recipe())).last

    assert last.cause_texts[0].startswith(first) and bool(last.caution) == first.startswith("leak")


@pytest.mark.parametrize("fall", [0.88, 0.66])
def test_a_screen_behind_the_melt_pump(fall: float) -> None:
    """Suction, discharge and load stand as they did; only the pump's pressure falls, and none behind the screen."""
    s = path_script(8000, BEHIND_PUMP)
    s.scale("melt_pressure:PD", 6000, 8000, fall)

    found = only(told(s, ScreenRuptured(), recipe=path_recipe("single-screw")))

    assert found.last.channel == "melt_pressure:PD" and 6000 <= (seconds(found.last.since) or 0) <= 6040
    assert found.last.cause_texts[0].startswith("screen torn")


def test_a_melt_pump_that_slows_down_tears_no_screen() -> None:
    s = path_script(8000, BEHIND_PUMP)
    s.scale("melt_pressure:PD", 6000, 8000, 0.8)
    s.scale("melt_pump_speed", 6000, 8000, 0.53)

    assert told(s, ScreenRuptured(), recipe=path_recipe("single-screw")) == []


def ingredient_fails(s: Script) -> None:
    """Its share leaves the screws over the residence time; their load has gone first."""
    out = np.maximum(np.arange(s.n - 6000) - 20, 0) / 25
    s.x[P1][s.span(6000, s.n)] *= 0.72 + 0.28 * np.exp(-out)
    s.x["torque"][s.span(6000, s.n)] *= 0.92 + 0.08 * np.exp(-np.arange(s.n - 6000) / 5)


def ingredient_fails_early(s: Script) -> None:
    """Before a base is known."""
    _stands(s, 3000, 5200)
    ingredient_fails(s)


@pytest.mark.parametrize(
    "story",
    [
        ingredient_fails,
        ingredient_fails_early,
        back_to_the_base,
        burst,
        disc_opens,
        slow_thinning,
        bolt_changer,
        feed_lost,
        probe_drops,
        path_blocked,
        work_heats_the_melt,
        slow_thinning_then_a_step,
    ],
)
def test_silent(story: Story) -> None:
    s = path_script(8000)
    story(s)
    assert told(s, ScreenRuptured(), recipe=path_recipe()) == []


def test_a_screen_that_filled_for_half_an_hour_may_tear() -> None:
    """What it rose by since is no changer at work."""
    s = path_script(8000)
    s.x[P1][s.span(4500, 6000)] *= np.linspace(1, 1.45, 1500)
    s.scale(P1, 6000, 8000, 0.85)
    assert 6000 <= (seconds(only(told(s, ScreenRuptured(), recipe=path_recipe())).last.since) or 0) <= 6040


@pytest.mark.parametrize("behind", [True, False])
def test_a_fall_within_seconds_before_a_base_is_known(behind: bool) -> None:
    s = path_script(8000)
    _stands(s, 3000, 5200)
    s.scale(P1, 6000, 8000, 0.72)
    line = s.line if behind else path_line(P1="before_screen")
    found = only(told(s, ScreenRuptured(), line=line, recipe=path_recipe()))
    assert 6000 <= (seconds(found.last.since) or 0) <= 6040 and "within seconds" in found.last.summary


@pytest.mark.parametrize(
    ("filled", "torn"),
    [
        (1.16, 0.94),  # the drop of 40 % of the pressure is a seventh less than the clean one's
        (2.2, 1.0),  # and goes back to where it was clean: most of it is lost at once
    ],
)
def test_a_drop_over_the_screen_that_is_lost_at_once(filled: float, torn: float) -> None:
    """Less than the pressure alone would tell."""
    s = path_script(8000)
    s.x[P1][s.span(2000, 6000)] *= np.linspace(1, filled, 4000)
    s.scale(P1, 6000, 8000, torn)
    found = only(told(s, ScreenRuptured(), recipe=path_recipe()))
    assert 6000 <= (seconds(found.last.since) or 0) <= 6040


def less_flow(s: Script) -> None:
    for key in (P1, "melt_pressure:P2"):
        s.scale(key, 6000, s.n, 0.75)


def test_less_flow_behind_the_screen_too_is_a_leak_or_a_feed_that_failed() -> None:
    """With the load as it was melt leaks out; where none is logged a feeder may have failed, and nothing is claimed."""
    s = path_script(8000)
    less_flow(s)

    assert only(told(s, ScreenRuptured(), recipe=path_recipe())).last.cause_texts[0] == "leak ahead of the die"
    unloaded = without(s.line, "torque", "motor_current", "drive_power")
    assert told(s, ScreenRuptured(), line=unloaded, recipe=path_recipe()) == []


def test_where_the_load_fell_with_both_pressures_a_filler_is_missing_before_a_leak() -> None:
    """A quarter of the feed by the side, and the filler with it: its feeder shows its set-point."""
    s = path_script(8000)
    for key in (P1, "melt_pressure:P2"):
        s.scale(key, 6000, 8000, 0.78)
    s.scale("torque", 6000, 8000, 0.92)

    causes = only(told(s, ScreenRuptured(), recipe=path_recipe())).last.cause_texts

    assert causes[0].startswith("filler or another ingredient missing") and causes[1] == "leak ahead of the die"


@pytest.mark.parametrize(("die_since", "folds"), [(5850, True), (2000, False)])
def test_what_a_die_took_that_has_just_grown_hot_is_told_under_it(die_since: float, folds: bool) -> None:
    """A wall that has stood as hot for an hour makes no step."""
    s = path_script(8000)
    s.x["zone_temperature:DIE"][s.span(die_since, 8000)] += np.minimum(np.arange(8000 - die_since) * 0.25, 60.0)
    s.scale(P1, 6000, 8000, 0.6)
    found = {f.last.condition: f.last for f in told(s, ScreenRuptured(), OverTemperature(), recipe=path_recipe())}
    assert (found["screen_ruptured"].part_of == found["zone_over_temperature"].finding) == folds
