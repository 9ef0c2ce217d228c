"""Run lengths of EWMA and CUSUM charts by seeded simulation, on readings that resemble each other.

Readings are a first-order autoregression with variance 1 that starts settled, as the readings of a line do;
charts start at their target. A seed gives the same run lengths every time.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from monitor.statistics.ewma import variance_factor

# State of all runs, after one more reading of each; and which of them signal.
_Step = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


def simulate_ewma(
    weight: float, width: float, lag1: float, *, shift: float = 0.0, runs: int = 2000, seed: int = 0
) -> np.ndarray:
    """Run lengths, shape (runs,), of an EWMA with settled limits for this lag1 (see `variance_factor`).

    width: limits in standard deviations of z. shift: of the mean from the first reading on, in sigma of x.
    """
    limit = width * math.sqrt(variance_factor(weight, lag1))

    def step(average: np.ndarray, reading: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        average = (1 - weight) * average + weight * reading
        return average, np.abs(average[0]) > limit

    return _run_lengths(step, 1, lag1, shift, runs, seed)


def simulate_cusum(
    k: float, h: float, lag1: float, *, shift: float = 0.0, runs: int = 2000, seed: int = 0
) -> np.ndarray:
    """Run lengths, shape (runs,), of a two-sided CUSUM. k, h, shift: in sigma of x."""
    sides = np.array([[1.0], [-1.0]])

    def step(sums: np.ndarray, reading: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        sums = np.maximum(sums + sides * reading - k, 0)
        return sums, np.max(sums, axis=0) > h

    return _run_lengths(step, 2, lag1, shift, runs, seed)


def _run_lengths(step: _Step, states: int, lag1: float, shift: float, runs: int, seed: int) -> np.ndarray:
    """Steps all runs together and drops each at its first signal."""
    generator = np.random.default_rng(seed)
    fresh = math.sqrt(1 - lag1**2)
    deviation = generator.standard_normal(runs)
    state = np.zeros((states, runs))
    lengths = np.zeros(runs, dtype=np.int64)
    going = np.arange(runs)
    reading_number = 0
    while going.size:
        reading_number += 1
        deviation = lag1 * deviation + fresh * generator.standard_normal(going.size)
        state, signals = step(state, deviation + shift)
        if signals.any():
            lengths[going[signals]] = reading_number
            going, deviation, state = going[~signals], deviation[~signals], state[:, ~signals]
    return lengths
