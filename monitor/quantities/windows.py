"""Sums over the last cells from running totals: as cheap for half an hour as for a minute."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.contract import State
from monitor.exact import Floats, running_count, running_total, with_past


def window_start(rows: int, most: int) -> State:
    """State for windows of up to `most` cells: nothing seen."""
    return {"sum": np.zeros((rows, most)), "count": np.zeros((rows, most))}


def window_sums(state: State, x: Floats, widths: Sequence[int]) -> tuple[list[Floats], list[Floats], State]:
    """Sum and number of the known values over the last `width` cells, this one included, for each width.

    x: [rows, n], NaN is not counted. Returns sums, counts (a list of [rows, n], one a width) and the new state.
    """
    known, n, most = np.isfinite(x), x.shape[1], state["sum"].shape[1]
    sums = running_total(state["sum"][:, -1], x if known.all() else np.where(known, x, 0.0))
    counts = running_count(state["count"][:, -1], known)
    out: list[list[Floats]] = []
    after: State = {}
    for name, totals in (("sum", sums), ("count", counts)):
        joined, after[name] = with_past(state[name], totals)
        out.append([totals - joined[:, most - width : most - width + n] for width in widths])
    return out[0], out[1], after


def window_mean(state: State, x: Floats, width: int, least: int = 1) -> tuple[Floats, State]:
    """Mean of the known values over the last `width` cells; NaN where fewer than `least` are known."""
    (total,), (count,), after = window_sums(state, x, (width,))
    mean = total / np.maximum(count, 1.0)
    mean[count < max(least, 1)] = np.nan
    return mean, after
