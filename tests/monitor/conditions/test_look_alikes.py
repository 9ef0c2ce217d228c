"""What looks like a fault and is ordinary life: a vent cleaned, an idling line, coarse logs, a night's set-back."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.controller_stale import ControllerStale
from monitor.conditions.gearbox import Gearbox
from monitor.conditions.hot_hold import HotHold
from monitor.conditions.over_temperature import OverTemperature
from monitor.conditions.pressure_sensor_frozen import PressureSensorFrozen
from monitor.conditions.pressure_sensor_plugged import PressureSensorPlugged
from monitor.conditions.pressure_zero_drift import PressureZeroDrift
from monitor.conditions.soak_short import SoakShort
from monitor.conditions.speed_deviation import SpeedDeviation
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.conditions.torque_high import TorqueHigh
from monitor.conditions.toward_over_pressure import TowardOverPressure
from monitor.conditions.under_temperature import UnderTemperature
from monitor.conditions.vacuum_off import VacuumOff
from monitor.conditions.vent_flooded import VentFlooded
from tests.monitor.conditions.path_nuisances import stop_and_start
from tests.monitor.conditions.told import R1, TWIN, changed, only, seconds, told, twin
from tests.monitor.scripted_world import TARGETS, Script
from tests.monitor.world_path import add, path_line, path_recipe, path_script

V, P1, OIL_BAR, Z3 = "vacuum:V1", "melt_pressure:P1", "gearbox_oil_pressure", "zone_temperature:Z3"


def stored_on_change(x: np.ndarray, band: float) -> None:
    """Keeps what a logger with this deadband stores."""
    last = x[0]
    for i, now in enumerate(x):
        last = now if abs(now - last) > band else last
        x[i] = last


# -- vent


@pytest.mark.parametrize("open_s", [60, 120, 170])
@pytest.mark.parametrize("tau_s", [10, 25])
def test_a_vent_opened_to_be_cleaned_fills_and_empties_as_a_vessel_does(open_s: int, tau_s: int) -> None:
    s = path_script(6000)
    level, aim = 80.0, np.full(s.n, 80.0)
    aim[s.span(4000, 4000 + open_s)] = 1000.0
    for i in range(4000, 4400 + open_s):
        level += (aim[i] - level) * (1 - np.exp(-1.0 / tau_s))
        s.x[V][i] = level
    assert told(s, VacuumOff(), recipe=path_recipe()) == []


def test_a_leak_fills_the_dome_the_same_way_and_comes_to_rest_below_the_air() -> None:
    s = path_script(6000)
    at = np.arange(2000)
    s.x[V][s.span(4000, 6000)] = 80 + 300 * (1 - np.exp(-at / 25))
    assert 4040 <= (seconds(only(told(s, VacuumOff(), recipe=path_recipe())).first_decided_at) or 0) <= 4120


def test_one_cell_of_noise_at_the_limit_of_the_vacuum_is_nothing() -> None:
    s = path_script(6000)
    s.x[V][s.span(4000, 6000)] += 26
    s.put(V, 4500, 4510, 115)
    assert told(s, VacuumOff(), recipe=path_recipe()) == []


def test_an_open_vent_is_not_flooded_however_the_load_wanders() -> None:
    """Load up by 6 % meanwhile: melt shuts a port, it does not let the air in."""

    def said(mbar: float) -> int:
        s = path_script(6000)
        s.put(V, 4000, 4170, mbar)
        s.scale("torque", 4000, 4170, 1.08)
        return len(told(s, VentFlooded(), recipe=path_recipe()))

    assert said(1000) == 0 and said(300) == 1


# -- drive and gearbox


def test_an_idling_gearbox_pump_gives_pressure_by_its_speed() -> None:
    def said(share: float, bar: float) -> list[str]:
        s = path_script(9000)
        s.scale("screw_speed", 5000, 6000, share)
        s.scale("screw_speed_setpoint", 5000, 6000, share)
        s.put(OIL_BAR, 5000, 6000, bar)
        return [f.last.channel for f in told(s, Gearbox(), recipe=path_recipe())]

    assert said(0.35, 1.6) == [], "thick oil: by the speed's power 0.4"
    assert said(0.35, 0.38) == [], "thin oil: nearly by its square"
    assert said(1.0, 1.6) == [OIL_BAR]
    assert said(0.8, 0.9) == [OIL_BAR]


def test_the_swing_after_a_refill_is_over_in_a_minute_and_one_odd_reading_out_of_the_mean() -> None:
    s = path_script(3000)
    s.put("torque", 0, 3000, 85)
    s.put("torque", 1000, 1050, 93)
    slow = changed(path_line(), line={"cadence_s": 10.0})
    coarse = path_script(3000, slow)
    coarse.put("torque", 0, 3000, 85)
    coarse.put("torque", 1000, 1010, 140)
    assert told(s, TorqueHigh(), recipe=path_recipe()) == []
    assert told(coarse, TorqueHigh(), recipe=path_recipe()) == []


def test_a_speed_that_a_limiter_held_back_and_lets_come_up_is_on_its_way() -> None:
    s = path_script(3000)
    at = np.arange(60)
    s.x["screw_speed"][s.span(1000, 1060)] = 300 * (1 - 0.09 * np.exp(-at / 25))
    assert told(s, SpeedDeviation(), recipe=path_recipe()) == []
    s.put("screw_speed", 1000, 1060, 300 * 0.94)
    assert len(told(s, SpeedDeviation(), recipe=path_recipe())) == 1


# -- pressure


@pytest.mark.parametrize(("bar", "stops", "said"), [(195, False, False), (195, True, True), (150, True, True)])
def test_one_reading_of_a_slow_log_is_no_pressure_unless_the_screw_trips_on_it(
    bar: float, stops: bool, said: bool
) -> None:
    line = changed(TWIN, line={"cadence_s": 10.0})
    s = Script(line, 3000, 5)
    s.put(P1, 1000, 1010, bar)
    if stops:
        for key in ("screw_speed", "torque", P1):
            s.put(key, 1010, 3000, 0)
    found = told(s, TowardOverPressure())
    assert bool(found) == said
    if said:
        assert f"{bar:.0f} bar" in found[0].last.summary


def test_a_slow_log_says_pressure_with_its_second_reading() -> None:
    line = changed(TWIN, line={"cadence_s": 10.0})
    s = Script(line, 3000, 5)
    s.put(P1, 1000, 3000, 195)
    assert (seconds(only(told(s, TowardOverPressure())).first_decided_at) or 0) <= 1020


@pytest.mark.parametrize(("ends_bar", "tau_s", "said"), [(150, 4, False), (150, 2, False), (260, 6, True)])
def test_a_die_that_fills_at_a_restart_comes_to_rest_below_the_limit(ends_bar: float, tau_s: float, said: bool) -> None:
    """The machine's limit is 200 bar, nine tenths of it 180."""
    s = twin(1500)
    at = np.arange(900)
    s.put(P1, 0, 600, 10)
    s.x[P1][s.span(600, 1500)] = np.minimum(10 + (ends_bar - 10) * (1 - np.exp(-at / tau_s)), 175)
    assert bool(told(s, TowardOverPressure())) == said


