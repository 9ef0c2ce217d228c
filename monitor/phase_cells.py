"""Small sums over runs of cells, of which phases are made."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.exact import Floats

CHANGE_SHARE = 0.05


def add_up(start: Floats, step: float, n: int) -> Floats:
    """start + step, + step, ... one after the other, [rows, n]."""
    parts = np.full((len(start), n + 1), step)
    parts[:, 0] = start
    return np.add.accumulate(parts, axis=1)[:, 1:]


def stays(now: Floats, reference: float) -> NDArray[np.bool_]:
    """Where a wanted value lies within 5 % of the one it settled on."""
    return np.abs(now - reference) <= CHANGE_SHARE * max(abs(reference), 1e-9)


def first(found: NDArray[np.bool_]) -> int:
    """Place of the first that is true; behind the last where none is."""
    return int(np.argmax(found)) if found.any() else len(found)


def any_of(rows: NDArray[np.bool_]) -> list[bool]:
    """Whether it holds for any zone, cell by cell."""
    return np.logical_or.reduce(rows, axis=0).tolist()
