"""A pressure sensor off its zero at stops of a quarter of an hour: the stop before says how soon it was down."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.pressure_zero_drift import PressureZeroDrift
from tests.monitor.conditions.path_nuisances import _stop
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_recipe, path_script

P1, P2 = "melt_pressure:P1", "melt_pressure:P2"


def two_stops(second_s: float = 900.0) -> Script:
    s = path_script(11000)
    _stop(s, 4000, 4900)
    _stop(s, 8000, 8000 + second_s)
    s.x[P2][:] = np.nan  # two that fall and stay apart tell by themselves
    return s


def in_steps(bar: np.ndarray, step: float) -> np.ndarray:
    return np.round(bar / step) * step


@pytest.mark.parametrize("off_bar", [7.0, 12.0])
@pytest.mark.parametrize("step", [0.01, 1.0])
def test_what_came_to_zero_at_the_stop_before_and_now_lies_above_it_is_off(off_bar: float, step: float) -> None:
    s = two_stops()
    s.x[P1][s.span(6000, 11000)] += off_bar
    s.x[P1] = in_steps(s.x[P1], step)
    found = only(told(s, PressureZeroDrift(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) <= 8000 + 600 and found.last.channel == P1
    assert "at the stop before" in " ".join(found.last.causes[0].speaks_for) and found.last.caution


def test_it_is_over_when_a_short_stop_shows_the_zero_well() -> None:
    s = path_script(16000)
    for at in (4000, 8000, 12000):
        _stop(s, at, at + 900)
    s.x[P2][:] = np.nan
    s.x[P1][s.span(6000, 10000)] += 12
    s.x[P1] = in_steps(s.x[P1], 1.0)
    found = only(told(s, PressureZeroDrift(), recipe=path_recipe()))
    assert 12360 <= (seconds(found.last.until) or 0) <= 12900


def thicker(s: Script) -> None:
    """The next lot drains half as fast, in a log of whole megapascals."""
    at = np.arange(900)
    s.x[P1][s.span(4000, 4900)] = 60 * np.exp(-at / 120)
    s.x[P1][s.span(8000, 8900)] = 60 * np.exp(-at / 240)
    s.x[P1] = in_steps(s.x[P1], 10.0)


def slow(s: Script) -> None:
    at = np.arange(900)
    s.x[P1][s.span(8000, 8900)] = 5 + 20 * np.exp(-at / 600)


def creeps_up(s: Script) -> None:
    """Down first, then a die that has set and a barrel that warms it."""
    s.x[P1][s.span(8300, 8900)] = 9.0


def no_stop_before(s: Script) -> None:
    s.x[P1] = in_steps(s.x[P1] + 12, 1.0)


def cold_before(s: Script) -> None:
    """What it read before the line had run is no stop."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque", P1, P2):
        s.put(key, 0, 1500, 0)
    s.x[P1][s.span(1500, 11000)] += 12
    s.x[P1] = in_steps(s.x[P1], 1.0)


@pytest.mark.parametrize("story", [lambda s: None, thicker, slow, creeps_up, no_stop_before, cold_before])
def test_what_is_not_the_zero_or_cannot_be_known_yet(story) -> None:  # type: ignore[no-untyped-def]
    s = two_stops()
    story(s)
    assert told(s, PressureZeroDrift(), recipe=path_recipe()) == []


def test_a_stop_of_five_minutes_is_too_short() -> None:
    s = two_stops(300)
    s.x[P1][s.span(6000, 11000)] += 12
    assert told(s, PressureZeroDrift(), recipe=path_recipe()) == []
