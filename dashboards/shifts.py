"""When shifts change on a plant's wall clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from dashboards.clock import HOUR, PlantClock

USUAL_STARTS = ("06:00", "14:00", "22:00")
FRESH_NS = HOUR
"""So long after a change the shift before is still what people ask about."""


def shift_start(clock: PlantClock, now: int, starts: Sequence[str] = USUAL_STARTS) -> int:
    """The last change of shift at or before `now`, UTC ns. starts: 'HH:MM' on the plant's clock, at least one."""
    today = clock.local(now).date()
    changes = [
        _instant(clock, today - dt.timedelta(days=back), start) for back in (0, 1) for start in starts
    ]  # fmt: skip
    return max((at for at in changes if at <= now), default=now)


def next_shift(clock: PlantClock, now: int, starts: Sequence[str] = USUAL_STARTS) -> int:
    """The first change of shift after `now`, UTC ns. starts: as for `shift_start`."""
    today = clock.local(now).date()
    changes = [_instant(clock, today + dt.timedelta(days=on), start) for on in (0, 1) for start in starts]
    return min(at for at in changes if at > now)


def told_since(clock: PlantClock, now: int, starts: Sequence[str] = USUAL_STARTS) -> int:
    """From when changes are told: this shift, and in its first hour the shift before too."""
    start = shift_start(clock, now, starts)
    return start if now - start >= FRESH_NS else shift_start(clock, start - 1, starts)


def _instant(clock: PlantClock, day: dt.date, start: str) -> int:
    midnight = clock.parse_day(day.isoformat())
    assert midnight is not None
    hours, minutes = (int(part) for part in start.split(":"))
    wall = (hours * 60 + minutes) * 60 * 10**9
    at = midnight + wall
    # On a day when the clocks change the wall clock gains or loses an hour after midnight.
    return at - (clock.offset_ns(at) - clock.offset_ns(midnight))
