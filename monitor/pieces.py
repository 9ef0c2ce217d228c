"""A block in the pieces in which it is judged: gaps before it filled, cut at notes, begun 10 s cells put in front."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from ingest.block import Block, Note
from monitor.contract import NS, State
from monitor.view import Readings

LONGEST_FILLED_GAP_S = 300.0


def bridged(block: Block, awaited: int | None) -> list[Block | None]:
    """The block with what is missing before it: empty cells for a short gap, then None for a fresh start.

    awaited: start of the cell that would come next, UTC ns; None where nothing has been judged yet.
    """
    if awaited is None or block.t0 == awaited:
        return [block]
    gap = (block.t0 - awaited) // block.step
    filled = min(gap, round(LONGEST_FILLED_GAP_S * NS) // block.step)
    shape = (len(block.channels), filled)
    empty = Block(awaited, block.step, block.channels, np.full(shape, np.nan), np.full(shape, 3, np.uint8))
    return [empty, block] if filled == gap else [empty, None, block]


def cut_at_notes(block: Block, after: int | None, notes: Sequence[Note]) -> list[tuple[Block, tuple[Note, ...]]]:
    """The block in parts, each with the notes that come before its first cell is judged.

    notes: beside those of the block; what lies before `after`, the end of the cells before, was taken with them.
    """
    said = [note for note in notes if note.at_ns < block.end and (after is None or note.at_ns >= after)]
    ordered = sorted([*said, *block.notes])
    place = {note: max(0, (note.at_ns - block.t0) // block.step) for note in ordered}
    cells = sorted({*place.values(), 0, block.n})
    return [
        (
            block.cut(first, last, shared=True) if (first, last) != (0, block.n) else block,
            tuple(note for note in ordered if place[note] == first),
        )
        for first, last in itertools.pairwise(cells)
    ]


def with_pending(state: State, fine: Readings, width: int) -> Readings:
    """Cells left over from before, then these; from nothing, empty cells up to the last 10 s mark."""
    pending, raw, t0 = state["pending"], state["pending_raw"], state["pending_t0"]
    if t0 is None:
        lead = fine.t0 // fine.step % width
        pending = raw = np.full((len(fine.values), lead), np.nan)
        t0 = fine.t0 - lead * fine.step
    if not pending.shape[1]:
        return fine
    values = np.concatenate((pending, fine.values), axis=1)
    return Readings(t0, fine.step, fine.index, values, np.concatenate((raw, fine.raw), axis=1))
