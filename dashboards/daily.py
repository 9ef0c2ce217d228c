"""A quantity day by day over weeks: its median in steady running on each plant day, at one set-point."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from dashboards.clock import DAY, PlantClock

FEWEST_CELLS = 3
SAME_SETPOINT_C = 1.0


@dataclass(frozen=True)
class Days:
    """One row a day that has a median. start: UTC ns of the cells' plant day. low, high: quartiles of its cells."""

    start: np.ndarray
    median: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def __len__(self) -> int:
        return len(self.start)


def daily(t: np.ndarray, y: np.ndarray, clock: PlantClock) -> Days:
    """Medians and quartiles of each plant day with at least `FEWEST_CELLS` known cells. t: UTC ns, rising."""
    known = np.isfinite(y)
    t, y = t[known], y[known]
    if not len(t):
        return Days(np.empty(0, np.int64), *(np.empty(0) for _ in range(3)))
    day = plant_days(t, clock)
    starts = np.flatnonzero(np.r_[True, day[1:] != day[:-1]])
    ends = np.r_[starts[1:], len(t)]
    rows = [(day[a], *np.percentile(y[a:b], (50, 25, 75))) for a, b in zip(starts, ends, strict=True)
            if b - a >= FEWEST_CELLS]  # fmt: skip
    start = np.array([row[0] for row in rows], dtype=np.int64)
    return Days(start, *(np.array([row[i] for row in rows]) for i in (1, 2, 3)))


def plant_days(t: np.ndarray, clock: PlantClock) -> np.ndarray:
    """The midnight before each instant on the plant's clock, UTC ns; days of changing clocks have 23 or 25 hours."""
    first, last = clock.local(int(t[0])).date(), clock.local(int(t[-1])).date()
    dates = [first + dt.timedelta(days=i) for i in range((last - first).days + 1)]
    midnights = np.array([clock.parse_day(date.isoformat()) for date in dates], dtype=np.int64)
    return midnights[np.searchsorted(midnights, t, side="right") - 1]


def at_setpoint(y: np.ndarray, wanted: np.ndarray, now_c: float | None) -> np.ndarray:
    """`y` where the set-point is the present one, NaN elsewhere; all of it where no set-point is logged."""
    if now_c is None or not np.isfinite(wanted).any():
        return y
    with np.errstate(invalid="ignore"):
        return np.where(np.abs(wanted - now_c) <= SAME_SETPOINT_C, y, np.nan)


def as_steps(days: Days) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """(t, median, low, high) that draw each day as a flat stretch of its own, NaN between them."""
    gap = np.full(len(days), np.nan)
    t = np.column_stack([days.start, days.start + DAY - 1, days.start + DAY - 1]).ravel()
    flat = [np.column_stack([v, v, gap]).ravel() for v in (days.median, days.low, days.high)]
    return t, flat[0], flat[1], flat[2]
