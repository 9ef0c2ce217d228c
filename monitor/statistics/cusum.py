"""Tabular cumulative sums, one for each side of the target.

Reference: NIST/SEMATECH e-Handbook 6.3.2.3.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class CusumPath:
    """Sums along the last axis of the readings; the last of each is the state for the block after.

    high: of what went above target + k. low: of what went below target - k. Both >= 0, in the readings' unit.
    """

    high: np.ndarray
    low: np.ndarray

    def signals(self, h: float) -> np.ndarray:
        """Where either sum is above h."""
        return (self.high > h) | (self.low > h)


def cusum(
    values: np.ndarray,
    *,
    target: float | np.ndarray,
    k: float | np.ndarray,
    high: float | np.ndarray = 0.0,
    low: float | np.ndarray = 0.0,
) -> CusumPath:
    """Sums of the readings' distance beyond k on either side of the target.

    values: shape (..., n). k: half the shift to be found, in the readings' unit, >= 0. high, low: sums
    before the first reading, shape (...). A missing reading leaves both sums as they are. Same bits
    wherever a series is cut.
    """
    if np.any(np.less(k, 0)):
        raise ValueError(f"CUSUM reference value k must be >= 0 (got {k})")
    highs, lows = np.empty(values.shape), np.empty(values.shape)
    for cell in range(values.shape[-1]):
        distance = values[..., cell] - target
        there = ~np.isnan(distance)
        high = np.where(there, np.maximum(0, high + distance - k), high)
        low = np.where(there, np.maximum(0, low - distance - k), low)
        highs[..., cell], lows[..., cell] = high, low
    return CusumPath(highs, lows)


def shift_began(sums: np.ndarray, signal: int) -> int:
    """Index of the reading at which a shift probably began: the one after the sum last stood at zero.

    sums: one side, shape (n,). signal: index at which it signalled.
    """
    at_zero = np.flatnonzero(sums[: signal + 1] == 0)
    return int(at_zero[-1]) + 1 if at_zero.size else 0
