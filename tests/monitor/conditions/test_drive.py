"""Torque at its limit, metal in the screws, speed off, screw turning empty, work per kilogram off."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.screw_turning_empty import ScrewTurningEmpty
from monitor.conditions.sme_off import SmeOff
from monitor.conditions.speed_deviation import SpeedDeviation
from monitor.conditions.torque_high import TorqueHigh
from monitor.conditions.tramp_metal import TrampMetal
from monitor.line import Line
from monitor.records import Finding
from tests.monitor.conditions.told import changed, only, seconds, told, without
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

# -- torque


def test_two_minutes_over_nine_tenths_warn() -> None:
    """The mean of 60 s is over it after 54 s of them, and has to stay so for more than another 60."""
    s = path_script(3000)
    s.put("torque", 1000, 1300, 93)
    found = only(told(s, TorqueHigh(), recipe=path_recipe()))
    assert found.last.priority == 2 and 1100 <= (seconds(found.first_decided_at) or 0) <= 1120


def test_three_seconds_over_the_limit_is_priority_one() -> None:
    s = path_script(3000)
    s.put("torque", 1000, 1003, 103)
    found = only(told(s, TorqueHigh(), recipe=path_recipe()))
    assert found.last.priority == 1 and found.last.caution and seconds(found.first_decided_at) == 1003


def test_metal_is_said_when_the_drive_is_back_at_its_speed_some_seconds_later() -> None:
    s = path_script(3000)
    s.put("torque", 1000, 1002, 85)
    s.put("screw_speed", 1000, 1002, 270)
    s.put("screw_speed", 1002, 1005, 285)
    found = only(told(s, TrampMetal(), recipe=path_recipe()))
    assert 1003 <= (seconds(found.first_decided_at) or 0) <= 1008

    s.put("screw_speed", 1002, 3000, 200)
    s.put("screw_speed_setpoint", 1002, 3000, 200)
    assert told(s, TrampMetal(), recipe=path_recipe()) == []


@pytest.mark.parametrize(("for_s", "pct"), [(2, 130), (50, 93), (600, 89)])
def test_shorter_or_lower_is_silent(for_s: float, pct: float) -> None:
    s = path_script(3000)
    s.put("torque", 1000, 1000 + for_s, pct)
    assert told(s, TorqueHigh(), recipe=path_recipe()) == []


def test_the_limit_of_the_line_file_and_a_current_of_known_rating_count() -> None:
    line = changed(path_line(), drive={"torque_limit_pct": 80.0})
    s = path_script(3000, line)
    s.put("torque", 1000, 1300, 75)
    assert len(told(s, TorqueHigh(), recipe=path_recipe())) == 1

    current = _motor_current(200.0)
    s = path_script(3000, current)
    s.x["motor_current"][:] = 120
    s.put("motor_current", 1000, 1300, 190)
    assert len(told(s, TorqueHigh(), recipe=path_recipe())) == 1
    unknown = _motor_current(None)
    s.line = unknown
    assert told(s, TorqueHigh(), recipe=path_recipe()) == []


STARTS, LIMITED = 1000, 1080


def _restart(load: float, for_s: float, speed: float) -> Script:
    """The line stood for five minutes; 80 s after it turns again the load is at its limit for so long, and the screw at
    so much of its speed."""
    s = path_script(3000)
    for key in s.x:
        if key.startswith(("screw_speed", "torque", "feeder_rate", "feeder_setpoint", "melt_pressure")):
            s.put(key, STARTS - 300, STARTS, 0.0)
    s.put("torque", LIMITED, LIMITED + for_s, load)
    s.put("screw_speed", LIMITED, LIMITED + for_s, 300 * speed)
    return s


@pytest.mark.parametrize(
    ("load", "for_s", "speed", "said_s"),
    [
        (103, 40, 0.8, None),
        (103, 8, 1.0, None),
        (103, 200, 0.8, 61),
        (103, 200, 1.0, 11),
        (115, 40, 0.8, 4),
    ],
    ids=["limiter", "before it takes hold", "the screw is stuck", "no limiter", "no limiter holds so much"],
)
def test_at_a_start_the_limiter_holds_the_load_and_the_screw_gives_way(
    load: float, for_s: float, speed: float, said_s: int | None
) -> None:
    found = [f for f in told(_restart(load, for_s, speed), TorqueHigh(), recipe=path_recipe()) if f.last.priority == 1]
    assert len(found) == (said_s is not None)
    assert all((seconds(f.first_decided_at) or 0) <= LIMITED + (said_s or 0) for f in found)


def test_a_screw_that_slows_down_at_its_limit_long_after_the_start_is_over_it() -> None:
    s = path_script(3000)
    s.put("torque", 1000, 1040, 103)
    s.put("screw_speed", 1000, 1040, 240)
    assert seconds(only(told(s, TorqueHigh(), recipe=path_recipe())).first_decided_at) == 1003


@pytest.mark.parametrize(("load", "for_s", "said"), [(99, 100, False), (60, 100, True), (99, 600, True)])
def test_a_start_that_the_limiter_holds_back_for_a_while_is_no_speed_off(load: float, for_s: float, said: bool) -> None:
    """Without load at its limit, or for longer than a start takes, it is."""
    found = told(_restart(load, for_s, 0.8), SpeedDeviation(), recipe=path_recipe())
    assert len(found) == said
    assert not said or (seconds(found[0].first_decided_at) or 0) <= STARTS + (345 if load > 90 else 160)


def _motor_current(rated: float | None) -> Line:
    data = without(path_line(), "torque").model_dump()
    data["sensor"] = (*data["sensor"], {"tag": "current", "role": "motor_current"})
    data["drive"]["rated_current_a"] = rated
    return Line.model_validate({**data, "version": f"current {rated}"})


# -- metal


def _bang(s: Script, at: float, for_s: int, torque: float, speed: float) -> None:
    s.put("torque", at, at + for_s, torque)
    s.put("screw_speed", at, at + for_s, speed)


@pytest.mark.parametrize("for_s", [1, 2, 3])
def test_a_spike_with_a_dip_is_something_hard(for_s: int) -> None:
    s = path_script(3000)
    _bang(s, 1000, for_s, 85, 290)
    found = only(told(s, TrampMetal(), recipe=path_recipe()))
    assert seconds(found.first_decided_at) == 1000 + for_s + 1 and found.last.caution


def test_several_in_ten_minutes_are_one_finding() -> None:
    s = path_script(3000)
    for at in (1000, 1060, 1300):
        _bang(s, at, 2, 90, 285)
    only(told(s, TrampMetal(), recipe=path_recipe()))


@pytest.mark.parametrize(("for_s", "torque", "speed"), [(1, 140, 300), (20, 85, 290), (2, 60, 280), (2, 64, 285)])
def test_no_dip_no_spike_or_too_long_is_not_it(for_s: int, torque: float, speed: float) -> None:
    s = path_script(3000)
    _bang(s, 1000, for_s, torque, speed)
    assert told(s, TrampMetal(), recipe=path_recipe()) == []


def test_a_log_of_every_quarter_of_a_minute_cannot_see_it() -> None:
    assert TrampMetal().subjects(_context(15.0)) == ()


def _slow_log(cadence_s: float, *readings: tuple[float, float]) -> list[Finding]:
    """What is said of a log of so seldom readings with these of load and speed, one after the other."""
    s = path_script(3000, changed(path_line(), line={"cadence_s": cadence_s}))
    for place, (torque, speed) in enumerate(readings):
        at = 1500 + place * cadence_s
        s.put("torque", at, at + cadence_s, torque)
        s.put("screw_speed", at, at + cadence_s, speed)
    return told(s, TrampMetal(), recipe=path_recipe())


@pytest.mark.parametrize("cadence_s", [4.0, 5.0, 10.0])
@pytest.mark.parametrize("after", [(60.0, 300.0), (61.0, 297.0), (63.0, 276.0)])
def test_in_a_slow_log_load_and_speed_answer_in_the_same_reading(cadence_s: float, after: tuple[float, float]) -> None:
    found = only(_slow_log(cadence_s, (82.0, 280.0), after))
    assert f"in one reading of every {cadence_s:.0f} s" in found.last.summary and found.last.caution
    assert 1500 + cadence_s < (seconds(found.first_decided_at) or 0) <= 1500 + 3 * cadence_s


@pytest.mark.parametrize("cadence_s", [5.0, 10.0])
@pytest.mark.parametrize(
    "readings",
    [
        ((140.0, 300.0),),
        ((140.0, 297.0),),
        ((60.0, 270.0),),
        ((82.0, 300.0), (60.0, 280.0)),
        ((60.0, 280.0), (82.0, 300.0)),
        ((82.0, 280.0),) * 4,
    ],
    ids=["load alone", "a drive gives way", "speed alone", "speed later", "speed before", "it stays"],
)
def test_one_reading_that_is_odd_by_itself_is_no_metal(
    cadence_s: float, readings: tuple[tuple[float, float], ...]
) -> None:
    assert _slow_log(cadence_s, *readings) == []


def _context(cadence_s: float):
    from monitor.contract import Context

    return Context(changed(path_line(), line={"cadence_s": cadence_s}), None, None, cadence_s)


# -- speed


def test_speed_off_its_setpoint_and_the_limit_as_its_cause() -> None:
    s = path_script(4000)
    s.put("screw_speed", 2000, 2500, 285)
    s.put("torque", 2000, 2500, 97)
    found = only(told(s, SpeedDeviation(), recipe=path_recipe()))
    assert "torque or current limit" in found.last.cause_texts[0] and found.last.priority == 3
    assert (seconds(found.first_decided_at) or 0) <= 2040


def test_a_ramp_after_a_new_setpoint_is_not_off() -> None:
    s = path_script(4000)
    s.put("screw_speed_setpoint", 2000, 4000, 360)
    s.put("screw_speed", 2000, 2060, 300, slope_s=1.0)
    s.put("screw_speed", 2060, 4000, 360)
    assert told(s, SpeedDeviation(), recipe=path_recipe()) == []


def test_with_a_melt_pump_the_screw_follows_the_suction_and_it_is_a_note() -> None:
    s = path_script(4000, pump_line())
    s.put("screw_speed", 2000, 2500, 315)
    found = only(told(s, SpeedDeviation(), recipe=path_recipe("single-screw")))
    assert found.last.priority == 4 and "suction" in found.last.cause_texts[0]


@pytest.mark.parametrize("logged", [True, False])
def test_a_speed_that_swings_about_its_setpoint_hunts_and_a_single_bump_does_not(logged: bool) -> None:
    line = path_line() if logged else without(path_line(), "screw_speed_setpoint")
    s = path_script(5000, line)
    part = s.span(2000, 3500)
    s.x["screw_speed"][part] *= 1 + 0.02 * np.sin(2 * np.pi * np.arange(len(s.x["screw_speed"][part])) / 40)
    found = only(told(s, SpeedDeviation(), recipe=path_recipe()))
    assert "hunting" in found.last.cause_texts[0] and "swings" in found.last.summary
    assert 2090 <= (seconds(found.first_decided_at) or 0) <= 2260

    s = path_script(5000, line)
    s.scale("screw_speed", 2000, 2020, 1.018)
    s.scale("screw_speed", 2020, 2040, 0.985)
    assert told(s, SpeedDeviation(), recipe=path_recipe()) == []


@pytest.mark.parametrize("idle_s", [60, 90, 120, 150])
@pytest.mark.parametrize("ramp_s", [10, 40])
@pytest.mark.parametrize("unfed", [False, True])
def test_a_screw_that_idles_and_comes_up_again_does_not_hunt(idle_s: int, ramp_s: int, unfed: bool) -> None:
    """Two moves by hand, in a log without the set-point; the feed comes back while the speed is on its way up."""
    s = path_script(6000, without(path_line(), "screw_speed_setpoint"))
    up = 3000 + ramp_s + idle_s
    s.x["screw_speed"] *= np.interp(
        np.arange(s.n), [0, 3000, 3000 + ramp_s, up, up + ramp_s, s.n], [1, 1, 0.35, 0.35, 1, 1]
    )
    if unfed:
        _unfed(s, 3000, up + ramp_s // 3, 20.0)
    assert told(s, SpeedDeviation(), recipe=path_recipe()) == []


@pytest.mark.parametrize("swing_s", [30, 60, 90])
def test_a_slow_swing_hunts_too(swing_s: int) -> None:
    s = path_script(5000, without(path_line(), "screw_speed_setpoint"))
    s.x["screw_speed"][2000:] *= 1 + 0.03 * np.sin(2 * np.pi * np.arange(s.n - 2000) / swing_s)
    assert (seconds(only(told(s, SpeedDeviation(), recipe=path_recipe())).first_decided_at) or 0) <= 2300


# -- empty


def _unfed(s: Script, start: float, end: float, torque: float) -> None:
    for feeder in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint"):
            s.put(f"{role}:{feeder}", start, end, 0)
    s.put("torque", start, end, torque)


def test_left_turning_empty() -> None:
    s = path_script(4000)
    _unfed(s, 2000, 4000, 9)
    found = only(told(s, ScrewTurningEmpty(), recipe=path_recipe()))
    assert 2290 <= (seconds(found.first_decided_at) or 0) <= 2320 and found.last.since <= found.first_decided_at


@pytest.mark.parametrize(("for_s", "torque"), [(240, 9), (1500, 25)])
def test_rethreading_or_purged_by_hand_is_not_empty(for_s: float, torque: float) -> None:
    s = path_script(4000)
    _unfed(s, 2000, 2000 + for_s, torque)
    assert told(s, ScrewTurningEmpty(), recipe=path_recipe()) == []


# -- work per kilogram


@pytest.mark.parametrize(("factor", "priority"), [(1.03, 0), (1.07, 4), (1.14, 3), (0.85, 3)])
def test_work_per_kilogram(factor: float, priority: int) -> None:
    s = path_script(6000)
    s.scale("torque", 3600, 6000, factor)
    found = told(s, SmeOff(), recipe=path_recipe())
    assert [f.last.priority for f in found] == ([priority] if priority else [])


@pytest.mark.parametrize("factors", [(1.7, 0.3), (1.8, 1.8), (0.4, 0.4)])
def test_a_scale_that_is_touched_says_nothing_of_the_work(factors: tuple[float, float]) -> None:
    """Rates that read high, low, or both, for a minute, torque as it was: neither more nor less work a kilogram."""
    s = path_script(6000)
    for key in [key for key in s.x if key.startswith("feeder_rate:")]:
        for half, factor in enumerate(factors):
            s.scale(key, 3600 + 30 * half, 3630 + 30 * half, factor)
    assert told(s, SmeOff(), recipe=path_recipe()) == []


def test_a_fifth_more_work_is_said_within_minutes_and_a_burst_of_half_a_minute_is_not() -> None:
    s = path_script(6000)
    s.scale("torque", 3600, 6000, 1.35)
    found = only(told(s, SmeOff(), recipe=path_recipe()))
    assert (seconds(found.first_decided_at) or 0) <= 3600 + 130 and found.last.priority == 3

    s = path_script(6000)
    s.scale("torque", 3600, 3630, 1.35)
    assert told(s, SmeOff(), recipe=path_recipe()) == []


def test_a_flood_fed_screw_without_a_rate_is_judged_by_its_torque() -> None:
    line = without(path_line("single-screw"), "line_rate", "feeder_rate", "feeder_setpoint")
    s = path_script(6000, line)
    s.scale("torque", 3600, 6000, 1.3)
    found = only(told(s, SmeOff(), recipe=path_recipe("single-screw")))
    assert found.last.channel == "net_torque" and found.last.summary.startswith("net torque")
    assert all("reported" not in cause.text for cause in found.last.causes), "nobody reports a rate"


@pytest.mark.parametrize(
    ("torque", "pressure", "first", "told_by"),
    [
        (0.85, 0.84, "thinner melt", "as far as torque"),
        (0.85, 0.945, "less reaches the screws", "much less than torque"),
        (1.16, 1.17, "thicker melt", "as far as torque"),
        (1.16, 1.6, "screen or die restricted", "much further than torque"),
        (1.16, 1.05, "more is fed", "much less than torque"),
        (0.85, 0.88, "less reaches the screws", ""),
    ],
)
def test_how_far_pressure_goes_with_torque_tells_melt_from_feed(
    torque: float, pressure: float, first: str, told_by: str
) -> None:
    s = path_script(6000)
    s.scale("torque", 3600, 6000, torque)
    for key in [key for key in s.x if key.startswith("melt_pressure:")]:
        s.scale(key, 3600, 6000, pressure)
    causes = only(told(s, SmeOff(), recipe=path_recipe())).last.causes
    assert causes[0].text.startswith(first)
    assert [told_by in text for text in causes[0].speaks_for] == ([True] if told_by else [])
    melt = next(cause for cause in causes if "melt" in cause.text)
    assert bool(melt.speaks_against) == (pressure in (0.945, 1.05)), "said only where pressure went much less"


@pytest.mark.parametrize(("pressure", "priority"), [(0.72, 3), (0.98, 4)])
def test_a_filler_that_does_not_arrive_takes_far_more_pressure_than_load(pressure: float, priority: int) -> None:
    """Its feeder shows its set-point: it is named by its share."""
    s = path_script(6000)
    s.scale("torque", 3600, 6000, 0.93)
    for key in [key for key in s.x if key.startswith("melt_pressure:")]:
        s.scale(key, 3600, 6000, pressure)
    found = only(told(s, SmeOff(), recipe=path_recipe()))
    assert found.last.priority == priority
    assert ("does not arrive" in found.last.causes[0].text) == (priority == 3)
    assert ("feeder F2" in found.last.causes[0].text) == (priority == 3)


def test_under_a_quarter_of_the_rate_it_says_nothing() -> None:
    s = path_script(6000)
    for feeder in FEEDERS:
        s.scale(f"feeder_rate:{feeder}", 3600, 6000, 0.2)
    assert told(s, SmeOff(), recipe=path_recipe()) == []
