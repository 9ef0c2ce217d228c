"""Exponentially weighted moving average chart.

References: NIST/SEMATECH e-Handbook 6.3.2.4; for autocorrelated readings W. Schmid, On EWMA charts for time
series, in Frontiers in Statistical Quality Control 5 (1997).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


def ewma(values: np.ndarray, weight: float, start: float | np.ndarray) -> np.ndarray:
    """z[t] = weight * x[t] + (1 - weight) * z[t - 1] along the last axis; z before the first is `start`.

    values: shape (..., n). start: target, or the last z of the block before, shape (...). A missing reading
    holds z. Same bits wherever a series is cut, because each step is the same two products and a sum.
    """
    _check(weight)
    averages = np.empty(values.shape)
    current = np.broadcast_to(np.asarray(start, dtype=float), values.shape[:-1])
    for cell in range(values.shape[-1]):
        reading = values[..., cell]
        moved = weight * reading + (1 - weight) * current
        current = np.where(np.isnan(reading), current, moved)
        averages[..., cell] = current
    return averages


def variance_factor(weight: float, lag1: float = 0.0) -> float:
    """Variance of z over that of x, once the start is forgotten.

    lag1: lag-1 autocorrelation of x, a first-order autoregression; -1 < lag1 < 1. Readings that resemble
    each other make the average wander (1 + lag1 (1 - weight))/(1 - lag1 (1 - weight)) times as much as
    independent ones.
    """
    _check(weight, lag1)
    carried = lag1 * (1 - weight)
    return weight / (2 - weight) * (1 + carried) / (1 - carried)


def start_up_variance_factors(weight: float, readings: int, lag1: float = 0.0) -> np.ndarray:
    """Variance of z over that of x after 1, 2, ... readings from a start at the target; shape (readings,).

    For independent readings weight/(2 - weight) * (1 - (1 - weight)^(2 t)).
    """
    _check(weight, lag1)
    kept = 1 - weight
    factors = np.empty(readings)
    variance = covariance = 0.0  # of z[t - 1], and of z[t - 1] with x[t - 1], in units of the variance of x
    for reading in range(readings):
        variance = kept**2 * variance + weight**2 + 2 * kept * weight * lag1 * covariance
        covariance = kept * lag1 * covariance + weight
        factors[reading] = variance
    return factors


@dataclass(frozen=True)
class EwmaLimits:
    """Limits of z; arrays where they were asked for one reading after another."""

    centre: float
    lower: float | np.ndarray
    upper: float | np.ndarray


def ewma_limits(
    *,
    target: float,
    sigma: float,
    weight: float,
    width: float,
    lag1: float = 0.0,
    start_up_readings: int | None = None,
) -> EwmaLimits:
    """Limits at `width` standard deviations of z about the target.

    sigma: standard deviation of single readings. width: from `design_ewma`, or from
    `design_ewma_autocorrelated` with the same lag1. start_up_readings: gives the narrower limits after 1,
    2, ... readings instead.
    """
    if start_up_readings is None:
        reach = width * sigma * math.sqrt(variance_factor(weight, lag1))
    else:
        reach = width * sigma * np.sqrt(start_up_variance_factors(weight, start_up_readings, lag1))
    return EwmaLimits(target, target - reach, target + reach)


def _check(weight: float, lag1: float = 0.0) -> None:
    if not 0 < weight <= 1:
        raise ValueError(f"EWMA weight must be in (0, 1] (got {weight})")
    if not -1 < lag1 < 1:
        raise ValueError(f"lag-1 autocorrelation must be inside (-1, 1) (got {lag1})")
