"""Theil-Sen line: the median of all slopes between pairs, with an interval.

References: P. K. Sen, Journal of the American Statistical Association 63, 1379 (1968); M. Hollander, D. A.
Wolfe & E. Chicken, Nonparametric Statistical Methods, 3rd ed., chapter 9.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from monitor.statistics.autocorrelation import lag1 as raw_lag1
from monitor.statistics.mann_kendall import effective_readings_factor, kendall_variance

MAX_POINTS = 1500
"""Pairs grow with the square of the points; thin a longer series."""


@dataclass(frozen=True)
class TheilSen:
    """slope, low, high: per unit of time, the last two NaN where there are too few points for an interval.

    intercept: value at time 0. pairs: slopes between points at different times.
    """

    slope: float
    intercept: float
    low: float
    high: float
    pairs: int


def theil_sen(time: np.ndarray, values: np.ndarray, confidence: float = 0.95, *, lag1: float = 0.0) -> TheilSen:
    """Line through points of which up to 29 % may be wild. time, values: shape (n,); NaN is skipped.

    lag1: autocorrelation about the line, from `lag1_about_trend`; without it the interval is too narrow for
    readings that resemble their neighbours. NaN where fewer than two different times are there. Raises
    ValueError above `MAX_POINTS` points.
    """
    from scipy.special import ndtri

    there = np.isfinite(time) & np.isfinite(values)
    time, values = time[there], values[there]
    if time.size > MAX_POINTS:
        raise ValueError(f"a Theil-Sen line takes at most {MAX_POINTS} points (got {time.size}); thin them")
    first, second = _pairs(time.size)
    apart = time[second] - time[first]
    pairs = apart != 0
    slopes = np.sort((values[second] - values[first])[pairs] / apart[pairs])
    if not slopes.size:
        return TheilSen(math.nan, math.nan, math.nan, math.nan, 0)
    slope = _middle(slopes)
    intercept = _middle(np.sort(values)) - slope * _middle(np.sort(time))
    variance = kendall_variance(time, values) * effective_readings_factor(lag1)
    half_width = float(ndtri(0.5 + confidence / 2)) * math.sqrt(variance)
    lowest = round((slopes.size - half_width) / 2)
    if lowest < 1:
        return TheilSen(slope, intercept, math.nan, math.nan, slopes.size)
    return TheilSen(slope, intercept, float(slopes[lowest - 1]), float(slopes[slopes.size - lowest]), slopes.size)


def _middle(ordered: np.ndarray) -> float:
    """Median of values in their order, none of them missing: numpy looks for such for longer than it sorts."""
    return float((ordered[(ordered.size - 1) // 2] + ordered[ordered.size // 2]) / 2)


@functools.lru_cache(maxsize=128)
def _pairs(points: int) -> tuple[np.ndarray, np.ndarray]:
    """First and second of every pair of points. Making them takes as long as all the rest of a short line."""
    return np.triu_indices(points, 1)


def lag1_about_trend(time: np.ndarray, values: np.ndarray) -> float:
    """Lag-1 autocorrelation of evenly spaced readings about their Theil-Sen line, 0 to 0.99.

    Taking out a line takes out slow waves with it: the result is corrected for about (2 + 5 phi)/n of bias. 0
    below 10 readings and where there is no scatter.
    """
    n = int(np.isfinite(values).sum())
    if n < 10:
        return 0.0
    measured = raw_lag1(values - theil_sen(time, values).slope * time)
    if math.isnan(measured):
        return 0.0
    return min(max((n * measured + 2) / (n - 5), 0.0), 0.99)
