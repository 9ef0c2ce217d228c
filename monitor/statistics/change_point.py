"""Where a series stepped, and whether it stepped or crept.

References: A. N. Pettitt, Applied Statistics 28, 126 (1979), for the test without a distribution; the number of
readings that count where they resemble each other as in `mann_kendall`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor.statistics.mann_kendall import effective_readings_factor

MAX_READINGS = 3000
"""Ranks are compared pair by pair; thin a longer series."""


@dataclass(frozen=True)
class ChangePoint:
    """index: first reading after the step. before, after: medians on either side.

    k: Pettitt's statistic. p: chance of one this large without any change, approximate, at most 1.
    """

    index: int
    before: float
    after: float
    k: float
    p: float


def change_point(values: np.ndarray, *, lag1: float = 0.0) -> ChangePoint:
    """The likeliest single step in readings in time order. values: shape (n,), finite, n >= 4.

    lag1: autocorrelation away from the step. Left at 0 for readings that resemble their neighbours, steps are seen
    that are not there. Raises ValueError for too few or too many readings or a missing one.
    """
    n = values.size
    if not 4 <= n <= MAX_READINGS or not np.isfinite(values).all():
        raise ValueError(f"a change point takes 4 to {MAX_READINGS} readings, none missing (got {n})")
    signs = np.sign(values[:, None] - values)
    # U[t] sums the signs of every reading up to t against every later one.
    u = np.array([signs[: t + 1, t + 1 :].sum() for t in range(n - 1)])
    last = int(np.argmax(np.abs(u)))
    k = float(abs(u[last]))
    p = 2 * math.exp(-6 * k * k / ((n**3 + n**2) * effective_readings_factor(lag1)))
    before, after = float(np.median(values[: last + 1])), float(np.median(values[last + 1 :]))
    return ChangePoint(last + 1, before, after, k, min(p, 1.0))


def stepped_rather_than_crept(time: np.ndarray, values: np.ndarray, step: ChangePoint, slope: float) -> bool:
    """Whether two levels fit clearly better than one line: median absolute residuals less than 0.7 times as large.

    slope: of the Theil-Sen line. On either side of a pure step the line misses; along a pure line the levels do.
    The factor is common practice, no source: a step and a line of the same size differ by 2 and more.
    """
    levels = np.where(np.arange(values.size) < step.index, step.before, step.after)
    line = values - slope * time
    about_line = float(np.mean(np.abs(line - np.median(line))))
    return float(np.mean(np.abs(values - levels))) < 0.7 * about_line
