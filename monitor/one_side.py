"""A finding keeps the side it began with: what lay below and now lies above is another finding."""

from __future__ import annotations

import numpy as np

from monitor.contract import DISARMED, State
from monitor.exact import Floats, run_length, turns
from monitor.levels import Levels

LONG_AGO = 1_000_000


def start(subjects: int) -> State:
    """Nothing has spoken yet."""
    return {"side": np.full(subjects, np.nan), "clear": np.full(subjects, LONG_AGO, np.int64)}


def one_side(state: State, level: Levels, value: Floats, off_cells: int) -> tuple[Levels, State]:
    """The levels, with the first cell on the other side disarmed: that ends what is open or begins, at this cell.

    Its worst cell would otherwise be the worst of both sides, and a shortage that ends with a minute of overshoot
    would be told as an excess from its first minute on. level, value: [subject, n]; the sign of value is the side.
    off_cells: the off-delay; a side that has not spoken for so long is forgotten, for its finding has closed.
    """
    speaks = level > 0
    side = np.where(speaks & np.isfinite(value), np.sign(value), np.nan)
    clear, clear_after = run_length(state["clear"], ~speaks)
    turned, newest = turns(state["side"], side)
    open_lately = np.concatenate((state["clear"][:, None], clear), axis=1)[:, :-1] < off_cells
    return np.where(turned & open_lately, np.int8(DISARMED), level), {"side": newest, "clear": clear_after}