def test_a_ripple_under_two_steps_of_the_reading_is_no_measure() -> None:
    """Whole bars: the ripple seen hangs on where between two of them the mean lies."""
    s = path_script(14000)
    rng = np.random.default_rng(3)
    mean = np.where(np.arange(s.n) < 7000, 60.5, 60.0)
    s.x[P1][:] = np.round(mean + rng.normal(0, 0.15, s.n))
    assert told(s, PressureSensorPlugged(), recipe=path_recipe()) == []


def test_a_reading_stored_on_change_rests_and_a_frozen_one_rests_longer() -> None:
    """Deadband 1.5 bar over noise of 0.5: it has rested for minutes before."""
    s = path_script(16000)
    rng = np.random.default_rng(4)
    s.x[P1][:] = 60 + rng.normal(0, 0.75, s.n) + 0.0
    stored_on_change(s.x[P1], 1.5)
    s.put(P1, 4000, 4300, 60.0)
    s.put(P1, 9000, 9700, 60.0)
    assert told(s, PressureSensorFrozen(), recipe=path_recipe()) == []
    s.put(P1, 12000, 16000, 60.0)
    assert (seconds(only(told(s, PressureSensorFrozen(), recipe=path_recipe())).last.since) or 0) > 12800


def test_zeros_of_a_speed_that_come_back_have_moved_no_pressure() -> None:
    s = path_script(8000)
    s.x[P1][:] = 60.0
    s.put("screw_speed", 5000, 5006, 0.0)
    assert told(s, PressureSensorFrozen(), recipe=path_recipe()) == []


