"""Pressure after the screen that creeps for hours is claimed as a trend, never from a sensor ahead of the screen."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.die_plugging import DiePlugging
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import FEEDERS
from tests.monitor.world_path import add, path_line, path_recipe, path_script, pump_line

P2 = "melt_pressure:P2"


def test_holes_that_close_within_half_an_hour_are_said_while_they_close() -> None:
    s = path_script(9000)
    part = s.span(5000, 9000)
    s.x[P2][part] *= 1 + 0.25 * np.minimum(np.arange(len(s.x[P2][part])) / 2400, 1)
    found = only(told(s, DiePlugging(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) <= 5000 + 2400 and found.last.confidence == "low"


def test_holes_that_close_within_the_hour_after_a_start_are_said_while_they_close() -> None:
    """A strand broke an hour before: what pressure slides after a start it slides down."""
    s = path_script(9000)
    for key in ("screw_speed", "screw_speed_setpoint", "torque", "melt_pressure:P1", P2):
        s.put(key, 2000, 2150, 0.0)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", 2000, 2150, 0.0)
        s.put(f"feeder_setpoint:{feeder}", 2000, 2150, 0.0)
    part = s.span(4800, 9000)
    s.x[P2][part] *= 1 + 0.2 * np.minimum(np.arange(len(s.x[P2][part])) / 2700, 1)
    found = only(told(s, DiePlugging(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) <= 4800 + 2700


def test_a_creep_of_hours_is_claimed_with_low_confidence_and_as_holes() -> None:
    s = path_script(4 * 3600)
    add(s, P2, 0, 4 * 3600, 0, 6)
    found = only(told(s, DiePlugging(), recipe=path_recipe()))
    assert found.last.confidence == "low" and "% of the holes" in found.last.summary
    assert (seconds(found.first_decided_at) or 0) >= 3600


def test_a_tenth_of_the_holes_at_once_is_near_the_noise_and_not_claimed() -> None:
    s = path_script(4 * 3600)
    s.scale(P2, 5000, 4 * 3600, 1.038)
    assert told(s, DiePlugging(), recipe=path_recipe()) == []


def test_without_a_sensor_after_the_screen_nothing_is_claimed() -> None:
    line = path_line("twin-screw", P1="before_screen")
    s = path_script(4 * 3600, line)
    add(s, "melt_pressure:P1", 0, 4 * 3600, 0, 10)
    assert told(s, DiePlugging(), recipe=path_recipe()) == []


def test_torque_that_rises_half_as_much_speaks_of_the_melt() -> None:
    s = path_script(4 * 3600)
    add(s, P2, 0, 4 * 3600, 0, 6)
    part = s.span(0, 4 * 3600)
    s.x["torque"][part] *= 1 + 0.6 * (s.x[P2][part] / s.x[P2][:600].mean() - 1)

    assert told(s, DiePlugging(), recipe=path_recipe()) == []


def test_a_step_of_the_pressure_is_no_creep_of_hours() -> None:
    """Seven per cent at once, on a creep of one and a half in five hours: what is left of it would not be told."""
    s = path_script(5 * 3600)
    s.x[P2] *= np.linspace(1.0, 1.015, s.n)
    s.scale(P2, 8000, 5 * 3600, 1.07)
    assert told(s, DiePlugging(), recipe=path_recipe()) == []


def test_a_creep_that_turns_back_is_over() -> None:
    s = path_script(5 * 3600)
    add(s, P2, 0, 10800, 0, 2.6)
    add(s, P2, 10800, 5 * 3600, 2.6, 1.4)
    found = only(told(s, DiePlugging(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) < 12000 and (seconds(found.last.until) or 5 * 3600) < 15600


def test_a_pressure_that_stands_while_the_probe_alone_gets_hotter_is_no_plugging() -> None:
    """An adapter that overheats warms the probe beside it; the same creep of the pressure itself is said."""
    s = path_script(4 * 3600)
    add(s, "melt_temperature:MT1", 0, 4 * 3600, 0, 25)
    assert told(s, DiePlugging(), recipe=path_recipe()) == []
    add(s, P2, 0, 4 * 3600, 0, 6)
    assert only(told(s, DiePlugging(), recipe=path_recipe()))


@pytest.mark.parametrize(("load", "said"), [(0.04, 0), (0.01, 1)])
def test_behind_a_melt_pump_a_load_that_rises_a_fifth_as_much_is_another_melt(load: float, said: int) -> None:
    """What the pump pushes against is nothing to the screws."""
    line = pump_line()
    s = path_script(4 * 3600, line)
    add(s, "melt_pressure:PD", 0, 4 * 3600, 0, 13.5)
    s.x["torque"] *= 1 + np.linspace(0, load, s.n)
    assert len(told(s, DiePlugging(), line=line, recipe=path_recipe("single-screw"))) == said


@pytest.mark.parametrize(("bar", "load", "said"), [(4.0, -0.05, 0), (4.0, 0.0, 1), (12.0, -0.05, 1)])
def test_a_small_rise_is_not_claimed_while_the_load_falls(bar: float, load: float, said: int) -> None:
    """Holes that close take nothing off the screws; a large rise is said all the same."""
    s = path_script(4 * 3600)
    add(s, P2, 0, 4 * 3600, 0, bar)
    s.x["torque"] *= 1 + np.linspace(0, load, s.n)
    assert len(told(s, DiePlugging(), recipe=path_recipe())) == said
