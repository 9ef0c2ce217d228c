"""A base that stands still: the median of the first so many calm cells, kept until it is forgotten.

A reference that follows slowly, as the learned expectations do, follows a creeping fault too. What is learned in a
cell holds from the next one on.
"""

from __future__ import annotations

import itertools

import numpy as np

from monitor.contract import State
from monitor.exact import Bools, Floats
from monitor.view import CoarseView


def start(rows: int) -> State:
    """Nothing learned."""
    return {"cells": np.full((rows, 0), np.nan), "base": np.full(rows, np.nan), "full": False}


def advance(state: State, x: Floats, calm: Bools, forget: Bools, width: int) -> tuple[State, Floats]:
    """The base as known before each cell, [rows, n]. calm, forget: [n]; width: cells the base is made of."""
    n = x.shape[1]
    out = np.full(x.shape, np.nan)
    edges = np.flatnonzero(forget[1:] != forget[:-1]) + 1
    s = state
    for first, last in itertools.pairwise([0, *edges.tolist(), n]) if n else ():
        if forget[first]:
            s = start(len(x))
        else:
            s = _learn(s, x[:, first:last], calm[first:last], out[:, first:last], width)
    return s, out


def _learn(s: State, x: Floats, calm: Bools, out: Floats, width: int) -> State:
    if s["full"]:
        out[:] = s["base"][:, None]
        return s
    places = np.flatnonzero(calm)[: width - s["cells"].shape[1]]
    cells = np.concatenate((s["cells"], x[:, places]), axis=1)
    if cells.shape[1] < width:
        return {**s, "cells": cells}
    base = known_medians(cells, width // 2)
    out[:, int(places[-1]) + 1 :] = base[:, None]
    return {"cells": cells[:, :0], "base": base, "full": True}


def known_medians(x: Floats, least: int = 1) -> Floats:
    """Median of the known values of each row; NaN where fewer than `least` are known."""
    ordered = np.sort(x, axis=1)
    count = np.isfinite(x).sum(axis=1)
    rows, safe = np.arange(len(x)), np.maximum(count, 1)
    middle = (ordered[rows, (safe - 1) // 2] + ordered[rows, safe // 2]) / 2
    return np.where(count >= max(least, 1), middle, np.nan)


def long_steady(view: CoarseView, unchanged_s: float = 600.0, started_s: float = 1800.0) -> Bools:
    """Steady cells past the slide of torque and pressure that follows a start and the settling after a change."""
    return view.in_phase("steady") & (view.ages["unchanged"] >= unchanged_s) & (view.ages["started"] >= started_s)
