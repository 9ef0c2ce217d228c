"""How soon a pressure came to zero at the stop before: what stands above it now, in a like time, drains no more.

A resolution of whole bars or a logger's deadband makes any slow fall look flat for minutes; what has fallen through the
same steps before, on the same hot line, and now does not, is no slow fall.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Bools, Floats, last_known, run_length

AFTER_S = 360.0
"""Melt relaxes within a minute or so; then two means of a minute, four minutes apart."""

NEAR_SHARE = 0.5
"""Part of what a zero may be off, up to which a pressure has come to zero: 1 to 3 bar is thermal shift."""

TIMES_AS_LONG = 2.0
"""What is so much slower than at the stop before is no thicker lot. Common practice, no source."""


def start(rows: int) -> State:
    """No stop seen."""
    return {
        "near": np.zeros(rows, np.int64),
        "off": np.zeros(rows, np.int64),
        "stood": np.zeros(1, np.int64),
        "came": np.full(rows, np.nan),
        "told": np.full(rows, np.nan),
    }


def advance(
    state: State, minute: Floats, near_bar: Floats, still: Floats, usable: Bools
) -> tuple[State, Bools, Floats]:
    """Where a pressure that came to zero at a stop before has not in this one, in twice the time, [rows, n]; and the
    time it took then, s, kept until the next stop, NaN where that was not seen.

    minute: mean of a minute, bar. near_bar: [rows, 1]. usable: where a stop shows it, [rows, n].
    """
    standing = still > 0
    with np.errstate(invalid="ignore"):
        near = standing & usable & (minute <= near_bar)
    near_for, near_state = run_length(state["near"], near)
    off_for, off_state = run_length(state["off"], ~near)
    stood, stood_state = run_length(state["stood"], standing[None, :])
    came, came_state = last_known(state["came"], np.where(near & (near_for == 1), still, np.nan))
    with np.errstate(invalid="ignore"):
        not_yet = standing & (off_for >= stood) & (still >= TIMES_AS_LONG * came) & (still >= AFTER_S)
    told, told_state = last_known(state["told"], np.where(standing, np.where(not_yet, came, -1.0), np.nan))
    after = {"near": near_state, "off": off_state, "stood": stood_state, "came": came_state, "told": told_state}
    return after, not_yet, np.where(told >= 0, told, np.nan)
