"""Pressure near its limit or on its way there; spikes, flattened steps and slow blinding are not."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.block import GOOD
from monitor.conditions.cold_start import ColdStart
from monitor.conditions.toward_over_pressure import TowardOverPressure
from monitor.core import Monitor
from monitor.records import Finding, findings
from tests.monitor.conditions.told import R1, TWIN, Story, block_of, only, seconds, told, twin, words
from tests.monitor.scripted_world import Script

LOG_S, FROM = 1500, 600
P = "melt_pressure:P1"
"""The machine's limit is 200 bar: 120 is 60 %, 180 is 90 %."""


def ramp(bar_s: float, to_bar: float) -> Story:
    def story(s: Script) -> None:
        rise = 60 + bar_s * np.arange(LOG_S - FROM)
        s.x[P][s.span(FROM, LOG_S)] = np.minimum(rise, to_bar)

    story.__name__ = f"{bar_s:g}_bar_s_to_{to_bar:g}"
    return story


def spike(s: Script) -> None:
    s.put(P, FROM, FROM + 1, 195)


def half_the_screen_shut(s: Script) -> None:
    """A bolt changer half way: a step of two fifths within two seconds, then flat."""
    s.put(P, 0, LOG_S, 100)
    s.put(P, FROM, LOG_S, 140)


def blinding(s: Script) -> None:
    """From 120 to 165 bar in a quarter of an hour."""
    s.x[P][s.span(FROM, LOG_S)] = np.linspace(120, 165, LOG_S - FROM)


def high_and_noisy(s: Script) -> None:
    s.put(P, 0, LOG_S, 150)
    s.x[P] += s.noise(2.0)


def test_a_blocked_die_is_said_before_the_limit() -> None:
    s = twin(LOG_S)
    ramp(10, 190)(s)
    finding = only(told(s, TowardOverPressure()))

    assert finding.last.priority == 1 and finding.last.confidence == "high"
    at_limit = FROM + 14
    assert FROM + 6 < (seconds(finding.first_decided_at) or 0) < at_limit


def test_a_slower_rise_tells_the_time_that_is_left() -> None:
    s = twin(LOG_S)
    ramp(3, 175)(s)

    monitor_said = told(s, TowardOverPressure())
    assert "rising" in words(only(monitor_said))


@pytest.mark.parametrize("level", [181, 190, 230])
def test_at_nine_tenths_of_the_limit_two_seconds_are_enough(level: float) -> None:
    s = twin(LOG_S)
    s.put(P, FROM, FROM + 100, level)

    finding = only(told(s, TowardOverPressure()))
    assert (seconds(finding.first_decided_at) or 0) - FROM <= 3
    assert f"{level / 2:.0f} % of the machine's limit of 200" in finding.last.summary


@pytest.mark.parametrize("story", [spike, half_the_screen_shut, blinding, high_and_noisy, ramp(5, 110)])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, TowardOverPressure()) == []


def test_without_the_machines_limit_the_recipes_stands_for_it_and_that_is_said() -> None:
    """Outer limit 80 and a quarter: 100 bar."""
    s = twin(LOG_S)
    s.put(P, FROM, FROM + 100, 95)
    line = TWIN.model_copy(update={"limits": type(TWIN.limits)(), "version": "no limit"})

    finding = only(told(s, TowardOverPressure(), line=line))
    assert "a limit taken from the recipe of 100" in finding.last.summary and finding.last.confidence == "medium"
    assert told(s, TowardOverPressure()) == []
    no_window = type(R1)(**{**R1.model_dump(), "window": []})
    assert told(s, TowardOverPressure(), line=line, recipe=no_window) == []


def test_it_needs_no_running_screw() -> None:
    """A frozen die at the start is where it matters most."""
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.put(key, 0, FROM, 0)
    ramp(20, 195)(s)

    assert only(told(s, TowardOverPressure())).last.caution


def test_a_start_with_cold_zones_says_what_raises_the_pressure() -> None:
    """Nothing is blocked: what stands in the die has not melted."""
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.put(key, 0, FROM, 0)
    s.put("zone_temperature:DIE", 0, LOG_S, 120)
    ramp(10, 195)(s)
    found = {f.last.condition: f.last for f in told(s, TowardOverPressure(), ColdStart())}

    assert found["toward_over_pressure"].causes[0].text == "melt too cold"
    s = twin(LOG_S)
    ramp(10, 195)(s)
    assert only(told(s, TowardOverPressure(), ColdStart())).last.causes[0].text == "die or screen blocked"


@pytest.mark.parametrize(("apart_s", "calls"), [(240, 2), (900, 5)])
def test_what_leaps_up_again_and_again_is_one_call_that_stays(apart_s: int, calls: int) -> None:
    """Filler in bursts: each leap is real, and twenty calls an hour are none."""
    s = twin(FROM + 5 * apart_s + 1200)
    for leap in range(5):
        s.put(P, FROM + leap * apart_s, FROM + leap * apart_s + 20, 185 + leap)
    found = told(s, TowardOverPressure())

    assert len(found) == calls and all(finding.last.priority == 1 for finding in found)
    last_leap = FROM + 4 * apart_s
    assert last_leap <= (seconds(found[-1].last.until) or 0) <= last_leap + 30
    assert "189 bar" in found[-1].last.summary


@pytest.mark.parametrize(
    ("every", "then", "trips", "said_s"),
    [
        (5, 62.0, False, None),
        (5, 195.0, False, 6),
        (5, 20.0, True, 6),
        (10, 62.0, False, None),
        (30, 195.0, False, 17),
        (1, 62.0, True, None),
    ],
    ids=["a slip", "a second one", "the screw trips on it", "ten seconds", "written on change", "a log of each second"],
)
def test_a_reading_held_over_cells_of_a_second_is_one_reading(
    every: int, then: float, trips: bool, said_s: int | None
) -> None:
    """Rows every so many seconds, judged in cells of one: a slip stands in all of them. said_s: after it came."""
    s = twin(LOG_S)
    s.put(P, 0, LOG_S, 62.0)
    s.put(P, FROM, FROM + every, 195.0)
    s.put(P, FROM + every, LOG_S, then)
    if trips:
        for key in ("screw_speed", "torque"):
            s.put(key, FROM + every, LOG_S, 0.0)
    found = _held(s, every)
    assert len(found) == (said_s is not None)
    if said_s is not None:
        assert (seconds(found[0].first_decided_at) or 0) <= FROM + said_s
        assert seconds(found[0].last.since) == FROM and "195 bar" in found[0].last.summary


def _held(s: Script, every: int) -> list[Finding]:
    """What is said where the pressure came every so many seconds and is held meanwhile."""
    block = block_of(s, s.line)
    row = s.line.channels.index(P)
    block.status[row] = np.where(np.arange(s.n) % every == 0, block.status[row], GOOD)
    monitor = Monitor(s.line, [R1], conditions=(TowardOverPressure(),))
    state, step = monitor.advance(monitor.start(), block)
    return findings([*step.records, *monitor.finish(state)])
