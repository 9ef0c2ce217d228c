"""Mann-Kendall test for a trend: do later readings tend to be higher, whatever their distribution?

References: H. B. Mann, Econometrica 13, 245 (1945); M. G. Kendall, Rank Correlation Methods; for readings
that resemble each other the effective number of readings, as S. Yue & C. Wang, Water Resources Management
18, 201 (2004), take it from the series about its trend.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

MAX_READINGS = 3000
"""Pairs grow with the square of the readings; thin a longer series."""

EXACT_UP_TO = 30
"""Without ties, up to this many readings, the chance is counted and not approximated by the normal one."""


@dataclass(frozen=True)
class MannKendall:
    """s: rising pairs less falling ones. variance: what s would have without a trend.

    z: s in standard deviations, with continuity correction. tau: s over all pairs, -1 to 1.
    p: chance of an |s| this large without a trend, on either side.
    """

    s: int
    variance: float
    z: float
    tau: float
    p: float


def mann_kendall(values: np.ndarray, *, lag1: float = 0.0) -> MannKendall:
    """Test of readings in time order, NaN left out. values: shape (n,), n >= 3.

    lag1: autocorrelation about the trend, from `lag1_about_trend`. Left at 0 for readings that resemble
    their neighbours, the test shows trends that are not there: at 0.5 in one series of four instead of one
    in twenty. Raises ValueError for fewer than three readings or more than `MAX_READINGS`.
    """
    from scipy.special import erfc

    there = values[np.isfinite(values)]
    n = there.size
    if not 3 <= n <= MAX_READINGS:
        raise ValueError(f"a Mann-Kendall test takes 3 to {MAX_READINGS} readings (got {n})")
    s = int(np.sign(there - there[:, np.newaxis])[np.triu_indices(n, 1)].sum())
    ties = np.unique(there).size < n
    variance = kendall_variance(there) * effective_readings_factor(lag1)
    z = (s - np.sign(s)) / math.sqrt(variance) if variance > 0 else 0.0
    exact = n <= EXACT_UP_TO and not ties and lag1 <= 0
    p = _exact_chance(n, abs(s)) if exact else float(erfc(abs(z) / math.sqrt(2)))
    return MannKendall(s, variance, float(z), 2 * s / (n * (n - 1)), p)


def kendall_variance(*ranked: np.ndarray) -> float:
    """Variance of s without trend, less what ties in any of the series take away."""
    variance = _pairs_term(ranked[0].size)
    for series in ranked:
        ordered = np.sort(series)
        if not (ordered[1:] == ordered[:-1]).any():
            continue
        _, repeats = np.unique(ordered, return_counts=True)
        variance -= sum(_pairs_term(repeat) for repeat in repeats[repeats > 1].tolist())
    return variance


def effective_readings_factor(lag1: float) -> float:
    """Readings of a first-order autoregression that tell as much as one independent reading; at least 1."""
    return (1 + lag1) / (1 - lag1) if lag1 > 0 else 1.0


def _pairs_term(n: int) -> float:
    return n * (n - 1) * (2 * n + 5) / 18


def _exact_chance(n: int, s: int) -> float:
    """Share of the n! orders whose |s| is at least this large, counted by their number of falling pairs."""
    counts = [1]
    for size in range(2, n + 1):
        # Putting in the next reading makes 0 to size - 1 more falling pairs.
        longer = [0] * (len(counts) + size - 1)
        for falling, orders in enumerate(counts):
            for more in range(size):
                longer[falling + more] += orders
        counts = longer
    pairs = n * (n - 1) // 2
    extreme = sum(orders for falling, orders in enumerate(counts) if abs(pairs - 2 * falling) >= s)
    return extreme / math.factorial(n)
