"""For how long all zones of a line have read the same to the digit, where that is longer than they ever do by
themselves: their controller was silent, and what they show then has moved meanwhile.

In whole degrees zones at rest stand for minutes, all of them together: only a silence three times as long as any before
tells of a controller.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Bools, Floats, run_length, running_count

STOOD_S, LONGER, MOVES = 60.0, 3, 100
"""Least silence; how many times the longest before it; and how often zones have to have moved before that is known.
Common practice, no source."""

STEEL_C_S = 0.1
"""What steel does meanwhile, without heat or with all of it: 6 C/min (value from memory)."""


def start() -> State:
    """Nothing seen. stood: cells for which no zone has moved; longest: the most of them so far; moves: cells in which
    any did."""
    return {name: np.zeros(1, np.int64) for name in ("stood", "longest", "moves")}


def may_have_moved_c(state: State, moves: Bools, step_s: float) -> tuple[Floats, State]:
    """How far zones may be off in each cell because none was read before it, C [n], 0 where that is not so; and the
    state. moves: where a zone reads something else than last, [zone, n]. A single zone tells nothing."""
    n = moves.shape[1]
    if len(moves) < 2 or not n:
        return np.zeros(n), {name: state[name] for name in start()}
    any_moves = np.logical_or.reduce(moves, axis=0)
    length, stood_after = run_length(state["stood"], ~any_moves[None, :])
    stood = np.concatenate((state["stood"], length[0]))[:n]
    ended = np.where(any_moves, stood, 0)
    longest = np.maximum.accumulate(np.concatenate((state["longest"], ended)))
    moved = running_count(state["moves"], any_moves[None, :])[0]
    silent = (stood * step_s >= STOOD_S) & (stood > LONGER * longest[:n]) & (moved - any_moves >= MOVES)
    after = {
        "stood": stood_after,
        "longest": longest[-1:].copy(),
        "moves": np.minimum(moved[-1:], MOVES).astype(np.int64),
    }
    return np.where(silent, STEEL_C_S * step_s * stood, 0.0), after
