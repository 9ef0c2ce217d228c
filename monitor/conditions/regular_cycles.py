"""Whether a stretch of readings swings regularly: cycles counted, their length, height and shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

HYSTERESIS_SHARE = 0.25
"""A swing must pass this part of the whole height on either side of the middle to count: noise does not."""

SPREAD_OF_LENGTHS = 0.25
SPREAD_OF_HEIGHTS = 0.4
"""Regular means that standard deviations of cycle lengths and heights stay below these shares of their means: a cycle
of a controller repeats itself, disturbances do not. Common practice, no source."""


SAME_SHAPE = 0.6
"""So much of the variance one mean cycle must explain."""


@dataclass(frozen=True)
class Cycles:
    """Whole cycles in a stretch. count: 0 where it does not swing. length: samples, mean. height: peak to peak, mean.

    regular: lengths and heights repeat. fall_share: part of a cycle spent from its peak to the next trough, mean.
    """

    count: int
    length: float
    height: float
    regular: bool
    fall_share: float


NONE = Cycles(0, float("nan"), float("nan"), False, float("nan"))


def cycles(x: NDArray[np.float64], least_height: float) -> Cycles:
    """Cycles of a stretch [n] without gaps; `NONE` where one is missing or it swings by less than `least_height`.

    A straight line through the ends' quarters is taken off first, so that a drift is no swing.
    """
    n = len(x)
    if n < 8 or not np.isfinite(x).all():
        return NONE
    quarter = n // 4
    first, last = float(np.sort(x[:quarter])[quarter // 2]), float(np.sort(x[-quarter:])[quarter // 2])
    flat = x - (first + (last - first) * np.arange(n) / (n - 1))
    low, high = np.sort(flat)[[n // 20, n - 1 - n // 20]]
    if high - low < 0.8 * least_height:
        return NONE
    middle, band = (low + high) / 2, HYSTERESIS_SHARE * (high - low)
    side = np.where(flat > middle + band, 1, np.where(flat < middle - band, -1, 0))
    known = np.flatnonzero(side)
    turns = known[1:][(side[known[1:]] == 1) & (side[known[:-1]] == -1)]
    if len(turns) < 3:
        return NONE
    lengths = np.diff(turns).astype(float)
    heights, falls = [], []
    for a, b in zip(turns[:-1].tolist(), turns[1:].tolist(), strict=True):
        part = flat[a:b]
        peak = int(np.argmax(part))
        trough = peak + int(np.argmin(part[peak:]))
        heights.append(float(part[peak] - part[trough]))
        falls.append((trough - peak) / (b - a))
    tall = np.array(heights)
    # A turn falls between two samples: 0.3 of a sample is the spread of a perfect clock.
    regular = bool(
        lengths.std() <= SPREAD_OF_LENGTHS * lengths.mean() + 0.3 and tall.std() <= SPREAD_OF_HEIGHTS * tall.mean()
    )
    regular = regular and _repeats(flat, turns) >= SAME_SHAPE
    return Cycles(len(lengths), float(lengths.mean()), float(tall.mean()), regular, float(np.mean(falls)))


def _repeats(x: NDArray[np.float64], turns: NDArray[np.int64]) -> float:
    """Share of the variance of whole cycles that one mean shape explains; noise has none."""
    lengths = np.diff(turns)
    bins = max(3, min(8, int(lengths.mean() // 2)))
    place = np.concatenate([bins * np.arange(length) // length for length in lengths.tolist()])
    part = x[turns[0] : turns[-1]]
    count = np.bincount(place, minlength=bins)
    shape = np.bincount(place, weights=part, minlength=bins) / np.fmax(count, 1)
    spread = float(np.square(part - part.mean()).mean())
    return 1.0 - float(np.square(part - shape[place]).mean()) / spread if spread > 0 else 0.0


def resolution(x: NDArray[np.float64]) -> float:
    """Smallest step between neighbouring readings, 0 where there is none: what rounding may add to a height."""
    steps = np.abs(np.diff(x))
    steps = steps[steps > 1e-9]
    return float(steps.min()) if len(steps) else 0.0
