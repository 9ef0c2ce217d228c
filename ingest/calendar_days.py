"""Days of the calendar as seconds: by month and day, by day of the year, by week and day of the week (ISO 8601)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

_MONTH_LENGTH = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_NAMES = ("y", "m", "d", "j", "w", "u")


def midnights(parts: Mapping[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Seconds since 1970 at which days begin, and which of them are in the calendar.

    parts: year y, and month m with day d, or day of the year j, or week w with day of the week u, int64 of one length;
    what is not given is zero everywhere. Years below 100 are those from 1970 to 2069.
    """
    given = [parts[name] for name in _NAMES if name == "y" or parts[name].any()]
    count = len(parts["y"])
    changes = np.zeros(max(0, count - 1), bool)
    for part in given:
        changes |= part[1:] != part[:-1]
    starts = np.flatnonzero(changes) + 1
    if 8 * len(starts) < count:  # most rows of a log are of the day of the row before them: each day once
        starts = np.concatenate(([0], starts))
        found = _one_by_one({name: parts[name][starts] for name in _NAMES})
        times = np.diff(np.append(starts, count))
        return np.repeat(found[0], times), np.repeat(found[1], times)
    return _one_by_one(parts)


def _one_by_one(parts: Mapping[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    y = parts["y"]
    y = np.where(y < 70, y + 2000, np.where(y < 100, y + 1900, y))
    leap = (y % 4 == 0) & ((y % 100 != 0) | (y % 400 == 0))
    if parts["w"].any():
        days, ok = _of_weeks(y, parts["w"], parts["u"])
    elif parts["j"].any():
        days, ok = _first_days(y) + parts["j"] - 1, (parts["j"] >= 1) & (parts["j"] <= 365 + leap)
    else:
        m, d = parts["m"], parts["d"]
        length = _MONTH_LENGTH[np.clip(m, 0, 12)] + (leap & (m == 2))
        days, ok = _days(y, m, d), (m >= 1) & (m <= 12) & (d >= 1) & (d <= length)
    # Beyond this the nanoseconds do not fit; such years are no stamps of a log.
    return days * 86400, ok & (y >= 1700) & (y <= 2250)


def _of_weeks(y: np.ndarray, w: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Week 1 is the one with the fourth of January, weeks begin on Monday (ISO 8601)."""

    def monday_of_first(year: np.ndarray) -> np.ndarray:
        fourth = _first_days(year) + 3
        return fourth - (fourth + 3) % 7  # 1970 began on a Thursday

    first = monday_of_first(y)
    weeks = (monday_of_first(y + 1) - first) // 7
    return first + 7 * (w - 1) + u - 1, (w >= 1) & (w <= weeks) & (u >= 1) & (u <= 7)


def _first_days(y: np.ndarray) -> np.ndarray:
    return _days(y, np.ones_like(y), np.ones_like(y))


def _days(y: np.ndarray, m: np.ndarray, d: np.ndarray) -> np.ndarray:
    """Days since 1970-01-01 in the proleptic Gregorian calendar, years counted from March."""
    y = y - (m <= 2)
    era = y // 400
    year = y - era * 400
    day = (153 * (m + np.where(m > 2, -3, 9)) + 2) // 5 + d - 1
    return era * 146097 + year * 365 + year // 4 - year // 100 + day - 719468
