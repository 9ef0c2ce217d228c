"""A straight line through the last hours of a reading, with its interval, and when it meets a limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FARTHEST_S = 24 * 3600.0
"""Forecasts beyond this are not said."""

FEWEST_POINTS = 8
MOST_CORRELATED = 0.9
"""So few points do not tell a higher correlation from this."""


@dataclass(frozen=True)
class Trend:
    """A straight line through a series: value now, slope per second with its 95 % interval."""

    value: float
    slope: float
    slope_low: float
    slope_high: float


def trend(t_s: np.ndarray, y: np.ndarray) -> Trend | None:
    """Theil-Sen line with the rank interval of its slope; None with too few points.

    t_s: seconds, newest last; means of 5 min or so. The interval supposes points that do not hang together: where what
    is left of the line does from one point to the next, it is widened by sqrt((1 + r) / (1 - r)), r their correlation,
    or a slow wander would be a trend. Sources: Sen, J. Am. Stat. Assoc. 63 (1968) 1379; the widening for a first-order
    process, e.g. von Storch, Misuses of statistical analysis in climate research (1995), from memory.
    """
    there = np.isfinite(y)
    t_s, y = t_s[there], y[there]
    n = len(y)
    if n < FEWEST_POINTS:
        return None
    i, j = np.triu_indices(n, 1)
    slopes = np.sort((y[j] - y[i]) / (t_s[j] - t_s[i]))
    slope = float(np.median(slopes))
    half = 1.96 * np.sqrt(n * (n - 1) * (2 * n + 5) / 18) * _widened(y - slope * t_s)
    low = slopes[max(0, int(np.floor((len(slopes) - half) / 2)))]
    high = slopes[min(len(slopes) - 1, int(np.ceil((len(slopes) + half) / 2)))]
    return Trend(float(np.median(y - slope * (t_s - t_s[-1]))), slope, float(low), float(high))


def latest_trend(t_s: np.ndarray, y: np.ndarray, newest_s: float) -> Trend | None:
    """The line that goes on: that of all points, or of the newest `newest_s` where a rise began within them.

    Level hours before a rise hide it from the line of all. It is one where the newest points surely rise and have left
    all that was read before by more than that spans: a wander comes back to where it has been. No source.
    """
    whole = trend(t_s, y)
    newest = t_s > t_s[-1] - newest_s if len(t_s) else np.zeros(0, dtype=bool)
    before = y[~newest & np.isfinite(y)]
    last = trend(t_s[newest], y[newest])
    if whole is None or last is None or not len(before):
        return whole
    begun = last.slope_low > 0 and last.value - before.max() > before.max() - before.min()
    return last if begun else whole


def _widened(left: np.ndarray) -> float:
    """How much wider an interval is for points that hang together; 1 where their correlation may be chance."""
    left = left - left.mean()
    power = float(left @ left)
    r = min(float(left[1:] @ left[:-1]) / power, MOST_CORRELATED) if power > 0 else 0.0
    return float(np.sqrt((1 + r) / (1 - r))) if r > 1.96 / np.sqrt(len(left)) else 1.0


def to_limit(line: Trend, limit: float) -> tuple[float, float, float | None] | None:
    """(seconds, soonest, latest or None) until a rising trend meets `limit`.

    None if it surely does not rise.
    """
    if line.slope_low <= 0 or line.value >= limit:
        return None
    room = limit - line.value
    seconds = room / line.slope
    return (seconds, room / line.slope_high, room / line.slope_low) if seconds <= FARTHEST_S else None
