"""Feeding into a standing screw; proper stops and calibration on a standing line are not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeders_screw_stopped import FeedersScrewStopped
from tests.monitor.conditions.told import R1, TWIN, Story, changed, only, seconds, told, twin, without
from tests.monitor.scripted_world import FEEDERS, Script

LOG_S, TRIP = 1500, 900


def screw_stops(s: Script, at_s: float = TRIP) -> None:
    s.put("screw_speed", at_s, LOG_S, 0.0)
    s.put("torque", at_s, LOG_S, 0.0)


def feeders_stop(s: Script, at_s: float) -> None:
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", at_s, LOG_S, 0.0)
        s.put(f"feeder_drive:{feeder}", at_s, LOG_S, 0.0)


def interlock_works(s: Script) -> None:
    screw_stops(s)
    feeders_stop(s, TRIP + 2)


def feed_first(s: Script) -> None:
    feeders_stop(s, TRIP - 60)
    screw_stops(s)


def rate_dies_away(s: Script) -> None:
    """The drives stand at once; the rate shown is filtered over half a minute."""
    screw_stops(s)
    for feeder, rate in FEEDERS.items():
        part = s.span(TRIP, LOG_S)
        s.put(f"feeder_drive:{feeder}", TRIP, LOG_S, 0.0)
        s.x[f"feeder_rate:{feeder}"][part] = rate * np.exp(-np.arange(LOG_S - TRIP) / 15)


def rate_dies_away_unseen(s: Script) -> None:
    """As before, with no drive in the log."""
    rate_dies_away(s)


def catch_sample(s: Script) -> None:
    """A feeder is calibrated on a line that has not run yet."""
    screw_stops(s, 0)
    feeders_stop(s, 0)
    s.put("feeder_rate:F1", 300, 600, 240)
    s.put("feeder_drive:F1", 300, 600, 45)


def speed_not_read(s: Script) -> None:
    s.put("screw_speed", TRIP, LOG_S, float("nan"))


def melt_runs_out(s: Script) -> None:
    s.x["melt_pressure:P1"][s.span(TRIP, LOG_S)] *= np.exp(-np.arange(LOG_S - TRIP) / 10)


def test_speaks_within_seconds() -> None:
    s = twin(LOG_S)
    screw_stops(s)
    melt_runs_out(s)

    finding = only(told(s, FeedersScrewStopped()))

    assert finding.last.priority == 1 and "kg/h into a screw that stands" in finding.last.summary
    assert TRIP + 5 <= (seconds(finding.first_decided_at) or 0) <= TRIP + 10


@pytest.mark.parametrize(("feed", "side", "said"), [("flooded", False, 0), ("flooded", True, 1), ("starved", False, 1)])
def test_a_blender_that_fills_the_hopper_of_a_flood_fed_screw_feeds_no_standing_one(
    feed: str, side: bool, said: int
) -> None:
    s = twin(LOG_S)
    screw_stops(s)
    melt_runs_out(s)
    line = changed(TWIN, line={"feed": feed})
    feeders = tuple(feeder.model_copy(update={"side": side}) for feeder in line.feeder)
    line = line.model_copy(update={"feeder": feeders, "version": f"{feed} {side}"})
    recipe = changed(R1, recipe={"feed": feed})

    assert len(told(s, FeedersScrewStopped(), line=line, recipe=recipe)) == said


@pytest.mark.parametrize(("for_s", "said"), [(8, False), (40, True)])
def test_a_speed_of_zero_with_the_pressure_as_it_was_is_believed_after_a_while(for_s: int, said: bool) -> None:
    """A drive controller that starts anew writes zeros for seconds; a port may be plugged, and the screw stand."""
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, TRIP, TRIP + for_s, 0.0)

    assert [seconds(one.first_decided_at) for one in told(s, FeedersScrewStopped())] == ([TRIP + 20] if said else [])


def test_one_feeder_that_runs_on_is_said_within_half_a_minute() -> None:
    """F2: a fifth of the rate."""
    s = twin(LOG_S)
    screw_stops(s)
    feeders_stop(s, TRIP)
    s.put("feeder_rate:F2", TRIP, LOG_S, 57.0)
    s.put("feeder_drive:F2", TRIP, LOG_S, 45.0)

    finding = only(told(s, FeedersScrewStopped()))
    assert TRIP + 30 <= (seconds(finding.first_decided_at) or 0) <= TRIP + 40


@pytest.mark.parametrize("story", [interlock_works, feed_first, rate_dies_away, catch_sample, speed_not_read])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, FeedersScrewStopped()) == []


def test_a_filtered_rate_dies_away_without_a_drive_in_the_log_too() -> None:
    s = twin(LOG_S)
    rate_dies_away_unseen(s)

    assert told(s, FeedersScrewStopped(), line=without(TWIN, "feeder_drive")) == []


def test_it_ends_when_the_feeders_stop_or_the_screw_turns() -> None:
    s = twin(LOG_S)
    screw_stops(s)
    feeders_stop(s, TRIP + 120)

    until = seconds(only(told(s, FeedersScrewStopped())).last.until) or 0
    assert TRIP + 118 <= until <= TRIP + 125


def test_the_tails_of_rates_that_were_switched_off_half_a_minute_before_are_no_feed() -> None:
    """No drive is logged; the large feeder reads nothing when the screw stops, the small ones a tenth of all yet."""
    s = twin(LOG_S)
    screw_stops(s)
    melt_runs_out(s)
    clock = np.arange(LOG_S - TRIP + 30)
    for feeder, tail in (("F1", 0.0), ("F2", 57.0), ("F3", 3.0)):
        s.x[f"feeder_rate:{feeder}"][s.span(TRIP - 30, LOG_S)] = tail * np.clip(1 - clock / 75, 0, 1)

    assert told(s, FeedersScrewStopped(), line=without(TWIN, "feeder_drive")) == []


@pytest.mark.parametrize(("held", "said"), [(False, 1), (True, 0)])
def test_rates_that_do_not_fall_for_ten_seconds_are_a_feed_that_goes_on(held: bool, said: int) -> None:
    """Then the feeders stop too. No drive is logged; rates that are only held tell nothing."""
    s = twin(LOG_S)
    screw_stops(s)
    melt_runs_out(s)
    feeders_stop(s, TRIP + 14)
    for feeder, rate in FEEDERS.items():
        s.put(f"feeder_rate:{feeder}", TRIP - 1, TRIP + 14, rate)
        if not held:
            s.x[f"feeder_rate:{feeder}"][s.span(TRIP - 1, TRIP + 14)] += s.noise(0.01 * rate)[
                s.span(TRIP - 1, TRIP + 14)
            ]
    found = told(s, FeedersScrewStopped(), line=without(TWIN, "feeder_drive"))

    assert len(found) == said
    assert all(TRIP + 10 <= (seconds(one.first_decided_at) or 0) <= TRIP + 13 for one in found)
