"""Cell means and extremes on an absolute grid, made of the journal's coarser levels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dashboards.clock import SECOND
from dashboards.source import Source
from ingest.block import BAD, QUALITY_MASK, Block

LEVELS_S = (600, 60, 10)


@dataclass(frozen=True)
class Means:
    """Cell means of some channels. mean, low, high: shape (len(keys), n), NaN where nothing was read.

    step: cell width in nanoseconds; t0 stands on its grid.
    """

    keys: tuple[str, ...]
    t0: int
    step: int
    mean: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def times(self) -> np.ndarray:
        """Middle of every cell, int64 nanoseconds."""
        return self.t0 + self.step * np.arange(self.mean.shape[1], dtype=np.int64) + self.step // 2

    def row(self, key: str) -> np.ndarray:
        """Means of one channel; all NaN if it is not there."""
        if key not in self.keys:
            return np.full(self.mean.shape[1], np.nan)
        return self.mean[self.keys.index(key)]


def good_values(block: Block) -> np.ndarray:
    """Readings with the bad ones taken out (NaN), a fresh array."""
    return np.where((block.status & QUALITY_MASK) == BAD, np.nan, block.values)


def means(
    source: Source,
    line: str,
    t0: int,
    t1: int,
    keys: Sequence[str],
    step: int,
    kind: Literal["reading", "quantity"] = "reading",
) -> Means:
    """Means, lows and highs of `keys` over the cells of `step` nanoseconds that touch [t0, t1).

    step: a whole multiple of 10 s. kind: 'reading' or 'quantity'.
    """
    width = next((w for w in LEVELS_S if step % (w * SECOND) == 0), None)
    if width is None:
        raise ValueError(f"cells of {step / SECOND:g} s are not a whole multiple of 10 s")
    first, last = t0 // step, -(-t1 // step)
    shape = (len(keys), max(0, last - first))
    nothing = Means(tuple(keys), first * step, step, *(np.full(shape, np.nan) for _ in range(3)))
    if not len(keys) or not shape[1]:
        return nothing
    levels = source.levels(line, tuple(keys), first * step, last * step, width, kind)
    if not len(levels.t):
        return nothing
    cell = levels.t // step - first
    inside = (cell >= 0) & (cell < shape[1])
    cell = cell[inside]
    starts = np.flatnonzero(np.r_[True, cell[1:] != cell[:-1]])
    count = levels.count[:, inside].astype(float)
    total = np.where(count > 0, levels.mean[:, inside], 0.0) * count
    rows = np.array([list(keys).index(key) for key in levels.channels], dtype=np.intp)
    at = (rows[:, None], cell[starts][None, :])
    counts = np.add.reduceat(count, starts, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        nothing.mean[at] = np.add.reduceat(total, starts, axis=1) / counts
    nothing.low[at] = np.fmin.reduceat(levels.minimum[:, inside], starts, axis=1)
    nothing.high[at] = np.fmax.reduceat(levels.maximum[:, inside], starts, axis=1)
    return nothing


def trailing_mean(values: np.ndarray, cells: int) -> np.ndarray:
    """Mean of each cell and the `cells` - 1 before it, last axis; NaN cells are left out and stay NaN."""
    if cells <= 1:
        return values
    there = ~np.isnan(values)
    pad = [(0, 0)] * (values.ndim - 1) + [(cells - 1, 0)]
    window = np.lib.stride_tricks.sliding_window_view
    total = window(np.pad(np.where(there, values, 0.0), pad), cells, axis=-1).sum(axis=-1)
    count = window(np.pad(there.astype(float), pad), cells, axis=-1).sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(there, total / count, np.nan)
