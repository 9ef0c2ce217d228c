"""Drive turns, screws do not: faster than any feed loss, and told from trips, dead signals and blocked paths."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.coupling_gone import CouplingGone
from tests.monitor.conditions.told import SINGLE, TWIN, Story, only, seconds, single, told, twin, without, words
from tests.monitor.scripted_world import Script, scripted_line

LOG_S, FROM, TO = 1200, 600, 900


def gone(s: Script) -> None:
    """Torque to no-load within a second; pressure decays over a minute; speed and feeds stay."""
    s.put("torque", FROM, TO, 8.5)
    decay = np.exp(-np.arange(TO - FROM) * 1.0 / 40)
    part = s.span(FROM, TO)
    steps = np.linspace(0, len(decay) - 1, len(s.x["torque"][part])).astype(int)
    s.x["melt_pressure:P1"][part] = np.maximum(60 * decay[steps], 2)


def falls_over(seconds_of_fall: float) -> Story:
    def story(s: Script) -> None:
        gone(s)
        n = int(seconds_of_fall / s.cadence)
        s.x["torque"][s.span(FROM, FROM + seconds_of_fall)] = np.linspace(60, 8.5, n + 2)[1:-1]

    return story


def tripped(s: Script) -> None:
    """The drive trips: torque at once, speed within seconds, set-point still up."""
    s.put("torque", FROM, LOG_S, 2.0)
    part = s.span(FROM, LOG_S)
    s.x["screw_speed"][part] *= np.exp(-np.arange(len(s.x["screw_speed"][part])) / 2.0)
    s.put("melt_pressure:P1", FROM + 5, LOG_S, 10.0)


def signal_dead(s: Script) -> None:
    """Torque reads a constant 8.5 %: the pressure does not know of it."""
    s.put("torque", FROM, TO, 8.5)


def zeros(s: Script) -> None:
    s.put("torque", FROM, TO, 0.0)


def short(s: Script) -> None:
    s.put("torque", FROM, FROM + 2, 8.5)


def feed_stopped(s: Script) -> None:
    """The feeds are stopped; torque falls in steps while the screws run empty."""
    for feeder in ("F1", "F2", "F3"):
        s.put(f"feeder_rate:{feeder}", FROM, TO, 0.0)
    s.put("torque", FROM + 3, TO, 8.5)


def feeds_switched_off(s: Script) -> None:
    """Before a stop: the screws are empty at once, the feeders' filtered rates fall with a time constant of 20 s."""
    gone(s)
    for feeder in ("F1", "F2", "F3"):
        rate = s.x[f"feeder_rate:{feeder}"][s.span(FROM - 5, TO)]
        rate *= np.exp(-np.arange(len(rate)) * s.cadence / 20)


def idle_screw(s: Script) -> None:
    """It was hardly loaded before."""
    s.x["torque"][:] = 12 + s.noise(0.2)
    s.put("torque", FROM, TO, 8.1)


def test_speaks_within_seconds_and_becomes_urgent_when_pressure_has_followed() -> None:
    s = twin(LOG_S)
    gone(s)
    finding = only(told(s, CouplingGone()))

    assert FROM <= (seconds(finding.first_decided_at) or 0) <= FROM + 5
    assert finding.last.priority == 1 and finding.last.caution and finding.last.confidence == "high"
    assert finding.last.causes[0].text.startswith("screw shaft, coupling")


@pytest.mark.parametrize("cadence_s", [0.5, 2.0, 5.0, 10.0])
def test_at_other_cadences(cadence_s: float) -> None:
    line = scripted_line(cadence_s=cadence_s)
    s = Script(line, LOG_S, 4)
    gone(s)
    finding = only(told(s, CouplingGone(), line=line))

    assert (seconds(finding.first_decided_at) or 0) <= FROM + max(5, 3 * cadence_s)
    if cadence_s > 2:
        assert finding.last.confidence == "low"
        assert "readings are too far apart to tell" in finding.last.causes[1].speaks_for


def test_one_reading_in_between_is_still_at_once() -> None:
    s = twin(LOG_S)
    gone(s)
    s.x["torque"][FROM] = 30.0

    assert told(s, CouplingGone())


@pytest.mark.parametrize(("cadence_s", "between", "said"), [(5.0, 1, True), (5.0, 2, False), (10.0, 1, False)])
def test_seldom_readings_may_have_one_in_between_where_the_feeds_go_on(
    cadence_s: float, between: int, said: bool
) -> None:
    """A damped signal, or the mean of the seconds: 60, 26, 8.5 %. Nothing but a path that blocks at once is as fast."""
    line = scripted_line(cadence_s=cadence_s)
    s = Script(line, LOG_S, 4)
    gone(s)
    first = s.span(FROM, FROM + between * cadence_s)
    s.x["torque"][first] = np.linspace(60, 8.5, between + 2)[1:-1]
    found = told(s, CouplingGone(), line=line)
    assert len(found) == said
    if said:
        assert found[0].last.priority == 1 and found[0].last.confidence == "low"
        assert "coupling" in found[0].last.causes[0].text and "path blocked" in found[0].last.causes[1].text
    unfed = without(line, "feeder_rate", "line_rate")
    assert told(s, CouplingGone(unseen_s=10), line=unfed) == []


