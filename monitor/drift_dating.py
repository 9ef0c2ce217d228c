"""Since when a quantity is elsewhere than it was, and whether it stepped there or crept.

From medians of 10 min. References: tabular CUSUM, NIST/SEMATECH e-Handbook 6.3.2.3; Pettitt (1979) by `change_point`.
"""

from __future__ import annotations

import numpy as np

from monitor.exact import Floats

LEAST_BINS = 6
BINS_AN_HOUR = 6.0

LEFT_SHARE = 0.05
"""Of the whole way: what lies nearer to the anchor than this is the wander of every day and begins nothing. Common
practice, no source."""

STEP_SHARE = 0.7
"""So much of the whole way gone from one median over the next to the one after is a step, be it the last thing that
happened: a test for a change of level needs as much behind it as ahead. Common practice, no source."""


def trend(times: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Slope and its interval per hour, [3]; first time of the new level (NaN if it crept) and hours looked at, [2]."""
    from monitor.statistics.change_point import change_point, stepped_rather_than_crept
    from monitor.statistics.theil_sen import lag1_about_trend, theil_sen

    there = np.isfinite(values)
    times, values = times[there], values[there]
    if len(values) < LEAST_BINS:
        return np.full(3, np.nan), np.full(2, np.nan)
    hours = (times - times[-1]) / BINS_AN_HOUR
    line = theil_sen(hours, values, lag1=lag1_about_trend(hours, values))
    step = change_point(values)
    stepped = stepped_rather_than_crept(hours, values, step, line.slope)
    at = times[step.index] if stepped and step.p < 0.05 else np.nan
    return np.array([line.slope, line.low, line.high]), np.array([at, hours[-1] - hours[0]])


def began(times: Floats, values: Floats, anchor: float, sigma: float, moved: float) -> float:
    """The time of the median that stepped, else of the first that left the anchor for good; NaN where that lies before
    the first of them."""
    from monitor.statistics.cusum import cusum, shift_began

    stepped = step_at(times, values, moved, np.nan)
    if np.isfinite(stepped):
        return stepped
    path = cusum(values, target=anchor, k=max(sigma / 2, LEFT_SHARE * abs(moved)))
    first = shift_began(path.high if moved > 0 else path.low, len(values) - 1)
    return times[first] if 0 < first < len(values) else np.nan


def step_at(times: Floats, values: Floats, moved: float, late: float) -> float:
    """The time of the median in which most of the whole way was gone, or with the next one; `late` where in none."""
    there = np.isfinite(values)
    times, way = times[there], np.append(values[there], values[there][-1:]) * np.sign(moved)
    if len(times) < 2:
        return late
    gone = np.maximum(way[1:-1], way[2:]) - way[:-2]
    # The median before the one that stepped has as much gone with the next: the later of the two is meant.
    most = int(np.flatnonzero(gone >= 0.9 * gone.max())[-1])
    return times[most + 1] if gone[most] >= STEP_SHARE * abs(moved) else late
