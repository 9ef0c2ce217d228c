"""Rows of a made-up plant for tests of behaviour: not the simulator's, only what a test is about."""

from __future__ import annotations

import numpy as np

from ingest.propose.sample import Sample


def sample(columns: dict[str, np.ndarray], step_s: float = 1.0) -> Sample:
    """Equal steps, one part."""
    values = np.array(list(columns.values()), float)
    n = values.shape[1]
    apart, uneven = np.full(len(columns), step_s), np.zeros(len(columns))
    return Sample(tuple(columns), np.arange(n) * step_s, np.zeros(n, int), values, True, apart, uneven)


def zone(level: float, rng: np.random.Generator, n: int = 3000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A temperature that wanders about its set-point, the set-point, and the output of a controller that reads it."""
    wander = np.zeros(n)
    for i in range(1, n):
        wander[i] = 0.97 * wander[i - 1] + rng.normal(0, 0.15)
    temperature = np.round(level + wander, 1)
    output = np.clip(35 - 6 * (temperature - level) + rng.normal(0, 0.2, n), 0, 100)
    return temperature, np.full(n, level), np.round(output, 1)


def feeder(
    rate: float, rng: np.random.Generator, minutes: float = 3.0, n: int = 3000
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A rate (kg/h), the weight (kg) that falls by it and is filled up when low, and the refill switch.

    minutes: from one refill to the next.
    """
    rates = np.round(rate * (1 + rng.normal(0, 0.004, n)), 2)
    weight, refill = np.zeros(n), np.zeros(n)
    low, high = rate / 60, rate / 60 + rate * minutes / 60
    weight[0] = high
    for i in range(1, n):
        filling = (refill[i - 1] == 1 and weight[i - 1] < high) or weight[i - 1] < low
        refill[i] = float(filling)
        weight[i] = weight[i - 1] - rates[i] / 3600 + ((high - low) / 40 if filling else 0.0)
    return rates, np.round(weight, 3), refill
