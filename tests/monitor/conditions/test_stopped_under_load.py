"""A trip is told in order, a planned stop is not told at all."""

from __future__ import annotations

import pytest

from monitor.conditions.stopped_under_load import StoppedUnderLoad
from tests.monitor import world_stops
from tests.monitor.conditions.told import only, told
from tests.monitor.scripted_world import Script, scripted_line


def test_a_trip_at_the_pressure_limit_is_told_in_order() -> None:
    s = Script(scripted_line(), 3600, 1)
    s.put("melt_pressure:P1", 1470, 1500, 60.0, slope_s=4.8)
    world_stops.stop(s, 1500, 3600, 1, 3)

    last = only(told(s, StoppedUnderLoad())).last
    assert last.priority == 3 and last.cause_texts[0] == "pressure cut-out: screen or die"
    assert last.summary.startswith("screw stopped under load: melt pressure at its limit 2 s before, ")


def test_what_lies_within_one_cadence_is_not_put_in_order() -> None:
    s = Script(scripted_line(), 3600, 1)
    world_stops.stop(s, 1500, 3600, 2, 3)

    assert "cannot say which of the first two came first" in only(told(s, StoppedUnderLoad())).last.summary


def test_with_nothing_before_it_the_drive_is_named_first() -> None:
    s = Script(scripted_line(), 3600, 1)
    world_stops.stop(s, 1500, 3600, -2, 3)

    last = only(told(s, StoppedUnderLoad())).last
    assert last.priority == 4 and last.cause_texts[0] == "drive fault, guard or interlock"


@pytest.mark.parametrize(("feed_first_s", "ramp_s"), [(120, 20), (120, 3), (90, 60)])
def test_a_planned_stop_is_no_trip(feed_first_s: float, ramp_s: float) -> None:
    """Feed off first; the screws run empty."""
    s = Script(scripted_line(), 3600, 1)
    s.scale("torque", 1500 - feed_first_s + 20, 1500, 0.2)
    world_stops.stop(s, 1500, 3600, feed_first_s, ramp_s)

    assert told(s, StoppedUnderLoad()) == []


def test_a_slow_ramp_to_a_stand_is_no_trip() -> None:
    s = Script(scripted_line("single-screw"), 3600, 1)
    s.put("screw_speed", 1400, 1500, 300.0, slope_s=-3.0)
    for key in ("screw_speed", "torque", "line_rate"):
        s.put(key, 1500, 3600, 0.0)

    assert told(s, StoppedUnderLoad()) == []


def test_a_controller_restart_that_writes_zeros_is_no_stop() -> None:
    s = Script(scripted_line(), 3600, 1)
    for key in s.x:
        s.put(key, 1500, 1520, 0.0)

    assert told(s, StoppedUnderLoad()) == []


def test_a_gap_is_no_stop() -> None:
    s = Script(scripted_line(), 3600, 1)
    for key in s.x:
        s.put(key, 1500, 1800, float("nan"))

    assert told(s, StoppedUnderLoad()) == []
