"""How long there is: also of a rise that began a moment ago, and past a limit that was forecast and met."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dashboards.ahead import Coming, Room, trends_ahead
from dashboards.clock import HOUR, SECOND, PlantClock
from dashboards.memory_data import MemoryData
from dashboards.pages import live_head
from dashboards.pages.live_shift import room_list
from dashboards.said_forecast import TO_LIMIT, forecast_now, worth_telling
from dashboards.trend_ahead import latest_trend, trend
from dashboards.upkeep_items import upkeep_items
from dashboards.verdict import verdict_of
from dashboards.views import LineNow
from monitor.records import Evidence, Finding
from tests.dashboards.lines import twin
from tests.dashboards.plant import END
from tests.dashboards.test_upkeep_parts import record

P1 = "melt_pressure:P1"
HOUR_S, CELL_S = 3600.0, 300.0
T = (np.arange(36) - 35) * CELL_S
"""Three hours of means of five minutes, the newest last."""
BAR_AN_HOUR = 50.0


def rising(last_s: float, seed: int = 3) -> np.ndarray:
    """83 bar, and 50 bar an hour up in the last seconds."""
    noise = np.random.default_rng(seed).normal(0, 0.3, len(T))
    return 83 + BAR_AN_HOUR / HOUR_S * np.maximum(0.0, T + last_s) + noise


@pytest.mark.parametrize("last_s", [45 * 60.0, HOUR_S, 1.5 * HOUR_S])
def test_a_rise_that_began_within_the_hours_is_followed(last_s: float) -> None:
    y = rising(last_s)
    found = latest_trend(T, y, HOUR_S)
    assert found is not None
    assert found.slope * HOUR_S == pytest.approx(BAR_AN_HOUR, rel=0.1)
    ((said),) = trends_ahead({P1: found}, {}, {P1: 170.0}, {P1: float(y[-1])})
    assert said.in_s == pytest.approx((170 - y[-1]) / BAR_AN_HOUR * HOUR_S, rel=0.1)


def test_the_line_of_all_is_kept_where_nothing_began() -> None:
    """A steady climb; one that has ended; a wave that comes back to where it has been; too few points."""
    climb = 60 + T / HOUR_S + np.random.default_rng(1).normal(0, 0.2, 36)
    ended = 60 + 20 * np.clip((T + 2.5 * HOUR_S) / HOUR_S, 0, 1) + np.random.default_rng(2).normal(0, 0.2, 36)
    wave = 60 + 3 * np.sin(2 * np.pi * T / (2 * HOUR_S))
    for y in (climb, ended, wave):
        assert latest_trend(T, y, HOUR_S) == trend(T, y)
    assert latest_trend(T[:9], climb[:9], HOUR_S) == trend(T[:9], climb[:9])
    assert latest_trend(T[:0], climb[:0], HOUR_S) is None


def now_with(data: MemoryData, forecast_h: float, said_ago: int) -> LineNow:
    """Line 3 with a finding about P1 that told so many hours to its limit, so long ago."""
    told = (Evidence(TO_LIMIT, forecast_h, "h"),)
    said = replace(record("screen_blinding", "pressure", P1, evidence=told), decided_at=END - said_ago)
    return replace(data.line_now("Line 3"), findings=(Finding(END - said_ago, said),))


def time_left(now: LineNow, coming: list[Coming], clock: PlantClock) -> str:
    return live_head.time_left(now, coming, clock).text


def highest(now: LineNow) -> float:
    """The upper edge of the window of P1, bar."""
    high = now.windows[P1].high
    assert high is not None
    return high


def test_past_a_limit_that_was_met_as_forecast_the_next_one_counts(data: MemoryData) -> None:
    clock, met, ahead = data.clock("Line 3"), now_with(data, 0.5, HOUR), [Coming(P1, "limit", 1800.0, 170.0)]
    met.readings[P1] = highest(met) + 1
    assert "in 30 min" in time_left(met, ahead, clock) and "170" in time_left(met, ahead, clock)
    assert "should have met its limit" in time_left(met, [Coming("torque", "limit", 1800.0, 95.0)], clock)
    assert time_left(now_with(data, 1.25, HOUR), ahead, clock).startswith("Time left: P1 melt pressure")


def test_a_forecast_that_cannot_come_true_any_more_is_not_told(data: MemoryData) -> None:
    """The line stands; the finding is back inside; its time has run out and the pressure is where it should be."""
    clock, met = data.clock("Line 3"), now_with(data, 0.5, HOUR)
    nothing = "runs out or meets a limit within a day"
    assert met.readings[P1] <= highest(met) and nothing in time_left(met, [], clock)
    coming = now_with(data, 1.25, HOUR)
    assert time_left(coming, [], clock).startswith("Time left: P1 melt pressure")
    assert nothing in time_left(replace(coming, phase="stopped"), [], clock)
    back = {coming.findings[0].last.finding: END}
    assert nothing in time_left(replace(coming, back=back), [], clock)


def test_where_a_limit_is_met_already_nothing_else_meets_one(data: MemoryData) -> None:
    """Inside with a look to take, outside its window, at its limit while windows are not judged."""
    clock, now = data.clock("Line 3"), replace(data.line_now("Line 3"), findings=[])
    inside = replace(now, readings={key: window.target for key, window in now.windows.items() if window.target})
    assert time_left(inside, [], clock).startswith("Nothing runs out")
    out = replace(inside, readings={**inside.readings, P1: highest(now) + 1})
    assert time_left(out, [], clock).startswith("Nothing else runs out")
    finding = Finding(END, replace(record("torque_high", "drive", "torque"), priority=1))
    limited = replace(out, phase="settling", findings=[finding])
    assert time_left(limited, [], clock).startswith("Nothing else runs out")
    assert time_left(replace(limited, back={finding.last.finding: END}), [], clock).startswith("Nothing runs out")


def test_what_is_to_be_acted_on_at_once_does_not_hide_that_windows_are_not_judged(data: MemoryData) -> None:
    clock = data.clock("Line 3")
    finding = Finding(END, replace(record("torque_high", "drive", "torque"), priority=1))
    for phase, said in (("settling", "Readings are not held against their windows now: settling."), ("steady", "")):
        now = replace(data.line_now("Line 3"), phase=phase, findings=[finding])
        verdict = verdict_of(now, clock)
        assert verdict.word == "act" and live_head.unjudged_words(now, verdict) == said


@pytest.mark.parametrize(
    ("phase", "forecast_h", "left"), [("steady", 0.5, False), ("steady", 1.25, True), ("stopped", 1.25, False)]
)
def test_upkeep_tells_the_same(phase: str, forecast_h: float, left: bool) -> None:
    held = twin()
    told = replace(now_with(MemoryData([held], clock=lambda: END), forecast_h, HOUR).findings[0])
    plant = replace(held, findings=[told], phases=[(held.block.t0, END - HOUR, "steady"), (END - HOUR, END, phase)])
    items = upkeep_items(MemoryData([plant], clock=lambda: END), "Line 3")
    (screen,) = (item for item in items if item.kind == "screen" and told in item.findings)
    assert (screen.stop is not None and screen.stop[0] == pytest.approx(900)) == left


def test_a_reading_of_unknown_window_keeps_a_forecast_that_ran_out() -> None:
    told = (Evidence(TO_LIMIT, 0.5, "h"),)
    finding = Finding(END, replace(record("screen_blinding", "pressure", P1, evidence=told), decided_at=END - HOUR))
    known = {"running": True, "back": {}, "reading": 80.0}
    assert forecast_now(finding, END, high=None, **known) == (0.0, 0.0, None)
    assert forecast_now(finding, END, high=79.0, **known) == (0.0, 0.0, None)
    assert forecast_now(finding, END, high=81.0, **known) is None


def test_a_time_left_that_has_run_out_is_no_measured_fact_any_more() -> None:
    left, rate = Evidence("time left at this rate", 97.4, "s"), Evidence("rising by", 0.2, "bar/s")
    assert worth_telling(left, END, END + 60 * SECOND) and not worth_telling(left, END, END + 98 * SECOND)
    assert not worth_telling(Evidence(TO_LIMIT, 0.0, "h"), END, END)
    assert worth_telling(Evidence(TO_LIMIT, 2.0, "h"), END, END + HOUR)
    assert worth_telling(rate, END, END + 9 * HOUR) and worth_telling(Evidence("stood for", 5.0, "s"), END, END + HOUR)


def test_what_is_over_its_limit_is_not_at_it(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    text = str(room_list(now, [Room(P1, 134.0, 104.0, 0.5), Room("torque", 95.0, 95.0, 1.0)]))
    assert text.count("over its limit") == text.count("at its limit") == 1
