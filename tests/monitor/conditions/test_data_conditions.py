"""No data, one controller silent or stale, an 'actual' that is the set-point."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.actual_is_setpoint import ActualIsSetpoint
from monitor.conditions.controller_stale import ControllerStale
from monitor.conditions.data_stopped import DataStopped
from monitor.line import Line
from tests.monitor.conditions.told import changed, only, seconds, told, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_feeders import SETS, FeederScript, feeder_recipe
from tests.monitor.world_path import path_line, path_recipe, path_script


def silence(s: Script, start: float, end: float, *prefixes: str) -> None:
    for key in s.x:
        if not prefixes or key.startswith(prefixes):
            s.put(key, start, end, float("nan"))


# -- the whole log


@pytest.mark.parametrize(("for_s", "priority"), [(4, 0), (5, 0), (8, 4), (90, 2)])
def test_nothing_for_so_long(for_s: float, priority: int) -> None:
    s = path_script(2000)
    silence(s, 1000, 1000 + for_s)
    found = told(s, DataStopped(), recipe=path_recipe())
    assert [f.last.priority for f in found] == ([priority] if priority else [])
    if found:
        assert seconds(found[0].first_decided_at) == 1006 and found[0].last.until is not None


@pytest.mark.parametrize("cadence_s", [2.0, 5.0, 10.0])
def test_three_cadences_where_they_are_longer(cadence_s: float) -> None:
    line = changed(path_line(), line={"cadence_s": cadence_s})
    s = path_script(4000, line)
    silence(s, 2000, 2000 + 3 * cadence_s)
    assert told(s, DataStopped(), recipe=path_recipe()) == []
    silence(s, 3000, 3000 + 5 * cadence_s)
    assert len(told(s, DataStopped(), recipe=path_recipe())) == 1


def test_a_log_that_comes_every_half_minute_by_habit_is_not_stopped() -> None:
    s = path_script(4000)
    keep = np.arange(s.n) % 30 == 0
    for key in s.x:
        s.x[key] = np.where(keep, s.x[key], np.nan)
    later = [f for f in told(s, DataStopped(), recipe=path_recipe()) if (seconds(f.last.since) or 0) > 60]
    assert later == []
    silence(s, 3000, 3200)
    assert len([f for f in told(s, DataStopped(), recipe=path_recipe()) if (seconds(f.last.since) or 0) > 60]) == 1


def test_a_log_that_starts_empty_has_not_stopped() -> None:
    s = path_script(2000)
    silence(s, 0, 600)
    assert told(s, DataStopped(), recipe=path_recipe()) == []


# -- one controller


def test_a_controller_without_readings_while_others_live() -> None:
    s = path_script(6000)
    silence(s, 4000, 5000, "feeder_rate:F2", "feeder_drive:F2", "feeder_weight:F2")
    found = only(told(s, ControllerStale(), recipe=path_recipe()))
    assert "feeder F2: no readings" in found.last.summary and found.last.priority == 3
    assert 4050 <= (seconds(found.first_decided_at) or 0) <= 4090


def test_a_channel_that_comes_every_ten_minutes_is_not_missing() -> None:
    s = path_script(6000)
    now_and_then = np.arange(s.n) % 600 < 60
    s.x["vacuum:V1"] = np.where(now_and_then, s.x["vacuum:V1"], np.nan)
    assert told(s, ControllerStale(), recipe=path_recipe()) == []


def test_a_logger_that_writes_changes_only_has_irregular_gaps() -> None:
    s = path_script(4000)
    rng = np.random.default_rng(8)
    keep = np.zeros(s.n, bool)
    keep[np.minimum(np.concatenate(([0], rng.integers(1, 13, 2000))).cumsum(), s.n - 1)] = True
    for key in s.x:
        s.x[key] = np.where(keep, s.x[key], np.nan)
    assert [f for f in told(s, DataStopped(), recipe=path_recipe()) if (seconds(f.last.since) or 0) > 120] == []


def on_change(s: Script, hold_s: float = 720.0) -> Line:
    """The script's line with readings that stand for so long, as `map` proposes it for a log written on change: it says
    nothing of set-points, which stand for a day anyway."""
    data = s.line.model_dump()
    data["sensor"] = [
        {**sensor, "hold_s": None if sensor["role"].endswith("setpoint") else hold_s} for sensor in data["sensor"]
    ]
    return Line.model_validate(data)


def written_now_and_then(s: Script, gaps: tuple[tuple[float, float, float], ...]) -> None:
    """Of each stretch (from, to, least gap, s) readings come at random, thrice so far apart at most."""
    keep, rng = np.zeros(s.n, bool), np.random.default_rng(5)
    for start, end, gap in gaps:
        at = start
        while at < end:
            keep[int(at)] = True
            at += rng.uniform(gap, 3 * gap)
    for key in s.x:
        s.x[key] = np.where(keep, s.x[key], np.nan)


def stands(s: Script, start: float, end: float) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, start, end, 0.0)


def test_a_line_logged_on_change_that_stands_is_quiet_and_not_stopped() -> None:
    """Running, something changes every second or two; standing, every half minute to a minute and a half."""
    s = path_script(6000)
    stands(s, 2000, 5000)
    written_now_and_then(s, ((0, 2000, 1), (2000, 5000, 30), (5000, 6000, 1)))
    assert told(s, DataStopped(), line=on_change(s), recipe=path_recipe()) == []
    assert told(s, DataStopped(), recipe=path_recipe()) != []


def test_a_line_logged_on_change_is_not_watched_when_it_is_silent_for_longer_than_readings_stand() -> None:
    s = path_script(6000)
    stands(s, 2000, 5000)
    written_now_and_then(s, ((0, 2000, 1), (2000, 3000, 30), (4000, 5000, 30), (5000, 6000, 1)))
    found = only(told(s, DataStopped(), line=on_change(s), recipe=path_recipe()))
    assert found.last.priority == 2 and 3000 - 90 + 720 <= (seconds(found.first_decided_at) or 0) <= 3000 + 722


def test_a_running_line_logged_on_change_that_falls_silent_is_stopped_after_a_minute() -> None:
    s = path_script(4000)
    written_now_and_then(s, ((0, 2000, 1), (2030, 3000, 1), (3200, 4000, 1)))
    found = only(told(s, DataStopped(), line=on_change(s), recipe=path_recipe()))
    assert found.last.priority == 2 and 3055 <= (seconds(found.first_decided_at) or 0) <= 3065


@pytest.mark.parametrize(("held", "for_s", "said"), [(True, 170, 0), (False, 170, 1), (True, 900, 1)])
def test_a_rate_held_on_its_set_point_while_it_is_refilled_is_not_written_on_change(
    held: bool, for_s: float, said: int
) -> None:
    s = FeederScript(4000)
    silence(s, 2000, 2000 + for_s, "feeder_rate:F2", "feeder_drive:F2")
    if held:
        s.put("feeder_rate:F2", 1980, 2000, SETS["F2"])

    assert len(told(s, ControllerStale(), recipe=feeder_recipe())) == said


def test_one_channel_of_several_is_named() -> None:
    s = path_script(6000)
    silence(s, 4000, 5000, "melt_pressure:P2")
    assert "melt pressure P2 among them" in only(told(s, ControllerStale(), recipe=path_recipe())).last.summary


def test_all_channels_of_one_controller_stand_still() -> None:
    s = path_script(6000)
    for key in s.x:
        if key.startswith(("feeder_rate:F1", "feeder_drive:F1", "feeder_weight:F1")):
            s.put(key, 4000, 5000, float(s.x[key][4000]))
    found = only(told(s, ControllerStale(), recipe=path_recipe()))
    assert "stale" in found.last.summary and (seconds(found.first_decided_at) or 0) <= 4220


@pytest.mark.parametrize("known_s", [900, 3000])
def test_how_often_zones_move_is_known_after_half_an_hour(known_s: int) -> None:
    """Whole degrees flicker while a zone stands near the edge between two of them, and rest when it has moved on."""
    s = path_script(4600)
    rng = np.random.default_rng(5)
    for key in s.x:
        if key.startswith(("zone_temperature", "zone_output", "zone_current", "zone_cooling")):
            flickers = np.arange(s.n) % 10 < 5
            s.x[key] = float(np.round(s.x[key][0])) + (flickers & (rng.random(s.n) < 0.8)).astype(np.float64)
            s.put(key, known_s, 4600, float(np.round(s.x[key][0])))
    found = [f for f in told(s, ControllerStale(), recipe=path_recipe()) if "zone controller" in f.last.summary]

    assert bool(found) is (known_s > 1800)


@pytest.mark.parametrize("at_once", [True, False])
def test_zones_that_come_to_rest_one_after_the_other_are_no_silent_controller(at_once: bool) -> None:
    """Whole degrees move in every cell for the better part of an hour after a start, and then zone by zone no more."""
    s = path_script(4600)
    rng = np.random.default_rng(5)
    zones = [key for key in s.x if key.startswith(("zone_temperature", "zone_output", "zone_cooling", "zone_current"))]
    for place, key in enumerate(zones):
        s.x[key] = 200.0 + (rng.random(s.n // 10 + 1) < 0.5).repeat(10)[: s.n]
        rests_s = 4200 if at_once else 2700 + 120 * place
        s.put(key, rests_s, 4600, float(s.x[key][rests_s]))
    found = [f for f in told(s, ControllerStale(), recipe=path_recipe()) if "zone controller" in f.last.summary]

    assert bool(found) is at_once


def with_deadband(s, *lively: str) -> None:  # type: ignore[no-untyped-def]
    """Zones and outputs are written when they have moved far: each now and then, at moments of its own; seldom where
    there are `lively` ones, which flicker all the time."""
    rng = np.random.default_rng(6)
    for key in s.x:
        if key.startswith(("zone_temperature", "zone_output")):
            often = 0.5 if key in lively else 1 / 3000 if lively else 1 / 240
            s.x[key] = 200.0 + np.cumsum(rng.random(s.n) < often) % 2


def test_a_controller_whose_channels_each_rest_for_minutes_is_stale_when_all_of_them_do() -> None:
    s = path_script(7000)
    with_deadband(s)
    assert told(s, ControllerStale(), recipe=path_recipe()) == []
    for key in s.x:
        if key.startswith("zone"):
            s.put(key, 4500, 7000, float(s.x[key][4500]))
    found = only(told(s, ControllerStale(), recipe=path_recipe()))

    assert "zone controller: all readings stand still" in found.last.summary
    assert 4500 < (seconds(found.first_decided_at) or 0) <= 5700


@pytest.mark.parametrize("stands_s", [100, 400])
def test_a_controller_whose_channels_never_rest_is_stale_after_two_minutes(stands_s: int) -> None:
    """A minute and a half is what a controller is lost for now and then."""
    s = path_script(6000)
    for key in s.x:
        if key.startswith(("zone_temperature", "zone_output")):
            s.put(key, 4500, 4500 + stands_s, float(s.x[key][4500]))
    said = [seconds(f.first_decided_at) or 0 for f in told(s, ControllerStale(), recipe=path_recipe())]

    assert [4620 < at <= 4660 for at in said] == ([True] if stands_s > 120 else [])


def test_one_zone_that_flickered_and_rests_is_no_silent_controller() -> None:
    s = path_script(7000)
    with_deadband(s, "zone_temperature:Z2")
    s.put("zone_temperature:Z2", 4500, 7000, 200)
    assert [f for f in told(s, ControllerStale(), recipe=path_recipe()) if "zone" in f.last.summary] == []


def test_a_feeder_that_stands_is_not_stale_and_one_still_sensor_is_not_a_controller() -> None:
    s = path_script(6000)
    for role in ("feeder_rate", "feeder_drive", "feeder_setpoint"):
        s.put(f"{role}:F3", 4000, 6000, 0)
    s.put("feeder_weight:F3", 4000, 6000, 21.0)
    s.put("melt_pressure:P2", 4000, 6000, 40.0)
    assert told(s, ControllerStale(), recipe=path_recipe()) == []


def test_a_feeder_that_has_run_empty_is_not_stale() -> None:
    """Its drive at the end, and what is left in rate and weight does not move."""
    s = path_script(6000)
    s.put("feeder_drive:F1", 4000, 6000, 100)
    s.put("feeder_rate:F1", 4000, 6000, 0.01)
    s.put("feeder_weight:F1", 4000, 6000, 0.02)
    assert told(s, ControllerStale(), recipe=path_recipe()) == []


def test_a_couple_that_jumps_is_there_and_wrong_not_missing() -> None:
    s = path_script(6000)
    s.put("zone_temperature:Z2", 4000, 6000, 420)
    assert told(s, ControllerStale(), recipe=path_recipe()) == []


def test_the_whole_log_silent_is_not_one_controller() -> None:
    s = path_script(6000)
    silence(s, 4000, 4300)
    assert told(s, ControllerStale(), recipe=path_recipe()) == []


# -- a copy


def test_an_actual_that_follows_a_step_no_drive_can_make_is_a_copy() -> None:
    s = path_script(4000)
    s.put("screw_speed_setpoint", 2000, 4000, 60)
    s.x["screw_speed"] = s.x["screw_speed_setpoint"].copy()
    found = only(told(s, ActualIsSetpoint(), recipe=path_recipe()))
    assert found.last.priority == 4 and found.last.channel == "screw_speed"


def test_a_speed_in_whole_turns_that_is_there_before_the_next_reading_is_no_copy() -> None:
    s = path_script(4000)
    s.put("screw_speed_setpoint", 2000, 4000, 330)
    s.x["screw_speed"] = s.x["screw_speed_setpoint"].copy()
    assert told(s, ActualIsSetpoint(), recipe=path_recipe()) == []


def test_a_rate_shown_as_set_while_the_feeder_is_refilled_is_no_copy() -> None:
    """The total is trimmed by 4 % in the middle of a refill of a minute."""
    line = without(path_line(), "feeder_weight")
    s = path_script(4000)
    s.scale("feeder_setpoint:F2", 2030, 4000, 1.04)
    s.scale("feeder_rate:F2", 2030, 4000, 1.04)
    part = s.span(2000, 2060)
    s.x["feeder_rate:F2"][part] = s.x["feeder_setpoint:F2"][part]
    assert told(s, ActualIsSetpoint(), line=line, recipe=path_recipe()) == []


def test_a_zone_kept_to_the_degree_in_whole_numbers_is_no_copy() -> None:
    s = path_script(8000)
    s.x["zone_temperature:Z2"][:] = 200
    s.put("zone_setpoint:Z2", 6000, 8000, 210)
    s.x["zone_temperature:Z2"][s.span(6000, 8000)] = np.round(np.minimum(200 + np.arange(2000) / 60, 210))
    assert told(s, ActualIsSetpoint(), recipe=path_recipe()) == []


def test_a_rate_without_scatter_for_half_an_hour_is_a_copy_unless_a_weight_can_tell_better() -> None:
    line = without(path_line(), "feeder_weight")
    s = path_script(4000)
    s.x["feeder_rate:F2"] = s.x["feeder_setpoint:F2"].copy()
    found = only(told(s, ActualIsSetpoint(), line=line, recipe=path_recipe()))
    assert found.last.channel == "feeder_rate:F2"
    assert told(s, ActualIsSetpoint(), recipe=path_recipe()) == []


def test_a_feeder_that_was_measured_and_becomes_its_set_point_is_not_said_here() -> None:
    """It runs volumetric: that is another finding."""
    line = without(path_line(), "feeder_weight")
    s = path_script(5000)
    part = s.span(2500, 5000)
    s.x["feeder_rate:F2"][part] = s.x["feeder_setpoint:F2"][part]

    assert told(s, ActualIsSetpoint(), line=line, recipe=path_recipe()) == []


def test_a_rounded_rate_that_stands_on_its_set_point_now_and_then_is_measured() -> None:
    """For five minutes in every six, and for twenty once."""
    line = without(path_line(), "feeder_weight")
    s = path_script(9000)
    at = np.arange(len(s.x["feeder_rate:F2"]))
    stands = (at % 360 < 300) | ((at >= 6000) & (at < 7200))
    s.x["feeder_rate:F2"] = np.where(stands, s.x["feeder_setpoint:F2"], s.x["feeder_setpoint:F2"] + 1.0)

    assert told(s, ActualIsSetpoint(), line=line, recipe=path_recipe()) == []


FLICKERING = 5


def test_whole_degrees_of_which_most_rest_for_hours_say_nothing_when_all_do() -> None:
    """A few zones that stand near the edge between two degrees flicker, and then drift to the middle of one."""
    s = path_script(9000)
    rng = np.random.default_rng(7)
    zones = [key for key in s.x if key.startswith(("zone_temperature", "zone_output", "zone_current", "zone_cooling"))]
    assert len(zones) >= 2 * FLICKERING
    for place, key in enumerate(zones):
        s.x[key] = np.full(s.n, float(np.round(s.x[key][0])))
        if place < FLICKERING:
            flicker = (rng.random(s.n // 10) < 0.3).repeat(10).astype(np.float64)
            s.x[key][:5000] += np.resize(flicker, s.n)[:5000]
    assert not [f for f in told(s, ControllerStale(), recipe=path_recipe()) if "zone controller" in f.last.summary]


@pytest.mark.parametrize("rethreaded", [True, False])
def test_whole_degrees_swing_after_strands_were_laid_again_and_then_rest_in_the_middle_of_one(rethreaded: bool) -> None:
    """What they moved by until zones had settled tells nothing of how seldom they move at rest."""
    s = path_script(9000)
    rng = np.random.default_rng(8)
    zones = [key for key in s.x if key.startswith(("zone_temperature", "zone_output", "zone_current", "zone_cooling"))]
    for key in zones:
        swings = np.cumsum(rng.random(s.n) < 1 / 60) % 2
        swings[5500:] = swings[5499]
        s.x[key] = float(np.round(s.x[key][0])) + swings
    if rethreaded:
        for key in s.x:
            if key.startswith(("feeder_rate", "feeder_setpoint")):
                s.put(key, 4000, 4300, 0.0)
        s.x["screw_speed"][4020:4300] *= 0.35
    found = [f for f in told(s, ControllerStale(), recipe=path_recipe()) if "zone controller" in f.last.summary]
    assert bool(found) is not rethreaded