@pytest.mark.parametrize("cadence_s", [1.0, 2.0, 5.0, 10.0])
def test_feeds_switched_off_empty_the_screws_however_slowly_filtered_rates_fall(cadence_s: float) -> None:
    line = scripted_line(cadence_s=cadence_s)
    s = Script(line, LOG_S, 4)
    feeds_switched_off(s)
    assert told(s, CouplingGone(), line=line) == []


def test_one_feeder_in_a_refill_or_a_noisy_rate_does_not_hide_it() -> None:
    s = twin(LOG_S)
    gone(s)
    s.x["feeder_rate:F1"] *= 1 + s.noise(0.05)
    s.put("feeder_rate:F2", FROM - 10, FROM + 10, 0.95 * float(s.x["feeder_rate:F2"][FROM - 20]))
    assert told(s, CouplingGone())


@pytest.mark.parametrize("fall", [3, 5, 10])
def test_a_path_that_blocks_takes_longer(fall: int) -> None:
    s = twin(LOG_S)
    falls_over(fall)(s)

    assert told(s, CouplingGone()) == []


@pytest.mark.parametrize("story", [tripped, zeros, short, feed_stopped, idle_screw])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, CouplingGone()) == []


def test_a_dead_signal_is_taken_back_when_pressure_has_not_followed_within_minutes() -> None:
    s = twin(LOG_S)
    s.put("torque", FROM, LOG_S, 8.5)
    finding = only(told(s, CouplingGone()))

    assert finding.last.priority == 2 and finding.last.kind == "closed"
    assert FROM + 290 <= (seconds(finding.last.until) or 0) <= FROM + 315
    assert finding.last.causes[2].speaks_for == ("pressure has not fallen so far",)


def test_melt_that_drains_slowly_from_standing_screws_does_not_take_it_back() -> None:
    """The die is fine and the melt stiff: a twentieth of its pressure in two minutes, a third in ten."""
    s = twin(LOG_S)
    s.put("torque", FROM, LOG_S, 8.5)
    part = s.span(FROM, LOG_S)
    s.x["melt_pressure:P1"][part] *= np.exp(-np.maximum(np.arange(len(s.x["melt_pressure:P1"][part])) - 60, 0) / 1200)
    finding = only(told(s, CouplingGone()))
    assert finding.last.kind == "cut off" and finding.last.priority == 1
    assert "torque signal dead" in words(finding)


def test_from_motor_current() -> None:
    s = twin(LOG_S)
    gone(s)
    s.x["motor_current"] = 100 * np.sqrt(0.1 + 0.9 * (s.x["torque"] / 100) ** 2)
    data = TWIN.model_dump()
    data["sensor"] = [{**one, "role": "motor_current"} if one["role"] == "torque" else one for one in data["sensor"]]
    raw = type(TWIN).model_validate({**data, "version": "raw"})
    data["drive"] = {**data["drive"], "rated_current_a": 100.0}
    rated = type(TWIN).model_validate({**data, "version": "rated"})

    assert told(s, CouplingGone(), line=rated) and told(s, CouplingGone(), line=raw)


def test_on_a_flood_fed_screw_and_without_pressure() -> None:
    s = single(LOG_S)
    gone(s)
    s.put("line_rate", FROM + 20, TO, 0.0)
    assert only(told(s, CouplingGone(), line=SINGLE)).last.priority == 1
    assert only(told(s, CouplingGone(), line=without(SINGLE, "melt_pressure"))).last.priority == 1


def test_screws_that_run_empty_are_not_a_lost_coupling_however_seldom_they_are_read() -> None:
    """Readings every 10 s of a torque that dies away with 8 s: 80, 28, 13, 9 % and not 80, 9, 9, 9 %."""
    line = scripted_line(cadence_s=10.0)
    s = Script(line, LOG_S, 4)
    part = s.span(FROM, TO)
    at = np.arange(1, len(s.x["torque"][part]) + 1) * s.cadence
    s.x["torque"][part] = 8.5 + 51.5 * np.exp(-at / 8)
    s.x["melt_pressure:P1"][part] = 2 + 58 * np.exp(-at / 12)
    assert told(s, CouplingGone(), line=line) == []


@pytest.mark.parametrize(("for_s", "said"), [(80, False), (290, True)])
def test_without_a_rate_seldom_readings_tell_a_lost_coupling_from_running_empty_by_how_long_it_lasts(
    for_s: int, said: bool
) -> None:
    line = scripted_line(cadence_s=10.0)
    s = Script(line, LOG_S, 4)
    gone(s)
    s.put("screw_speed", FROM + for_s, LOG_S, 0.0)

    assert bool(told(s, CouplingGone(), line=without(line, "feeder_rate", "line_rate"))) is said
