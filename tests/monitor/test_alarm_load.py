"""Alarm performance figures per operator, against cases worked by hand and slow counts."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarm_load import (
    LIMITS,
    AlarmLoad,
    Call,
    Flood,
    alarm_load,
    calls_in_ten_minutes,
    calls_of,
    chattering,
    floods,
    stale,
)
from tests.monitor.test_alarms import Story

S = 1_000_000_000
MIN, HOUR, DAY = 60 * S, 3600 * S, 86400 * S
A, B = ("L", "c", "a"), ("L", "c", "b")


def in_seconds(found: list[Flood]) -> list[tuple[int, int | None, int]]:
    return [(f.start_ns // S, None if f.end_ns is None else f.end_ns // S, f.calls) for f in found]


def test_flood_of_the_worked_case() -> None:
    """Eleven calls at 0, 30, ..., 300 s and none later: a flood of 480 s, worked by hand over (t - 600, t]."""
    times = [at * S for at in range(0, 301, 30)]
    counts = {at // S: n for at, n in calls_in_ten_minutes(times)}

    assert (counts[300], counts[600], counts[630], counts[750], counts[780]) == (11, 10, 9, 5, 4)
    assert in_seconds(floods(times)) == [(300, 780, 11)]


def test_ten_calls_are_no_flood_and_an_eleventh_too_late_neither() -> None:
    ten = [at * S for at in range(0, 300, 30)]

    assert floods(ten) == []
    assert floods([*ten, 600 * S]) == [], "the first has left the window at that moment"
    assert len(floods([*ten, 600 * S - 1])) == 1


def count(times: list[int], now: int) -> int:
    return sum(now - 600 < at <= now for at in times)


@settings(deadline=None, max_examples=150)
@given(st.lists(st.integers(0, 2500), max_size=60))
def test_floods_as_counted_second_by_second(times: list[int]) -> None:
    found, start = [], None
    for now in range(3200):
        n = count(times, now)
        if start is None and n > 10:
            start = now
        elif start is not None and n < 5:
            found.append((start, now))
            start = None

    got = floods([at * S for at in times])

    assert [(a, b) for a, b, _ in in_seconds(got)] == found
    for flood in got:
        assert flood.calls == sum(flood.start_ns - 600 * S < at * S <= (flood.end_ns or 0) for at in times)


@settings(deadline=None, max_examples=100)
@given(st.lists(st.integers(0, 2000), max_size=30))
def test_counts_over_ten_minutes(times: list[int]) -> None:
    for moment, n in calls_in_ten_minutes([at * S for at in times]):
        assert n == count(times, moment // S)


def every(step_ns: int, start: int, end: int, alarm: tuple[str, str, str] = A, priority: int = 2) -> list[Call]:
    return [Call(at, alarm, priority, at + MIN) for at in range(start, end, step_ns)]


@pytest.mark.parametrize(("per_ten_minutes", "per_hour", "per_day"), [(1, 6, 144), (2, 12, 288)])
def test_the_same_rate_by_the_ten_minutes_the_hour_and_the_day(
    per_ten_minutes: int, per_hour: int, per_day: int
) -> None:
    calls = every(600 * S // per_ten_minutes, 0, DAY)
    load = alarm_load(calls, 0, DAY)

    assert load.calls == per_day and load.calls_per_ten_minutes == per_ten_minutes
    assert alarm_load(calls, 0, HOUR).calls == per_hour
    assert load.most_in_ten_minutes == per_ten_minutes
    assert load.floods == () and load.flood_pct == load.busy_hours_pct == 0


def test_busy_hours_are_counted_by_the_clock() -> None:
    """31 calls in the second of ten hours; half an hour later the same calls fall into two hours."""
    calls = every(116 * S, HOUR, 2 * HOUR)[:31]

    assert len(calls) == 31
    assert alarm_load(calls, 0, 10 * HOUR).busy_hours_pct == 10.0
    assert alarm_load(calls, 30 * MIN, 10 * HOUR + 30 * MIN).busy_hours_pct == 0.0


def test_more_than_ten_in_a_ten_minute_period() -> None:
    calls = every(MIN - S, 0, 10 * MIN)

    assert len(calls) == 11
    assert alarm_load(calls, 0, HOUR).busy_ten_minutes_pct == pytest.approx(100 / 6)


def test_share_of_time_in_flood() -> None:
    calls = [Call(at * S, A, 2, at * S + S) for at in range(0, 301, 30)]
    load = alarm_load(calls, 0, 4800 * S)

    assert load.flood_pct == pytest.approx(10.0)
    assert alarm_load(calls, 0, 540 * S).floods == (Flood(300 * S, None, 11),)
    assert alarm_load(calls, 0, 540 * S).flood_pct == pytest.approx(100 * 240 / 540)


def test_chattering_is_three_calls_within_a_minute() -> None:
    quick = [Call(at * S, A, 2, at * S + S) for at in (100, 130, 159)]
    slow = [Call(at * S, B, 2, at * S + S) for at in (100, 130, 160)]

    assert chattering(quick + slow) == (A,)
    assert chattering([*quick[:2], *slow[:2]]) == (), "two alarms do not chatter for each other"


def test_stale_is_more_than_a_day_without_a_break() -> None:
    calls = [
        Call(0, A, 2, DAY),
        Call(0, B, 2, DAY + 1),
        Call(DAY, ("L", "c", "c"), 2),
    ]

    assert stale(calls, 2 * DAY) == (B,)
    assert stale(calls, 2 * DAY + 1) == (B, ("L", "c", "c"))
    assert alarm_load(calls, 3 * HOUR, 3 * DAY).stale == (B, ("L", "c", "c")), "stood before the period began"


def test_share_of_the_ten_most_frequent_and_of_each_priority() -> None:
    calls = [Call(i * MIN, ("L", "c", str(i % 20)), 3 if i % 5 else 1) for i in range(100)]
    load = alarm_load(calls, 0, DAY)

    assert load.top_ten_pct == 50.0
    assert load.priorities == {1: 20.0, 3: 80.0}


def test_no_calls_are_a_quiet_day() -> None:
    load = alarm_load([], 0, DAY)

    assert load == AlarmLoad(0, 0.0, 0, 0.0, 0.0, (), 0.0, 0.0, (), (), {})


def test_calls_outside_the_period_do_not_count() -> None:
    calls = every(MIN, 0, HOUR)

    assert alarm_load(calls, HOUR, 2 * HOUR).calls == 0
    assert alarm_load(calls, 30 * MIN, HOUR).calls == 30


def test_calls_from_the_life_of_an_alarm() -> None:
    """Called, cleared, called again, acknowledged, cleared; then shelved and back."""
    story = Story().onset().clear().onset().ack().clear().onset().did("shelved").wait(3600)
    calls = calls_of(story.book().transitions)

    assert [(c.at_ns // MIN, None if c.until_ns is None else c.until_ns // MIN) for c in calls] == [
        (1, 2),
        (3, 5),
        (6, 7),
        (67, None),
    ]
    assert {call.alarm for call in calls} == {("L", "c", "x")}


def test_a_call_repeated_because_its_priority_rose_is_one_more_and_both_end_together() -> None:
    story = Story(3).onset().ack().said("revised", priority=2).clear(priority=2)
    calls = calls_of(story.book().transitions)

    assert [(c.at_ns // MIN, (c.until_ns or 0) // MIN, c.priority) for c in calls] == [(1, 4, 3), (3, 4, 2)]


def test_every_limit_belongs_to_a_figure_and_names_its_source() -> None:
    assert set(LIMITS) <= set(AlarmLoad.__dataclass_fields__)
    assert all("memory" in source or "HSE" in source or "sheet" in source for _, source in LIMITS.values())