def test_a_drain_stored_on_change_falls_between_its_steps_too() -> None:
    s = path_script(9000)
    stop_and_start(s)
    s.x[P1][s.span(4000, 6400)] = 17 * np.exp(-np.arange(2400) / 9000)
    stored_on_change(s.x[P1][s.span(4000, 6400)], 1.0)
    assert told(s, PressureZeroDrift(), recipe=path_recipe()) == []


def test_a_line_set_back_holds_its_pressure_and_a_hot_one_does_not() -> None:
    def said(set_back_c: float) -> int:
        s = path_script(9000)
        stop_and_start(s)
        s.x["melt_pressure:P2"][s.span(4000, 6400)] = 9 + s.noise(0.2)[s.span(4000, 6400)]
        for zone in TARGETS:
            add(s, f"zone_temperature:{zone}", 4000, 4600, 0, -set_back_c)
            add(s, f"zone_temperature:{zone}", 4600, 6400, -set_back_c)
        return len(told(s, PressureZeroDrift(), recipe=path_recipe()))

    assert said(60) == 0 and said(0) == 1


# -- zones


def test_a_tag_that_is_the_set_point_jumps_with_it_and_no_couple_does() -> None:
    s = twin(2400)
    s.x[Z3][:] = s.x["zone_setpoint:Z3"]
    for key in (Z3, "zone_setpoint:Z3"):
        s.put(key, 900, 2400, 155)
    assert told(s, ThermocoupleOpen()) == []
    s.put("zone_setpoint:Z3", 900, 2400, 215)
    assert len(told(s, ThermocoupleOpen())) == 1


def test_a_rounded_reading_at_its_limit_is_not_beyond_it() -> None:
    for condition, at in ((OverTemperature(), 218.0), (UnderTemperature(), 212.0)):
        s = twin(4800)
        s.x[Z3][:] = 215.0
        s.put(Z3, 2000, 2400, 216.0)
        s.put(Z3, 3000, 4000, at)
        assert told(s, condition) == []
        s.put(Z3, 3000, 4000, at + np.sign(at - 215.0))
        assert len(told(s, condition)) == 1


def test_the_two_halves_of_an_autotune_are_let_up_to_the_outer_limit() -> None:
    def said(height_c: float) -> int:
        s = twin(4800)
        at = np.arange(1200)
        s.x[Z3][s.span(2400, 3600)] = 215 + height_c * np.sin(2 * np.pi * at / 600)
        return sum(len(told(s, condition)) for condition in (OverTemperature(), UnderTemperature()))

    assert said(4.5) <= 1, "the first half may be said"
    assert said(8) == 2


