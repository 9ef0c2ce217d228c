"""How much a reading resembles the ones before it.

On a chart made for independent readings, a slow temperature alarms by the hour. Measure this first.
"""

from __future__ import annotations

import math

import numpy as np

WINDOW = 5.0
"""The integral stops at the first lag beyond this many autocorrelation times (Sokal 1997)."""


def autocorrelation(values: np.ndarray, lag: int) -> float:
    """Autocorrelation at a lag about the overall mean: sum of d[t] d[t - lag] over sum of d[t]^2.

    Pairs with a missing reading are left out. NaN for a constant series and where the lag is too long.
    """
    return _from_deviations(_deviations(values), lag)


def lag1(values: np.ndarray) -> float:
    """Autocorrelation at lag 1, as NIST StRD defines it.

    Low on short series: on n readings of a first-order autoregression with coefficient phi it is off by about
    -(1 + 4 phi)/n (Kendall 1954; Marriott & Pope 1954), -0.1 for phi 0.5 and n 30. See `lag1_corrected`.
    """
    return autocorrelation(values, 1)


def lag1_corrected(values: np.ndarray) -> float:
    """Lag-1 autocorrelation with the first-order bias taken out, held inside (-0.99, 0.99).

    Use this to design a chart: too low an autocorrelation makes limits too tight. What is left is within
    0.02 at phi 0.9 and n 60. NaN below 10 readings.
    """
    n = int(np.isfinite(values).sum())
    if n < 10:
        return math.nan
    corrected = (n * lag1(values) + 1) / (n - 4)
    return min(max(corrected, -0.99), 0.99)


def integral_time(values: np.ndarray) -> float:
    """Integral autocorrelation time in readings: 1 + 2 * sum of autocorrelations; 1 for independent readings.

    n readings know the mean as well as n over this many independent ones. (1 + phi)/(1 - phi) for a
    first-order autoregression. Summed up to the first lag beyond `WINDOW` times the result (Sokal 1997);
    low, and not to be trusted, where the series is shorter than about 50 times the result. At least 1; NaN
    for a constant series.
    """
    deviations = _deviations(values)
    total = 1.0
    for lag in range(1, deviations.size):
        resemblance = _from_deviations(deviations, lag)
        if math.isnan(resemblance):
            return math.nan
        total += 2 * resemblance
        if lag >= WINDOW * total:
            break
    return max(total, 1.0)


def cautious_time(values: np.ndarray) -> float:
    """The larger of `integral_time` and the sum up to the first autocorrelation that is not positive (C. J. Geyer,
    Statistical Science 7, 473 (1992)): a single slow wave cancels in the integral and not in this. In readings.
    """
    deviations = _deviations(values)
    total = 1.0
    for lag in range(1, deviations.size):
        resemblance = _from_deviations(deviations, lag)
        if not resemblance > 0:
            break
        total += 2 * resemblance
    return max(total, integral_time(values))


def lag1_for_design(values: np.ndarray) -> float:
    """Lag-1 autocorrelation to design a chart with, 0 to 0.99.

    The larger of the corrected lag-1 autocorrelation and that of the autoregression with the same integral
    time: sensor noise on a slow wave hides the wave from lag 1 and not from the integral. NaN for a constant
    or short series, as `lag1_corrected`.
    """
    time = integral_time(values)
    both = (lag1_corrected(values), (time - 1) / (time + 1))
    return math.nan if any(map(math.isnan, both)) else min(max(0.0, *both), 0.99)


def _deviations(values: np.ndarray) -> np.ndarray:
    there = np.isfinite(values)
    mean = np.mean(values[there]) if there.any() else math.nan
    return np.where(there, values - mean, math.nan)


def _from_deviations(deviations: np.ndarray, lag: int) -> float:
    n = deviations.size
    if lag >= n:
        return math.nan
    products = deviations[lag:] * deviations[: n - lag]
    squares = np.square(deviations)
    known_products, known_squares = products[~np.isnan(products)], squares[~np.isnan(squares)]
    if not known_products.size or not known_squares.any():
        return math.nan
    # Means times full counts: what is missing is taken to be like the rest, and a full series gives plain
    # sums.
    return float((known_products.mean() * (n - lag)) / (known_squares.mean() * n))
