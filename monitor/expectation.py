"""What torque, pressure and melt temperature should be here and now, learned inside the run.

Once a minute, from steady minutes only, the median of each quantity moves a slow reference. A minute that lies
far off does not move it, so that a fault does not become the new normal. What is learned in a minute holds from
the next cell on, never backwards. A change of speed or rate starts it anew; the references before the change are
kept for the conditions that ask what the change should have done. Another recipe leaves nothing to compare with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.contract import State
from monitor.exact import Floats

ADOPT_MINUTES = 3
SLOWEST_WEIGHT = 1 / 20
OFF_SHARE = 0.03
OFF_SIGMAS = 4.0
GIVE_UP_MINUTES = 240
STABLE_SHARE = 0.04
LEAST_CELLS = 0.6
SCATTER_FLOOR_SHARE = 0.004
MAD_TO_SIGMA = 1.4826


@dataclass(frozen=True)
class Learned:
    """Expectations of a run of cells, [quantity, n] each, as known before each cell.

    before: the references that held before the last change of speed, rate or recipe.
    """

    reference: Floats
    scatter: Floats
    before: Floats


def start(quantities: int, minute_cells: int) -> State:
    """Nothing learned."""
    blank = np.full(quantities, np.nan)
    return {
        "cells": np.full((quantities, 0), np.nan),
        "calm": np.zeros(0, bool),
        "reference": blank,
        "scatter": blank,
        "before": blank,
        "recent": np.full((quantities, ADOPT_MINUTES), np.nan),
        "minutes": np.zeros(quantities),
        "off": np.zeros(quantities),
        "width": minute_cells,
    }


def advance(
    state: State, x: Floats, steady: NDArray[np.bool_], changed: NDArray[np.bool_], first_index: int
) -> tuple[State, Learned]:
    """Expectations for the cells of `x`, [quantity, n].

    steady: cells fit to learn from. changed: cells in which speed, rate or recipe was changed or the line stood.
    first_index: number of the first cell on the absolute grid; minutes end where (index + 1) % width == 0.
    """
    n, width = x.shape[1], state["width"]
    out = [np.full(x.shape, np.nan) for _ in range(3)]
    s = dict(state)
    first = 0
    while first < n:
        room = width - (first_index + first) % width
        last = min(n, first + room)
        moved = np.flatnonzero(changed[first:last])
        if moved.size:
            change = first + int(moved[0])
            _fill(out, s, first, change)
            s = _forget(s)
            _fill(out, s, change, change + 1)
            first = change + 1
            continue
        _fill(out, s, first, last)
        s["cells"] = np.concatenate((s["cells"], x[:, first:last]), axis=1)
        s["calm"] = np.concatenate((s["calm"], steady[first:last]))
        if (first_index + last) % width == 0:
            s = _minute(s)
        first = last
    return s, Learned(*out)


def _fill(out: list[Floats], s: State, first: int, last: int) -> None:
    for target, name in zip(out, ("reference", "scatter", "before"), strict=True):
        target[:, first:last] = s[name][:, None]


def _forget(s: State) -> State:
    """A change: what was known becomes 'before', once; learning starts anew."""
    known = np.isfinite(s["reference"])
    fresh = start(len(known), s["width"])
    return {**fresh, "before": np.where(known, s["reference"], s["before"])}


def _minute(s: State) -> State:
    """Take one finished minute into account, if it was steady throughout."""
    cells, calm = s["cells"], s["calm"]
    s = {**s, "cells": cells[:, :0], "calm": calm[:0]}
    if len(calm) < s["width"] or not calm.all():
        return s
    known = np.isfinite(cells)
    enough = known.sum(axis=1) >= LEAST_CELLS * s["width"]
    padded = np.where(enough[:, None], cells, 0.0)
    middle = row_medians(padded)
    median = np.where(enough, middle, np.nan)
    spread = MAD_TO_SIGMA * row_medians(np.abs(padded - middle[:, None]))
    reference, scatter, minutes, off = s["reference"], s["scatter"], s["minutes"], s["off"]
    has = np.isfinite(reference)
    tolerance = np.fmax(OFF_SIGMAS * scatter, OFF_SHARE * np.abs(reference))
    near = has & enough & (np.abs(median - reference) <= tolerance)
    weight = np.fmax(1.0 / (minutes + 1.0), SLOWEST_WEIGHT)
    around = MAD_TO_SIGMA * row_medians(np.abs(padded - np.where(has, reference, 0.0)[:, None]))
    around = np.fmax(around, SCATTER_FLOOR_SHARE * np.abs(reference))
    moved = np.where(near, reference + weight * (median - reference), reference)
    scattered = np.where(near, scatter + weight * (around - scatter), scatter)
    off = np.where(near, 0.0, np.where(has & enough, off + 1, off))
    recent = np.where(enough[:, None], np.concatenate((s["recent"][:, 1:], median[:, None]), axis=1), s["recent"])
    low, high = recent.min(axis=1), recent.max(axis=1)
    middle = np.sort(recent, axis=1)[:, ADOPT_MINUTES // 2]
    stable = enough & (high - low <= np.fmax(STABLE_SHARE * np.abs(middle), OFF_SIGMAS * spread))
    adopt = stable & (~has | (off >= GIVE_UP_MINUTES))
    first_scatter = np.fmax(np.fmax(spread, (high - low) / 2), SCATTER_FLOOR_SHARE * np.abs(middle))
    return {
        **s,
        "recent": recent,
        "reference": np.where(adopt, middle, moved),
        "scatter": np.where(adopt, first_scatter, scattered),
        "minutes": np.where(adopt, float(ADOPT_MINUTES), np.where(near, minutes + 1, minutes)),
        "off": np.where(adopt, 0.0, off),
    }


def row_medians(x: Floats) -> Floats:
    """Median of the known values of each row; every row has at least one. (numpy's own is 20 times slower here.)"""
    ordered = np.sort(x, axis=1)
    count = np.isfinite(x).sum(axis=1)
    rows = np.arange(len(x))
    return (ordered[rows, (count - 1) // 2] + ordered[rows, count // 2]) / 2
