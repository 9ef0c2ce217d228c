"""The least and the greatest value of every channel of a Block: worked out once, they spare most other looking."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class CellEdges:
    """least, most: float64, shape (channels,), NaN where a channel has a cell without a reading."""

    least: np.ndarray
    most: np.ndarray


def cell_edges(values: np.ndarray) -> CellEdges:
    """The edges of values float64, shape (channels, n); n is not 0."""
    return CellEdges(np.minimum.reduce(values, axis=1), np.maximum.reduce(values, axis=1))


def true_by_row(which: np.ndarray) -> np.ndarray:
    """How many are true in each row of a bool array, shape (rows, n): by their bits, several times faster than sums."""
    return np.bitwise_count(np.packbits(which, axis=1)).sum(axis=1, dtype=np.int64)
