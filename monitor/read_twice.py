"""Whether one reading alone says it, or a second one has: what a slip between sensor and log must never be enough for.

A cell is no reading: in a log with a row in five seconds, judged in cells of one, a slip stands in five of them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, accumulate_while, run_length, with_past
from monitor.view import Readings

STANDS_S = 15.0
"""What has stood longer than this without a second reading comes from a logger that writes changes only: it would have
written the way back. A reading stands no longer than this in a log on a clock (`ingest.roles`, pressures and drive)."""

TWO = 2


def start(rows: int) -> State:
    """Nothing holds."""
    return {"readings": np.zeros(rows), "cells": np.zeros(rows, np.int64)}


def on_delay_s(on_s: float, ctx: Context) -> float:
    """The on-delay, of two readings at least however far apart they are, s."""
    return max(on_s, TWO * ctx.step_s)


def arrived(view: Readings, keys: Sequence[str]) -> Bools:
    """Cells in which a reading of any of these channels came, [n]; all of them where that is not told."""
    places = [view.index[key] for key in keys if key in view.index]
    if view.fresh is None or not places:
        return np.ones(view.n, bool)
    return np.logical_or.reduce(view.fresh(places), axis=0)


def advance(state: State, holds: Bools, came: Bools, ctx: Context) -> tuple[State, Bools]:
    """Where `holds` goes on but has to wait for a second reading: no cell to be counted, [rows, n].

    The first cell counts, then the next in which a reading came, then every one: with `on_delay_s` that makes two
    readings at least. What stands for too long to be a slip waits no longer. holds: [rows, n]. came: cells in which a
    reading came, [rows, n] or [n].
    """
    if not holds.any():
        return (start(len(holds)) if holds.shape[1] else state), holds
    seen = np.broadcast_to(came, holds.shape).astype(float)
    count, readings = accumulate_while(state["readings"], seen, holds)
    length, cells = run_length(state["cells"], holds)
    waits = (length > 1) & (count < TWO) & (length <= ctx.cells(STANDS_S))
    return {"readings": readings, "cells": cells}, waits


def waiting(state: State, ctx: Context) -> Bools:
    """Whether the last cell had to wait, [rows, 1]: what a call begins with."""
    cells = state["cells"]
    return ((cells > 1) & (state["readings"] < TWO) & (cells <= ctx.cells(STANDS_S)))[:, None]


def higher(before: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Of every two cells on end the higher, so that one odd low one is in no mean: [rows, n] and what comes next.

    before: [rows, 1], the last cell of the call before, blank at first. NaN where the cell itself is not known.
    """
    joined, after = with_past(before, x)
    return np.where(np.isnan(x), np.nan, np.fmax(x, joined[:, : x.shape[1]])), after


def middle(before: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Of every three cells on end the middle one, a cell late, so that one odd cell is in no mean however far out it
    is: [rows, n] and what comes next. For what has minutes.

    before: [rows, 2], the last cells of the call before, blank at first. Where one of the three is not known, the cell
    itself.
    """
    joined, after = with_past(before, x)
    first, second = joined[:, : x.shape[1]], joined[:, 1 : 1 + x.shape[1]]
    low, high = np.minimum(first, second), np.maximum(first, second)
    of_three = np.maximum(low, np.minimum(high, x))
    return np.where(np.isnan(of_three), x, of_three), after