def test_a_sag_of_the_mains_sets_every_zone_back_and_the_loops_bring_it_back() -> None:
    """Where the voltage is logged."""
    data = TWIN.model_dump()
    data["sensor"] = (*data["sensor"], {"tag": "mains", "role": "mains_voltage"})
    line = type(TWIN).model_validate({**data, "version": "mains"})

    def said(volts: float) -> int:
        s = Script(line, 6000, 8)
        s.put("mains_voltage", 0, 3000, 400)
        s.put("mains_voltage", 3000, 6000, volts)
        s.x[Z3][s.span(3060, 3900)] -= 4.2
        return len(told(s, UnderTemperature(), line=line))

    assert said(380) == 0 and said(400) == 1


def test_a_small_change_of_speed_upsets_no_zone() -> None:
    """A loop is linear: 6 % of the speed make no excursion of 4 C, 30 % may."""

    def said(share: float) -> int:
        s = twin(4800)
        for key in ("screw_speed", "screw_speed_setpoint"):
            s.scale(key, 2500, 4800, share)
        s.x[Z3][s.span(2800, 3300)] -= 4.2
        return len(told(s, UnderTemperature()))

    assert said(1.06) == 1 and said(1.3) == 0


# -- standing


def set_back(s: Script, by_c: float, warm_s: float, start_s: float) -> None:
    """Stopped at 900 s, zones lowered at once, brought back at `warm_s`, started at `start_s`."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 900, start_s, 0.0)
    for feeder in ("F1", "F2", "F3"):
        for role in ("feeder_rate", "feeder_setpoint"):
            s.put(f"{role}:{feeder}", 900, start_s, 0.0)
    for zone, target in TARGETS.items():
        s.put(f"zone_setpoint:{zone}", 1000, warm_s, target - by_c)
        s.put(f"zone_temperature:{zone}", 1000, 1600, target, slope_s=-by_c / 600)
        s.put(f"zone_temperature:{zone}", 1600, warm_s, target - by_c)
        s.put(f"zone_temperature:{zone}", warm_s, warm_s + 600, target - by_c, slope_s=by_c / 600)


def test_a_barrel_set_back_ages_slowly() -> None:
    recipe = changed(R1, recipe={"hot_hold_min": 30})
    s = twin(9000)
    set_back(s, 40, 5400, 9000)
    held = told(s, HotHold(), recipe=recipe)
    assert not held or (seconds(held[0].first_decided_at) or 0) > 5400 + 600
    s = twin(9000)
    set_back(s, 0, 5400, 9000)
    assert 2700 <= (seconds(only(told(s, HotHold(), recipe=recipe)).first_decided_at) or 0) <= 2760


def test_a_soak_after_a_set_back_is_shorter_than_one_from_cold() -> None:
    """R1 wants 25 min from cold; 60 C ask for ln(60/8) / ln(cold depth/8), six tenths of it."""
    s = twin(9000)
    set_back(s, 60, 4000, 4600 + 1000)
    assert told(s, SoakShort()) == []
    s = twin(9000)
    set_back(s, 60, 4000, 4600 + 600)
    asked_min = 25 * np.log(60 / 8) / np.log((max(TARGETS.values()) - 20) / 8)
    assert f"of {asked_min:.0f} min soak" in only(told(s, SoakShort())).last.summary


# -- data


def test_a_feeder_in_volumetric_holds_its_rate_and_drive_by_design() -> None:
    line = path_line()
    data = line.model_dump()
    data["sensor"] = (*data["sensor"], {"tag": "grav", "role": "feeder_gravimetric", "at": "F1"})
    graved = type(line).model_validate({**data, "version": "gravimetric"})

    def said(gravimetric: float) -> int:
        s = path_script(9000, graved)
        s.put("feeder_gravimetric:F1", 0, 9000, 1.0)
        for key in [key for key in s.x if key.endswith(":F1") and key != "feeder_setpoint:F1"]:
            s.put(key, 6000, 6600, float(s.x[key][6000]))
        s.put("feeder_gravimetric:F1", 6000, 6600, gravimetric)
        return len([f for f in told(s, ControllerStale(), recipe=path_recipe()) if f.last.channel.endswith(":F1")])

    assert said(0.0) == 0 and said(1.0) == 1
