"""Plant time as text."""

from __future__ import annotations

import datetime as dt

import pytest

from dashboards.clock import DAY, HOUR, MINUTE, SECOND, PlantClock, duration, time_ticks


def ns(text: str) -> int:
    return int(dt.datetime.fromisoformat(text).timestamp()) * SECOND


def test_offset_is_named() -> None:
    clock = PlantClock("Europe/Madrid")
    assert clock.time(ns("2026-03-03T06:29:00+00:00")) == "07:29:00"
    assert clock.offset_text(ns("2026-03-03T06:29:00+00:00")) == "UTC+1"
    assert clock.offset_text(ns("2026-07-03T06:29:00+00:00")) == "UTC+2"
    assert PlantClock("UTC").offset_text(0) == "UTC"
    assert PlantClock("Asia/Kolkata").offset_text(0) == "UTC+5:30"
    assert PlantClock("America/New_York").offset_text(0) == "UTC-5"


def test_short_text_still_tells_the_day_where_it_differs() -> None:
    clock = PlantClock("UTC")
    now = ns("2026-03-03T06:29:00+00:00")
    assert clock.since(now - HOUR, now) == "05:29"
    assert clock.since(now - DAY, now) == "2 Mar 06:29"
    assert clock.interval(now - DAY, now) == "2 Mar 06:29 to 3 Mar 06:29"


def test_a_stretch_inside_one_minute_says_how_long_it_was() -> None:
    clock, at = PlantClock("UTC"), ns("2026-03-02T17:41:10+00:00")
    assert clock.interval(at, at + 24 * SECOND) == "2 Mar 17:41, for 24 s"
    assert clock.stretch(at, at + 24 * SECOND, at) == "17:41, for 24 s"
    assert clock.stretch(at, at + 24 * SECOND, at + DAY) == "2 Mar 17:41, for 24 s"
    assert clock.interval(at, at) == "2 Mar 17:41"
    assert clock.interval(at, at + MINUTE) == "2 Mar 17:41 to 17:42"
    assert clock.stretch(at, at + MINUTE, at) == "17:41 – 17:42"
    assert clock.stretch(at, at + MINUTE, at + DAY) == "2 Mar 17:41 – 17:42"
    assert clock.stretch(at, at + DAY, at + DAY) == "2 Mar 17:41 – 3 Mar 17:41"
    # The hour that comes twice in autumn: both ends read the same, and are an hour apart.
    madrid, twice = PlantClock("Europe/Madrid"), ns("2026-10-25T00:30:00+00:00")
    assert madrid.interval(twice, twice + HOUR) == "25 Oct 02:30, for 1 h"


def test_a_span_over_a_change_of_the_clock_shows_both_offsets() -> None:
    # Europe/Madrid goes from UTC+2 to UTC+1 on 25 October 2026 at 01:00 UTC: directive 2000/84/EC.
    clock, at = PlantClock("Europe/Madrid"), ns("2026-10-25T00:23:00+00:00")
    assert clock.interval(at, at + 58 * MINUTE) == "25 Oct 02:23 (UTC+2) to 02:21 (UTC+1)"
    assert clock.interval_dated(at, at + 58 * MINUTE) == "25 Oct 2026 02:23 (UTC+2) to 02:21 (UTC+1)"
    assert clock.stretch(at, at + 58 * MINUTE, at) == "02:23 (UTC+2) – 02:21 (UTC+1)"
    assert clock.stretch(at - DAY, at + DAY, at) == "24 Oct 02:23 – 26 Oct 01:23"
    assert clock.moments([at, at + 58 * MINUTE]) == ["25 Oct 02:23 (UTC+2)", "25 Oct 02:21 (UTC+1)"]
    # In an hour that comes twice one time alone does not say which it is.
    assert clock.moments([at + HOUR]) == ["25 Oct 02:23 (UTC+1)"]
    assert clock.moments([at - HOUR]) == ["25 Oct 01:23"]
    assert clock.interval(at, at + 3 * MINUTE) == "25 Oct 02:23 (UTC+2) to 02:26 (UTC+2)"
    spring = ns("2026-03-29T00:50:00+00:00")
    assert clock.interval(spring, spring + 20 * MINUTE) == "29 Mar 01:50 (UTC+1) to 03:10 (UTC+2)"
    assert clock.interval(spring - HOUR, spring) == "29 Mar 00:50 to 01:50"


def test_ticks_rise_through_the_autumn_change() -> None:
    clock = PlantClock("Europe/Madrid")
    t0 = ns("2026-10-24T22:00:00+00:00")
    ticks = time_ticks(clock, t0, t0 + 6 * HOUR)
    times = [at for at, _ in ticks]
    assert times == sorted(set(times))
    assert all(t0 <= at <= t0 + 6 * HOUR for at in times)
    assert len({text for _, text in ticks}) == len(ticks)


@pytest.mark.parametrize("span", [MINUTE, HOUR, 4 * HOUR, DAY, 30 * DAY])
def test_tick_count_is_bounded(span: int) -> None:
    assert (
        1
        <= len(
            time_ticks(PlantClock("UTC"), ns("2026-03-03T06:29:13+00:00"), ns("2026-03-03T06:29:13+00:00") + span, 9)
        )
        <= 10
    )


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.4, "0 s"), (59, "59 s"), (90, "2 min"), (7800, "2 h 10 min"), (7200, "2 h"), (90000, "1 d 1 h")],
)
def test_duration(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_day_of_a_search_is_a_local_day() -> None:
    assert PlantClock("Europe/Madrid").parse_day("2026-03-03") == ns("2026-03-02T23:00:00+00:00")
    assert PlantClock("UTC").parse_day("3.3.2026") is None
