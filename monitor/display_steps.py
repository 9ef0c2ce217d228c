"""How many values of its display a reading took lately.

One that took two flickers only for as long as its mean lies near the edge between them, and rests when it drifts to the
middle of one: its rest is no news. One that took more scatters by more than a step of its display.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Floats, blank, trailing_extremes, with_past

FEWEST, WITHIN_S = 3, 600.0
"""Values within ten minutes from which a reading scatters by more than a step of its display."""

_FINEST = 1e-6
"""Differences below this are those of numbers as computers write them, not steps of a display; in the role's unit."""


def start(k: int, cells: int) -> State:
    """No reading of k channels yet. cells: 10 s cells in `WITHIN_S`."""
    return {"low": blank(k, 1), "step": np.full(k, np.inf), "extremes": blank(2 * k, cells - 1)}


def advance(state: State, low: Floats, high: Floats) -> tuple[Floats, State]:
    """Values that each channel could show between its least and its greatest reading of the last `WITHIN_S`, [k, n].

    low, high: of each cell, [k, n]. The step of the display is the least difference seen so far.
    """
    k, n = low.shape
    joined, low_state = with_past(state["low"], low)
    with np.errstate(invalid="ignore", divide="ignore"):
        apart = np.fmin(*(np.where(d > _FINEST, d, np.inf) for d in (high - low, np.abs(low - joined[:, :n]))))
        step = np.minimum.accumulate(np.concatenate((state["step"][:, None], apart), axis=1), axis=1)
        least, most, extremes = trailing_extremes(state["extremes"], np.concatenate((low, high), axis=0))
        values = 1.0 + np.rint((most[k:] - least[:k]) / step[:, 1:])
    return values, {"low": low_state, "step": step[:, -1].copy(), "extremes": extremes}
