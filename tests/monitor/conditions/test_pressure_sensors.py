"""Frozen, plugged, off zero, silent at a start: four ways a pressure sensor lies, and what is none of them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from monitor.conditions.pressure_missing_at_start import PressureMissingAtStart
from monitor.conditions.pressure_sensor_frozen import PressureSensorFrozen
from monitor.conditions.pressure_sensor_plugged import PressureSensorPlugged
from monitor.conditions.pressure_zero_drift import PressureZeroDrift
from tests.monitor.conditions.path_nuisances import stop_and_start
from tests.monitor.conditions.told import changed, only, seconds, told
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

P1, P2 = "melt_pressure:P1", "melt_pressure:P2"


def stopped(stop_s: float = 4000, start_s: float = 6400) -> Script:
    s = path_script(9000)
    stop_and_start(s)
    return s


# -- frozen


def test_a_reading_that_moved_and_stands_still_to_the_last_digit_is_frozen() -> None:
    s = path_script(8000)
    s.put(P1, 5000, 8000, 60.17)
    found = only(told(s, PressureSensorFrozen(), recipe=path_recipe()))
    assert 5590 <= (seconds(found.first_decided_at) or 0) <= 5640 and "P1" in found.last.summary


def test_a_coarse_reading_is_not_frozen_until_the_rate_should_have_moved_it() -> None:
    s = path_script(8000)
    s.x[P1][:] = 60.0
    assert told(s, PressureSensorFrozen(), recipe=path_recipe()) == []
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", 5000, 8000, 1.3)
        s.scale(f"feeder_setpoint:{feeder}", 5000, 8000, 1.3)
    found = only(told(s, PressureSensorFrozen(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) < 5200


def test_whole_bars_that_flicker_between_two_rest_when_their_mean_drifts_off_the_edge() -> None:
    s, scatter = path_script(8000), np.random.default_rng(7).normal(0.0, 1.0, 8000)
    mean = np.where(np.arange(8000) < 5000, 60.5, 60.1)
    s.x[P1][:] = np.rint(mean + 0.1 * scatter)
    assert told(s, PressureSensorFrozen(), recipe=path_recipe()) == []
    s.x[P1][:] = np.rint(mean + scatter)
    s.put(P1, 5000, 8000, 60.0)
    assert "P1" in only(told(s, PressureSensorFrozen(), recipe=path_recipe())).last.summary


@pytest.mark.parametrize(("torque", "frozen"), [(0.15, False), (1.0, True)])
def test_a_gauge_at_zero_is_right_where_the_screw_carries_nothing(torque: float, frozen: bool) -> None:
    """A hopper that ran dry, or a coupling that broke; with the usual load it is a broken wire."""
    s = path_script(8000)
    s.scale("torque", 5000, 8000, torque)
    s.put(P1, 5000, 8000, 0.0)
    s.put(P2, 5000, 8000, 0.0)
    assert bool(told(s, PressureSensorFrozen(), recipe=path_recipe())) is frozen


@pytest.mark.parametrize(("torque", "frozen"), [(0.35, 0), (1.0, 3)])
def test_a_control_that_turns_an_empty_screw_faster_makes_no_gauge_at_zero_wrong(torque: float, frozen: int) -> None:
    """The hopper over a screw with a melt pump ran dry: nothing can be expected of the new speed and of no rate."""
    s = path_script(8000, pump_line())
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.x[key] *= np.interp(np.arange(s.n), (5000, 5200), (1.0, 1.6))
    s.scale("torque", 5000, 8000, torque)
    s.put("line_rate", 5000, 8000, 0.0)
    for at in ("P1", "PS", "PD"):
        s.put(f"melt_pressure:{at}", 5000, 8000, 0.2)
    found = told(s, PressureSensorFrozen(), line=pump_line(), recipe=path_recipe("single-screw"))

    assert len(found) == frozen


def test_when_the_whole_drive_stands_still_too_it_is_not_the_sensor() -> None:
    s = path_script(8000)
    for key in (P1, P2, "torque", "screw_speed"):
        s.put(key, 5000, 8000, float(s.x[key][5000]))
    assert told(s, PressureSensorFrozen(), recipe=path_recipe()) == []


def test_a_reading_that_stood_through_a_stop_is_frozen_from_the_restart_on() -> None:
    s = stopped()
    s.put(P1, 2900, 9000, 60.17)
    before, after = told(s, PressureSensorFrozen(), recipe=path_recipe())
    assert (seconds(before.last.until) or 0) <= 4030
    assert 6400 <= (seconds(after.first_decided_at) or 0) <= 6440 and after.last.confidence == before.last.confidence


def test_a_pressure_at_zero_through_a_stop_has_not_stood_while_the_line_ran() -> None:
    s = stopped()
    s.put(P1, 4000, 6400 + 500, 0.0)
    assert told(s, PressureSensorFrozen(), recipe=path_recipe()) == []


# -- plugged


def test_pressure_held_after_the_stop_is_real_until_shown_otherwise() -> None:
    s = stopped()
    s.put(P1, 4000, 6400, 38)
    s.put(P2, 4000, 6400, 30)
    found = told(s, PressureSensorPlugged(), recipe=path_recipe())
    assert len(found) == 2 and all(f.last.caution for f in found)
    assert "way out shut" in found[0].last.cause_texts[0]


def test_a_second_sensor_that_has_fallen_speaks_for_the_port() -> None:
    s = stopped()
    s.put(P1, 4000, 6400, 38)
    found = only(told(s, PressureSensorPlugged(), recipe=path_recipe()))
    assert "port plugged" in found.last.cause_texts[0] and found.last.causes[0].speaks_for
    assert 4120 <= (seconds(found.first_decided_at) or 0) <= 4200


def test_melt_shut_in_between_screws_and_a_melt_pump_that_stand_is_real() -> None:
    """The die runs out by itself: that says nothing of what is shut in ahead of the pump."""
    line = pump_line()
    s = path_script(6400, line)
    for key in ("screw_speed", "screw_speed_setpoint", "torque", "melt_pump_speed", "melt_pressure:PD"):
        s.put(key, 4000, 6400, 0)
    for key, bar in ((P1, 38), ("melt_pressure:PS", 35)):
        s.put(key, 4000, 6400, bar)
    found = told(s, PressureSensorPlugged(), line=line, recipe=path_recipe("single-screw"))
    assert len(found) == 2 and all("port plugged" not in f.last.cause_texts[0] for f in found)
    assert any("between the screws and a melt pump" in f.last.cause_texts[0] for f in found)


def test_melt_shut_in_between_flights_keeps_its_pressure_by_right() -> None:
    line = path_line("twin-screw", P1="before_screen", P2="barrel")
    s = path_script(6400, line)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 4000, 6400, 0)
    s.put(P1, 4000, 6400, 1.0)
    s.put(P2, 4000, 6400, 30)
    assert told(s, PressureSensorPlugged(), recipe=path_recipe()) == []


def test_thick_melt_that_drains_slowly_is_not_held() -> None:
    s = stopped()
    s.x[P1][s.span(4000, 6400)] = 50 * np.exp(-np.arange(2400) / 500)
    assert told(s, PressureSensorPlugged(), recipe=path_recipe()) == []


def test_a_port_that_lets_go_over_half_an_hour_is_held() -> None:
    """Both let go: nothing beside them tells at once. With the other down two minutes tell."""
    s = stopped()
    for key, bar in ((P1, 58), (P2, 39)):
        s.x[key][s.span(4000, 6400)] = bar * np.exp(-np.arange(2400) / 1500)
    found = told(s, PressureSensorPlugged(), recipe=path_recipe())
    assert len(found) == 2 and all(4300 <= (seconds(f.first_decided_at) or 0) <= 4350 for f in found)

    s = stopped()
    s.x[P1][s.span(4000, 6400)] = 58 * np.exp(-np.arange(2400) / 1500)
    found = only(told(s, PressureSensorPlugged(), recipe=path_recipe()))
    assert "port plugged" in found.last.cause_texts[0] and found.last.priority == 2
    assert 4120 <= (seconds(found.first_decided_at) or 0) <= 4200
    s.put(P2, 3900, 4000, 4.0)
    assert "port plugged" in only(told(s, PressureSensorPlugged(), recipe=path_recipe())).last.cause_texts[0], "run out"


def test_a_port_that_plugs_loses_its_ripple_first() -> None:
    s = path_script(10000)
    s.x[P1][s.span(6000, 10000)] = 60 + 0.08 * s.noise(0.5)[s.span(6000, 10000)]
    found = only(told(s, PressureSensorPlugged(), recipe=path_recipe()))
    assert found.last.priority == 3 and found.last.confidence == "low" and "ripple" in found.last.summary


@pytest.mark.parametrize(("ripple", "said"), [(0.25, False), (0.05, True)])
def test_of_a_lower_pressure_the_ripple_is_less_by_as_much(ripple: float, said: bool) -> None:
    """A die that grows hot takes three quarters of the pressure, and of what feed and melt swing in it as much."""
    s = path_script(9000, path_line(P1="before_screen"))
    part = s.span(5000, 9000)
    usual = np.median(s.x[P1])
    s.x[P1][part] = 0.25 * usual + ripple * (s.x[P1][part] - usual)
    found = told(s, PressureSensorPlugged(), recipe=path_recipe())
    assert [f.last.condition for f in found] == ["pressure_sensor_plugged"] * said


def test_in_a_log_of_one_reading_in_ten_seconds_the_ripple_is_from_one_to_the_next() -> None:
    line = changed(path_line(), line={"cadence_s": 10.0})
    s = path_script(10000, line)
    s.x[P1] = np.round(s.x[P1], 1)
    assert told(s, PressureSensorPlugged(), recipe=path_recipe()) == []
    part = s.span(6000, 10000)
    s.x[P1][part] = np.round(np.linspace(60, 54, part.stop - part.start), 1)

    finding = only(told(s, PressureSensorPlugged(), recipe=path_recipe()))
    assert "ripple" in finding.last.summary and (seconds(finding.first_decided_at) or 0) <= 6900


def on_change(x: np.ndarray, deadband: float, longest: int) -> np.ndarray:
    """What a logger leaves: what moved so far from what was written last, and a reading each so many cells."""
    out, written, age = x.copy(), x[0], 0
    for place, now in enumerate(x):
        age += 1
        if abs(now - written) >= deadband or age >= longest:
            written, age = now, 0
        out[place] = written
    return out


@pytest.mark.parametrize(("deadband", "plugs", "said"), [(1.0, False, False), (0.1, False, False), (0.1, True, True)])
def test_what_passes_the_deadband_of_a_logger_now_and_then_is_no_ripple(
    deadband: float, plugs: bool, said: bool
) -> None:
    line = changed(path_line(), line={"cadence_s": 10.0})
    for seed in range(6):
        s = path_script(43200, line)
        bar = 60 + np.random.default_rng(seed).normal(0, 0.45, s.n)
        if plugs:
            bar[s.span(30000, 43200)] = 60 + (bar[s.span(30000, 43200)] - 60) * 0.15
        s.x[P1] = on_change(np.round(bar, 1), deadband, 24)
        assert bool(told(s, PressureSensorPlugged(), recipe=path_recipe())) == said


def test_a_reading_that_does_not_move_at_all_has_not_lost_its_ripple_alone() -> None:
    line = changed(path_line(), line={"cadence_s": 10.0})
    s = path_script(10000, line)
    s.put(P1, 6000, 10000, 60.0)
    assert told(s, PressureSensorPlugged(), recipe=path_recipe()) == []


# -- zero


@pytest.mark.parametrize(("offset", "said"), [(2.5, False), (8.0, True), (-4.0, True)])
def test_off_zero_at_the_stop(offset: float, said: bool) -> None:
    s = stopped()
    s.x[P2] += offset
    found = told(s, PressureZeroDrift(), recipe=path_recipe())
    assert bool(found) == said
    if said:
        assert ("trapped" in " ".join(found[0].last.cause_texts)) == (offset > 0)
        assert bool(found[0].last.caution) == (offset > 0)


def test_each_sensor_has_its_own_zero_and_below_zero_needs_no_stop() -> None:
    s = path_script(4000)
    s.x[P2][:] = -6 + s.noise(0.2)
    found = only(told(s, PressureZeroDrift(), recipe=path_recipe()))
    assert found.last.confidence == "high" and "P2" in found.last.summary


# -- at the start


@pytest.mark.parametrize(("torque", "priority"), [(35, 2), (80, 1)])
def test_torque_climbs_and_pressure_reads_nothing(torque: float, priority: int) -> None:
    s = stopped()
    s.put(P1, 6400, 9000, 0.3)
    s.put("torque", 6400, 9000, torque)
    found = only(told(s, PressureMissingAtStart(), recipe=path_recipe()))
    assert found.last.priority == priority and found.last.caution
    assert (seconds(found.first_decided_at) or 0) <= 6520


def test_a_screw_that_is_still_filling_has_no_pressure_to_show() -> None:
    s = stopped()
    s.put(P1, 6400, 6700, 0.3)
    s.put("torque", 6400, 6700, 15)
    assert told(s, PressureMissingAtStart(), recipe=path_recipe()) == []


def test_it_ends_when_the_pressure_comes() -> None:
    s = stopped()
    s.put(P1, 6400, 7000, 0.3)
    assert only(told(s, PressureMissingAtStart(), recipe=path_recipe())).last.until is not None


def test_a_zero_that_creeps_up_on_a_standing_line_is_off_and_one_that_drains_is_not() -> None:
    for end_bar, said in ((12.0, 1), (4.0, 0)):
        s = path_script(6400)
        for key in ("screw_speed", "screw_speed_setpoint", "torque", "melt_pressure:P1", "melt_pressure:P2"):
            s.put(key, 4000, 6400, 0)
        part = s.span(4000, 5400)
        s.x["melt_pressure:P1"][part] = np.linspace(8.0, end_bar, len(s.x["melt_pressure:P1"][part]))
        assert len(told(s, PressureZeroDrift(), recipe=path_recipe())) == said


def drains(p1: Callable[[np.ndarray], np.ndarray], tau_s: float = 250.0) -> Script:
    """The first thirteen minutes of a stop that drains through the screen: P2 behind it from 39 bar."""
    s = path_script(4790)
    stop_and_start(s)
    at = np.arange(s.n)[s.span(4000, 4790)] - 4000.0
    s.x[P2][s.span(4000, 4790)] = 39 * np.exp(-at / tau_s)
    s.x[P1][s.span(4000, 4790)] = p1(at)
    return s


def test_two_pressures_that_drain_and_stay_apart_show_a_zero_before_they_are_down() -> None:
    s = drains(lambda at: 50 * np.exp(-at / 250) + 14)
    found = only(told(s, PressureZeroDrift(), recipe=path_recipe()))
    assert found.last.channel == P1 and "more than P2" in found.last.summary and found.last.caution
    assert 4420 <= (seconds(found.first_decided_at) or 0) <= 4780


@pytest.mark.parametrize(
    "p1",
    [
        lambda at: 58 * np.exp(-at / 250),
        lambda at: 58 * np.exp(-at / 1500),
        lambda at: np.full(len(at), 24.0),
        lambda at: 24 - at / 300,
    ],
    ids=["the drop of what flows", "a port that lets go slowly", "shut in", "shut in and cooling"],
)
def test_a_difference_that_flow_or_a_shut_place_makes_is_no_zero(p1: Callable[[np.ndarray], np.ndarray]) -> None:
    found = told(drains(p1), PressureZeroDrift(), recipe=path_recipe())
    assert not [f for f in found if "more than P2" in f.last.summary]
