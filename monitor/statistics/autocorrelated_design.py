"""Limits of EWMA and CUSUM charts for a wanted run length on readings that resemble each other.

Readings are taken as a first-order autoregression with the channel's measured lag-1 autocorrelation. Run
lengths of a day and more are too long to simulate; what governs them is not:

EWMA, with Schmid's (1997) variance of z. Signals of a settled z come in clusters. The rate of clusters is
the chance that z is beyond the limit, which is normal, times the chance that it then stays inside for as
long as it remembers (G. L. O'Brien, Annals of Probability 15, 281 (1987)). Only the second is simulated,
from z beyond the limit on.

CUSUM. In control the run length grows as exp(2 k h / v) with v = (1 + lag1)/(1 - lag1), the variance of a
long sum of readings over that of as many independent ones: the Lundberg exponent of a Gaussian sum with
drift -k. D. Siegmund's form (Sequential Analysis, 1985) holds with v and with h lengthened by an overshoot,
which one short simulation gives.

Both are within about 5 % of the wanted run length, by comparison with plain simulation; an error of 0.02 in
the autocorrelation does more. Above 0.95 thin the readings: the chart sees little else than one slow wave.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from monitor.statistics.ewma import variance_factor
from monitor.statistics.run_length import MAX_RUN_LENGTH
from monitor.statistics.run_length_simulation import simulate_cusum

MAX_LAG1 = 0.99
"""Largest autocorrelation a limit is designed for."""

_CLUSTER_RUNS = 50_000
_CLUSTER_OVER = 0.05
"""A cluster is over when a deviation of z has decayed to this share."""

_MEMORIES_NEEDED = 20
_PILOT_RUNS = 4000
_PILOT_EXPONENT = 3.5


@cache
def design_ewma_autocorrelated(weight: float, lag1: float, arl0: float, *, seed: int = 0) -> float:
    """Width of EWMA limits, in Schmid's standard deviations of z, for this run length in control.

    Give it with the same lag1 to `ewma_limits`. lag1: 0 to 0.99 (a negative one is safe as 0). arl0: in
    readings, at least 20 memories of z (about 60/weight, or 60/(1 - lag1) if longer), at most 1e9. Raises
    ValueError outside.
    """
    from scipy.optimize import root_scalar

    _check_lag1(lag1)
    _check_run_length(arl0, _MEMORIES_NEEDED * _memory(weight, lag1))

    def excess(width: float) -> float:
        return math.log(_arl_by_clusters(weight, width, lag1, seed) / arl0)

    return root_scalar(excess, bracket=(1.0, 7.0), xtol=1e-4).root


@cache
def design_cusum_autocorrelated(k: float, lag1: float, arl0: float, *, seed: int = 0) -> float:
    """Limit h of a two-sided CUSUM, in sigma, for this run length in control.

    k: > 0, in sigma. lag1: 0 to 0.99. arl0: in readings, at least 20 (1 + lag1)/(1 - lag1), at most 1e9.
    Raises ValueError outside.
    """
    from scipy.optimize import root_scalar

    if not k > 0:
        raise ValueError(f"CUSUM reference value k must be > 0 to design its limit (got {k})")
    _check_lag1(lag1)
    long_variance = (1 + lag1) / (1 - lag1)
    _check_run_length(arl0, _MEMORIES_NEEDED * long_variance)
    rate = 2 * k / long_variance

    def reach_for(run_length: float) -> float:
        """Limit and overshoot together, for a two-sided run length."""
        wanted = 2 * run_length * 2 * k**2 / long_variance
        highest = math.log(wanted + 1) + 5
        return root_scalar(lambda x: math.expm1(x) - x - wanted, bracket=(0, highest)).root / rate

    pilot_h = _PILOT_EXPONENT / rate
    pilot = simulate_cusum(k, pilot_h, lag1, runs=_PILOT_RUNS, seed=seed)
    overshoot = reach_for(float(pilot.mean())) - pilot_h
    return reach_for(arl0) - overshoot


def _check_lag1(lag1: float) -> None:
    if not 0 <= lag1 <= MAX_LAG1:
        raise ValueError(f"lag-1 autocorrelation must be 0 to {MAX_LAG1} (got {lag1}); thin the readings")


def _check_run_length(arl0: float, least: float) -> None:
    if not least <= arl0 <= MAX_RUN_LENGTH:
        raise ValueError(
            f"in-control run length must be {math.ceil(least - 1e-9)} to {MAX_RUN_LENGTH:g} readings (got {arl0}): "
            "it is to be long against the time that readings and chart remember"
        )


def _memory(weight: float, lag1: float) -> int:
    """Readings after which a deviation of z has decayed."""
    slowest = max(1 - weight, lag1)
    return max(1, math.ceil(math.log(_CLUSTER_OVER) / math.log(slowest))) if slowest > 0 else 1


def _arl_by_clusters(weight: float, width: float, lag1: float, seed: int) -> float:
    """Run length as the mean time between clusters of signals, on both sides."""
    from scipy.special import ndtr, ndtri

    generator = np.random.default_rng(seed)
    sd = math.sqrt(variance_factor(weight, lag1))
    beyond = float(ndtr(-width))
    average = -sd * ndtri(beyond * (1 - generator.random(_CLUSTER_RUNS)))
    # Given z, the reading is normal about its regression on z.
    correlation = weight / (1 - (1 - weight) * lag1) / sd
    reading = correlation * average / sd + math.sqrt(1 - correlation**2) * generator.standard_normal(_CLUSTER_RUNS)
    fresh = math.sqrt(1 - lag1**2)
    memory = _memory(weight, lag1)
    for _ in range(memory):
        reading = lag1 * reading + fresh * generator.standard_normal(reading.size)
        average = (1 - weight) * average + weight * reading
        inside = average <= width * sd
        average, reading = average[inside], reading[inside]
    rate_of_one_side = beyond * average.size / _CLUSTER_RUNS
    # Some clusters that seem to go on are two; this takes the chance of that back, to first order.
    return math.exp(-memory * rate_of_one_side) / (2 * rate_of_one_side)
