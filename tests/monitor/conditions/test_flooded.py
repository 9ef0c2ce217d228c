"""Flooded: over-fed, intake-limited or torque-limited, and told from thick melt, restriction and a blocked path."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.flooded import Flooded
from monitor.conditions.starved import Starved
from tests.monitor.conditions.told import TWIN, Story, only, seconds, single, told, twin, words
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 3600, 1500, 2400


def flushing(s: Script) -> None:
    """Powder flushes through a feeder in its refill hold: rates read on set, torque jumps, pressure a third as much."""
    s.scale("torque", FROM, TO, 1.25)
    s.scale("melt_pressure:P1", FROM + 5, TO, 1.08)


def rates_above_set(s: Script) -> None:
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 1.15)
    s.scale("torque", FROM + 5, TO, 1.13)
    s.scale("melt_pressure:P1", FROM + 10, TO, 1.05)


def rate_raised_and_not_taken(s: Script) -> None:
    """The rate goes up by 8 %; torque falls by 6 % instead of rising."""
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.08)
    s.scale("torque", FROM + 10, LOG_S, 0.94)


def slower(s: Script, speed: float, rate: float, torque: float, pressure: float) -> None:
    for key, share in (("screw_speed", speed), ("screw_speed_setpoint", speed), ("melt_pressure:P1", pressure)):
        if key in s.x:
            s.scale(key, FROM, LOG_S, share)
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, rate)
    s.scale("torque", FROM + 10, LOG_S, torque)


def slowed_and_not_taken(s: Script) -> None:
    """A tenth slower at the same rate; torque falls by a sixth, which the slower screw alone does not do."""
    slower(s, 0.9, 1.0, 0.84, 0.98)


def half_the_rate_at_less_than_half_the_speed(s: Script) -> None:
    """A step of a start: fuller screws that shear thinner melt less; torque is down, and everything is taken."""
    slower(s, 0.4, 0.5, 0.84, 0.66)


def fluffy_lot(s: Script) -> None:
    """Bulk density falls: the main feeder turns a fifth faster for its rate, and the screws take less."""
    s.scale("feeder_drive:F1", FROM, TO, 1.2)
    s.scale("torque", FROM + 60, TO, 0.85)
    s.scale("melt_pressure:P1", FROM + 70, TO, 0.95)


def at_the_torque_limit(s: Script) -> None:
    """Torque climbs to its limit within forty minutes, at full rate."""
    part = s.span(600, 3000)
    s.x["torque"][part] = np.linspace(60, 96, len(s.x["torque"][part]))
    s.put("torque", 3000, LOG_S, 96.0)


def full_hopper_pushes(s: Script) -> None:
    """After a refill the full hopper presses a little more through the feeder, for half a minute."""
    s.scale("torque", FROM, FROM + 30, 1.13)
    s.scale("melt_pressure:P1", FROM + 5, FROM + 35, 1.04)


def thick_melt(s: Script) -> None:
    s.scale("torque", FROM, TO, 1.2)
    s.scale("melt_pressure:P1", FROM, TO, 1.3)


def restriction(s: Script) -> None:
    s.scale("melt_pressure:P1", FROM, TO, 1.4)
    s.scale("torque", FROM + 30, TO, 1.05)


def path_blocked(s: Script) -> None:
    s.scale("torque", FROM, TO, 0.68)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.87)


def rate_raised_and_taken(s: Script) -> None:
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.08)
    s.scale("torque", FROM + 10, LOG_S, 1.07)
    s.scale("melt_pressure:P1", FROM + 15, LOG_S, 1.03)


def slow_rise(s: Script) -> None:
    """The melt grows colder over half an hour: torque and pressure rise, nothing is over-fed."""
    for key, share in (("torque", 0.2), ("melt_pressure:P1", 0.1)):
        part = s.span(FROM, LOG_S)
        n = len(s.x[key][part])
        s.x[key][part] *= [1 + share * i / n for i in range(n)]


def more_drive_and_all_taken(s: Script) -> None:
    """A light lot alone: the feeder turns faster, the screws take everything."""
    s.scale("feeder_drive:F1", FROM, TO, 1.2)


SPEAKS = [
    (flushing, "over-fed: torque up"),
    (rates_above_set, "over-fed"),
    (rate_raised_and_not_taken, "rate over speed was raised came first"),
    (slowed_and_not_taken, "rate over speed was raised"),
    (fluffy_lot, "bulk density or feed factor down came first"),
    (at_the_torque_limit, "torque-limited: torque 9"),
]


def test_what_is_said_of_the_pressure_and_of_the_feeders_is_what_they_show() -> None:
    s = twin(LOG_S)
    rates_above_set(s)
    s.scale("melt_pressure:P1", FROM + 5, TO, 1.3)
    summary = told(s, Flooded())[0].last.summary

    assert "pressure up less" not in summary and "than the feeders say" not in summary
    assert "pressure up 3" in summary and "more than set" in summary


@pytest.mark.parametrize(("story", "word"), SPEAKS, ids=lambda value: getattr(value, "__name__", ""))
def test_speaks(story: Story, word: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = told(s, Flooded())[0]

    assert word in words(finding), words(finding)
    begins = 2700 if story is at_the_torque_limit else FROM
    assert begins <= (seconds(finding.last.since) or 0) <= begins + 400


@pytest.mark.parametrize(
    "story",
    [
        thick_melt,
        restriction,
        path_blocked,
        rate_raised_and_taken,
        half_the_rate_at_less_than_half_the_speed,
        slow_rise,
        more_drive_and_all_taken,
        full_hopper_pushes,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, Flooded()) == []


def test_a_flood_fed_screw_is_always_full() -> None:
    s = single(LOG_S)
    s.put("torque", FROM, TO, 96.0)
    s.scale("line_rate", FROM, TO, 1.2)

    assert told(s, Flooded()) == []


def test_it_ends_when_the_rate_is_taken_again() -> None:
    s = twin(LOG_S)
    flushing(s)

    assert TO <= (seconds(only(told(s, Flooded())).last.until) or 0) <= TO + 30


# -- torque-limited, however it is logged, and in time


def limited_within_minutes(s: Script) -> None:
    """Two minutes after a raise of the rate torque is at its limit; two minutes later the drive trips."""
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.15)
    part = s.span(FROM, FROM + 120)
    s.x["torque"][part] = np.linspace(60, 97, len(s.x["torque"][part]))
    s.put("torque", FROM + 120, FROM + 240, 97.0)
    for key in ("torque", "screw_speed"):
        s.put(key, FROM + 240, LOG_S, 0.0)


def test_torque_limited_is_said_before_it_trips() -> None:
    s = twin(LOG_S)
    limited_within_minutes(s)
    finding = told(s, Flooded())[0]

    assert "torque-limited" in finding.last.summary
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 180


def test_torque_limited_that_trips_at_once_is_said_with_the_trip() -> None:
    s = twin(LOG_S)
    part = s.span(FROM, FROM + 30)
    s.x["torque"][part] = np.linspace(60, 104, len(s.x["torque"][part]))
    s.put("torque", FROM + 30, FROM + 55, 104.0)
    for key in ("torque", "screw_speed"):
        s.put(key, FROM + 55, LOG_S, 0.0)
    finding = only(told(s, Flooded()))

    assert "then the screw stopped" in words(finding) or "torque-limited" in words(finding)
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 100


def test_a_tramp_spike_that_trips_the_drive_is_no_flooding() -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, FROM + 2, 130.0)
    for key in ("torque", "screw_speed"):
        s.put(key, FROM + 2, LOG_S, 0.0)

    assert told(s, Flooded()) == []


@pytest.mark.parametrize("role", ["motor_current", "drive_power"])
def test_torque_limited_is_seen_from_current_and_from_power(role: str) -> None:
    s = twin(LOG_S)
    at_the_torque_limit(s)
    share = s.x["torque"] / 100
    s.x["motor_current"] = 100 * np.sqrt(0.09 + 0.91 * share**2)
    s.x["drive_power"] = 75 * share * s.x["screw_speed"] / 600
    data = TWIN.model_dump()
    data["sensor"] = [{**one, "role": role} if one["role"] == "torque" else one for one in data["sensor"]]
    data["drive"] = {**data["drive"], "rated_current_a": 100.0}
    line = type(TWIN).model_validate({**data, "version": role})

    assert "torque-limited" in words(told(s, Flooded(), line=line)[0])


# -- intake


def rate_raised_and_torque_stands_still(s: Script) -> None:
    """Two hours into the run the rate goes up by 12 %: torque and pressure stay where they were."""
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.12)


def test_a_raise_that_saturates_is_flooding_at_the_intake() -> None:
    s = twin(LOG_S)
    rate_raised_and_torque_stands_still(s)

    assert "rate over speed was raised came first" in words(told(s, Flooded())[0])


def test_a_raise_that_is_not_taken_is_told_with_what_was_raised_and_what_did_not_follow() -> None:
    s = twin(LOG_S)
    rate_raised_and_not_taken(s)
    shown = {one.what: one.value or 0 for one in told(s, Flooded())[0].last.evidence}
    assert shown["rate over speed against before"] == pytest.approx(8, abs=1)
    assert -10 <= shown["torque against before"] <= -5


def test_soon_after_a_start_torque_slides_and_a_raise_proves_nothing() -> None:
    """The log begins with the line at rest: it was started within the hour."""
    s = twin(LOG_S)
    rate_raised_and_torque_stands_still(s)
    for key in ("torque", "screw_speed"):
        s.put(key, 0, 300, 0.0)

    assert told(s, Flooded()) == []


def hot_throat(s: Script) -> None:
    part = s.span(FROM - 600, LOG_S)
    s.x["throat_temperature"] = np.full(s.n, 35.0)
    s.x["throat_temperature"][part] = np.minimum(35 + 0.02 * np.arange(len(s.x["throat_temperature"][part])), 50)
    s.scale("torque", FROM, TO, 0.85)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.95)


def test_a_throat_that_grew_warm_first_is_named() -> None:
    s = twin(LOG_S)
    hot_throat(s)
    data = TWIN.model_dump()
    data["sensor"] = [*data["sensor"], {"tag": "throat", "role": "throat_temperature"}]
    line = type(TWIN).model_validate({**data, "version": "throat"})

    assert "throat warmer" in words(only(told(s, Flooded(), Starved(), line=line)))
    both = only(told(s, Flooded(), Starved()))
    assert both.last.condition == "starved", "without the throat nothing came first"


def test_one_of_the_two_speaks_and_names_the_other_with_evidence() -> None:
    s = twin(LOG_S)
    fluffy_lot(s)
    finding = only(told(s, Flooded(), Starved()))
    causes = {cause.text: cause for cause in finding.last.causes}

    assert finding.last.condition == "flooded"
    assert causes["flooded at the intake: the screws take less than is fed"].speaks_for
    assert causes["path blocked between feeder and throat"].speaks_against


def test_it_recovers_when_the_rate_is_cut_and_that_is_said() -> None:
    s = twin(LOG_S)
    s.scale("feeder_drive:F1", FROM, LOG_S, 1.2)
    s.scale("torque", FROM + 60, FROM + 300, 0.85)
    s.scale("melt_pressure:P1", FROM + 70, FROM + 300, 0.95)
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM + 300, LOG_S, 0.85)
    s.put("torque", FROM + 300, LOG_S, 53.0)
    finding = only(told(s, Flooded(), Starved()))

    assert finding.last.condition == "flooded" and finding.last.kind == "closed"
    intake = finding.last.causes[0]
    assert "it recovered when rate over speed was cut" in intake.speaks_for


def test_a_chute_that_clears_with_a_burst_is_told_as_it_began() -> None:
    s = twin(LOG_S)
    fluffy_lot(s)
    s.scale("torque", TO, TO + 60, 1.4)
    s.scale("melt_pressure:P1", TO + 10, TO + 60, 1.1)
    finding = only(told(s, Flooded(), Starved()))

    assert finding.last.condition == "flooded" and finding.last.kind == "closed"
    assert "over-fed" not in finding.last.summary and "the screws take less" in finding.last.summary
    torque = next(e for e in finding.last.evidence if e.what == "net torque")
    assert torque.value is not None and torque.expected is not None and torque.value < torque.expected


def test_a_path_that_stays_blocked_does_not_recover_when_the_rate_is_cut() -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, LOG_S, 20.0)
    s.scale("melt_pressure:P1", FROM + 10, LOG_S, 0.6)
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM + 300, LOG_S, 0.85)
    found = told(s, Flooded(), Starved())

    assert found[0].last.condition == "starved"
    assert all("recovered when" not in text for text in found[0].last.causes[0].speaks_against)


def test_a_refill_just_before_speaks_for_flushing() -> None:
    s = twin(LOG_S)
    flushing(s)
    s.put("feeder_refill:F1", FROM - 20, FROM, 1.0)
    causes = told(s, Flooded())[0].last.causes

    assert causes[0].text.startswith("powder flushing") and causes[0].speaks_for


@pytest.mark.parametrize(("refilled", "leaps"), [(True, True), (False, True), (True, False)])
def test_a_load_that_leaps_to_its_limit_after_a_refill_may_be_flushing_powder(refilled: bool, leaps: bool) -> None:
    """One that always ran there did not come with the refill."""
    s = twin(LOG_S)
    s.put("torque", FROM if leaps else 0, LOG_S, 99.0)
    if refilled:
        s.put("feeder_refill:F1", FROM - 20, FROM, 1.0)

    causes = next(one for one in told(s, Flooded()) if "torque-limited" in one.last.summary).last.cause_texts

    assert causes[0].startswith("powder flushing") is (refilled and leaps)
