"""Pressure steps at a start or on cold water are frozen holes; planned changes are not."""

from __future__ import annotations

from monitor.conditions.freeze_off import FreezeOff
from tests.monitor.conditions.path_nuisances import stop_and_start
from tests.monitor.conditions.told import only, seconds, told, without
from tests.monitor.world_path import path_line, path_recipe, path_script

P2 = "melt_pressure:P2"


def test_cold_water_and_a_step() -> None:
    s = path_script(5000)
    s.put("bath_temperature", 3500, 5000, 48)
    s.scale(P2, 4000, 5000, 1.15)
    found = only(told(s, FreezeOff(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) <= 4080 and "colder than usual" in found.last.summary
    assert found.last.caution


def test_the_same_step_on_warm_water_long_after_the_start_is_not_it() -> None:
    s = path_script(5000)
    s.scale(P2, 4000, 5000, 1.15)
    assert told(s, FreezeOff(), recipe=path_recipe()) == []


def test_holes_that_freeze_some_minutes_after_a_start() -> None:
    s = path_script(9000)
    stop_and_start(s)
    s.scale(P2, 6800, 9000, 1.12)
    found = only(told(s, FreezeOff(), recipe=path_recipe()))
    assert "after the start" in found.last.summary


def test_more_rate_is_no_frozen_hole() -> None:
    s = path_script(9000)
    stop_and_start(s)
    for role in ("feeder_rate", "feeder_setpoint"):
        s.scale(f"{role}:F1", 6800, 9000, 1.3)
    s.scale(P2, 6805, 9000, 1.12)
    assert told(s, FreezeOff(), recipe=path_recipe()) == []


def test_no_water_no_cutter_no_claim() -> None:
    line = without(path_line(), "bath_temperature", "cutter_speed")
    s = path_script(5000, line)
    s.scale(P2, 4000, 5000, 1.15)
    assert told(s, FreezeOff(), recipe=path_recipe()) == []
