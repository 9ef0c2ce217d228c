"""Grubbs's test for one outlier in a small normal sample.

With n readings no distance from the mean can exceed (n - 1)/sqrt(n) standard deviations: below 11 readings a
3-sigma screen can never fire. This test knows the size of the sample.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor.statistics.moments import mean_and_sd


@dataclass(frozen=True)
class Grubbs:
    """statistic: largest distance from the mean in standard deviations. index: of that reading."""

    statistic: float
    critical: float
    index: int

    @property
    def is_outlier(self) -> bool:
        """Whether the sample would be this far out by chance less often than alpha."""
        return self.statistic > self.critical


def grubbs(values: np.ndarray, alpha: float = 0.05, *, two_sided: bool = True) -> Grubbs:
    """Tests the reading farthest from the mean; with `two_sided` off, the largest one.

    values: shape (n,), n >= 3, no NaN. Raises ValueError for fewer.
    Reference: NIST/SEMATECH e-Handbook 1.3.5.17.1.
    """
    from scipy.stats import t as student

    n = values.size
    if n < 3:
        raise ValueError(f"Grubbs's test needs at least 3 readings (got {n})")
    # In units of its own largest reading, so that squares of tiny readings do not vanish.
    values = values / (float(np.max(np.abs(values))) or 1.0)
    mean, sd = mean_and_sd(values)
    distances = np.abs(values - mean) if two_sided else values - mean
    index = int(np.argmax(distances))
    statistic = float(distances[index] / sd) if sd > 0 else 0.0
    tail = float(student.isf(alpha / (2 * n if two_sided else n), n - 2))
    critical = (n - 1) / math.sqrt(n) * math.sqrt(tail**2 / (n - 2 + tail**2))
    return Grubbs(statistic, critical, index)
