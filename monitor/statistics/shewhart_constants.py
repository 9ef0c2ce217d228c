"""Constants of Shewhart charts for samples of n normal readings, computed and not copied from a table.

Printed tables were built from rounded d2 and d3 and differ in the third decimal. Reference: ISO 7870-2,
table 2, for names and use; NIST/SEMATECH e-Handbook 6.3.2.1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np


@dataclass(frozen=True)
class ShewhartConstants:
    """Factors for a sample size, under their usual names in lower case.

    d2, d3: mean and standard deviation of the range of n standard normal readings. c4: mean of their
    standard deviation. a2, a3: limits of means from mean range, from mean standard deviation. b3, b4:
    limits of standard deviations. d3_lower, d4_upper: limits of ranges (D3 and D4).
    """

    n: int
    d2: float
    d3: float
    c4: float
    a2: float
    a3: float
    b3: float
    b4: float
    d3_lower: float
    d4_upper: float


@cache
def shewhart_constants(n: int) -> ShewhartConstants:
    """Constants for samples of n readings. Raises ValueError for n < 2."""
    if n < 2:
        raise ValueError(f"a sample needs at least 2 readings (got {n})")
    d2, d3 = _range_mean_and_sd(n)
    c4 = math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    spread_of_sd = 3 * math.sqrt(1 - c4**2) / c4
    spread_of_range = 3 * d3 / d2
    return ShewhartConstants(
        n=n,
        d2=d2,
        d3=d3,
        c4=c4,
        a2=3 / (d2 * math.sqrt(n)),
        a3=3 / (c4 * math.sqrt(n)),
        b3=max(1 - spread_of_sd, 0.0),
        b4=1 + spread_of_sd,
        d3_lower=max(1 - spread_of_range, 0.0),
        d4_upper=1 + spread_of_range,
    )


def _range_mean_and_sd(n: int) -> tuple[float, float]:
    """From the chance that the range exceeds w, 1 - n * integral of f(x) (F(x + w) - F(x))^(n - 1) over x."""
    from scipy.special import ndtr

    nodes, weights = np.polynomial.legendre.leggauss(200)
    # Beyond 9 sigma lies less than 1e-18.
    low, low_weights = 9 * nodes, 9 * weights
    width, width_weights = 9 * (nodes + 1), 9 * weights
    density = np.exp(-np.square(low) / 2) / math.sqrt(2 * math.pi)
    between = ndtr(low + width[:, np.newaxis]) - ndtr(low)
    exceeds = 1 - n * (density * np.power(between, n - 1) * low_weights).sum(axis=1)
    mean = float((exceeds * width_weights).sum())
    mean_square = float((2 * width * exceeds * width_weights).sum())
    return mean, math.sqrt(mean_square - mean**2)
