"""The level a reading had a while ago: a mean over so many cells that ended so many cells before.

From running totals, which are added cell by cell with the carry in front, so that every cut gives the same bits.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Floats, running_count, running_total, with_past


def start(rows: int, width: int, lag: int) -> State:
    """Nothing seen. width: cells in the mean, lag: cells between its end and the cell it is given for."""
    return {"total": np.zeros(2 * rows), "past": np.zeros((2 * rows, width + lag)), "lag": lag}


def advance(state: State, x: Floats, least_share: float = 0.5) -> tuple[State, Floats]:
    """Mean of the known cells, [rows, n]; NaN where fewer than `least_share` of them are known."""
    rows, n = x.shape
    known, before = np.isfinite(x), state["total"]
    sums = running_total(before[:rows], x if known.all() else np.where(known, x, 0.0))
    totals = np.concatenate((sums, running_count(before[rows:], known)), axis=0)
    joined, past = with_past(state["past"], totals)
    lag, width = state["lag"], state["past"].shape[1] - state["lag"]
    window = joined[:, width : width + n] - joined[:, :n]
    total, count = window[:rows], window[rows:]
    enough = count >= max(1.0, least_share * width)
    mean = total / np.maximum(count, 1.0)
    mean[~enough] = np.nan
    last = totals[:, -1].copy() if n else state["total"]
    return {"total": last, "past": past, "lag": lag}, mean
