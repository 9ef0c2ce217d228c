"""Thin melt in a polymer that water breaks: said with its signs, and for no other polymer."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.moisture import Moisture
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_recipe, path_script, pump_line

P1 = "melt_pressure:P1"


def wet(s: Script, pressure: float = 0.85, torque: float = 0.95, over_s: float = 1200) -> None:
    """Pressure falls more than torque, over twenty minutes."""
    part = s.span(4000, s.n)
    way = np.minimum(np.arange(len(s.x[P1][part])) / over_s, 1.0)
    s.x[P1][part] *= 1 - (1 - pressure) * way
    s.x["torque"][part] *= 1 - (1 - torque) * way


@pytest.mark.parametrize("code", ["PA6", "PET", "PC"])
def test_with_a_wet_dryer_and_a_restless_pressure_water_comes_first(code: str) -> None:
    s = path_script(8000)
    wet(s)
    s.x[P1][s.span(4000, 8000)] += 3 * s.noise(0.5)[s.span(4000, 8000)]
    s.put("dew_point", 3500, 8000, -15)
    found = only(told(s, Moisture(), recipe=path_recipe(material=code)))
    assert "wet resin" in found.last.cause_texts[0] and len(found.last.causes[0].speaks_for) >= 2
    assert found.last.priority == 2


def test_with_a_dry_dryer_and_a_quiet_pressure_it_is_a_thin_lot_first() -> None:
    s = path_script(8000)
    wet(s)
    found = only(told(s, Moisture(), recipe=path_recipe()))
    assert "thinner lot" in found.last.cause_texts[0] and found.last.priority == 3


def test_thinner_melt_that_heats_itself_less_is_colder() -> None:
    s = path_script(8000)
    wet(s)
    s.x["melt_temperature:MT1"][s.span(4600, 8000)] -= 6

    assert "melt colder" in only(told(s, Moisture(), recipe=path_recipe())).last.summary


@pytest.mark.parametrize(("left", "most_s"), [(0.9, 850), (0.75, 450)])
def test_twice_as_much_is_said_sooner(left: float, most_s: int) -> None:
    """A slide of a tenth takes its five minutes; a melt that collapses by a quarter within minutes waits for two."""
    s = path_script(8000)
    wet(s, left, 1 - 0.3 * (1 - left), 400)
    found = only(told(s, Moisture(), recipe=path_recipe()))
    said = (seconds(found.first_decided_at) or 0) - 4000
    assert most_s - 180 <= said <= most_s


def test_not_for_a_polyolefin() -> None:
    s = path_script(8000)
    wet(s)
    assert told(s, Moisture(), recipe=path_recipe(material="PP")) == []


def test_torque_that_falls_as_much_is_less_feed_and_hotter_melt_is_hotter_melt() -> None:
    s = path_script(8000)
    wet(s, 0.85, 0.8)
    assert told(s, Moisture(), recipe=path_recipe()) == []
    s = path_script(8000)
    wet(s)
    s.x["melt_temperature:MT1"][s.span(4000, 8000)] += 8
    assert told(s, Moisture(), recipe=path_recipe()) == []


def test_a_new_screen_is_a_step_and_not_wet() -> None:
    s = path_script(8000)
    s.scale(P1, 4000, 8000, 0.85)
    assert told(s, Moisture(), recipe=path_recipe()) == []


def test_it_says_which_way_torque_and_melt_went_and_a_torque_that_rose_is_no_thinner_melt() -> None:
    s = path_script(8000)
    wet(s)
    s.x["melt_temperature:MT1"][s.span(4600, 8000)] += 2
    summary = only(told(s, Moisture(), recipe=path_recipe())).last.summary
    assert "net torque down 5 %" in summary or "net torque down 6 %" in summary
    assert "2 °C hotter" in summary

    s = path_script(8000)
    wet(s, torque=1.07)
    assert told(s, Moisture(), recipe=path_recipe()) == []


@pytest.mark.parametrize("by_the_probe", [True, False])
def test_a_die_that_heats_up_thins_the_melt_by_itself(by_the_probe: bool) -> None:
    """Its heater is stuck on: half of the pressure gone in minutes, the load as it was, the probe after the wall."""
    s = path_script(8000)
    wet(s, 0.5, 1.0, 600)
    s.put("dew_point", 3500, 8000, -15)
    s.x["zone_temperature:DIE"][s.span(4000, 8000)] += np.minimum(np.arange(4000) * 0.2, 120.0)
    if by_the_probe:
        s.x["melt_temperature:MT1"][s.span(4300, 8000)] += np.minimum(np.arange(3700) * 0.05, 30.0)
    assert told(s, Moisture(), recipe=path_recipe()) == []


def test_a_die_a_little_hot_does_not_make_a_melt_thinner_by_a_third() -> None:
    s = path_script(8000)
    wet(s, 0.65, 0.95, 600)
    s.x["zone_temperature:DIE"][s.span(4000, 8000)] += 6
    assert only(told(s, Moisture(), recipe=path_recipe())).last.condition == "moisture"


@pytest.mark.parametrize(("pump", "thin"), [(1.0, True), (0.85, False)])
def test_behind_a_melt_pump_that_turns_as_before_less_pressure_is_thinner_melt(pump: float, thin: bool) -> None:
    """As much of the load as of the pressure there: its control holds what the screws have to build."""
    s = path_script(8000, pump_line())
    wet(s, 0.9, 0.75, 600)
    part = s.span(4000, 8000)
    s.x["melt_pressure:PD"][part] *= 1 - 0.3 * np.minimum(np.arange(4000) / 600, 1.0)
    s.scale("melt_pump_speed", 4000, 8000, pump)
    found = told(s, Moisture(), line=pump_line(), recipe=path_recipe())

    assert [one.last.channel for one in found] == (["melt_pressure:PD"] if thin else [])


def test_one_odd_reading_and_a_steep_slide_are_no_new_screen() -> None:
    """A slip of the transmitter before it, and nearly half of the pressure gone in ten minutes, 3 % in 30 s."""
    s = path_script(8000)
    wet(s, 0.55, 0.8, 600)
    s.x[P1][s.span(3590, 3600)] = 120.0
    found = only(told(s, Moisture(), recipe=path_recipe()))

    assert (seconds(found.first_decided_at) or 0) <= 4450 and found.last.until is None
