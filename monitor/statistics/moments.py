"""Mean and standard deviation, of readings at hand or one reading after another."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


def mean_and_sd(values: np.ndarray) -> tuple[float, float]:
    """Mean and sample standard deviation (n - 1), NaN skipped; NaN where there are too few.

    Two passes, so that a small spread on a large mean survives.
    """
    there = values[np.isfinite(values)]
    if there.size < 2:
        return (float(there[0]) if there.size else math.nan), math.nan
    mean = float(np.mean(there))
    return mean, math.sqrt(float(np.square(there - mean).sum()) / (there.size - 1))


@dataclass(frozen=True)
class Moments:
    """Running mean and spread (Welford 1962); a state of three numbers.

    count: readings so far. squares: sum of squared distances from the mean.
    """

    count: int = 0
    mean: float = 0.0
    squares: float = 0.0

    def with_value(self, value: float) -> Moments:
        """The state after one more reading; NaN leaves it as it is."""
        if not math.isfinite(value):
            return self
        count = self.count + 1
        from_old = value - self.mean
        mean = self.mean + from_old / count
        return Moments(count, mean, self.squares + from_old * (value - mean))

    @property
    def sd(self) -> float:
        """Sample standard deviation (n - 1); NaN before the second reading."""
        return math.sqrt(self.squares / (self.count - 1)) if self.count >= 2 else math.nan
