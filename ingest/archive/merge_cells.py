"""Cells of an import over cells that are there: what is equal or empty is filled, what contradicts is reported."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ingest.archive.counts import MOST_LISTED, Brought, Contradiction
from ingest.archive.runs import blocks_of, on_grid, with_channels
from ingest.block import FRESH, NONE, QUALITY_MASK, Block


@dataclass(frozen=True)
class Merged:
    """blocks: what is to be kept, with all channels. changed: it differs from what was there."""

    blocks: list[Block]
    changed: bool
    brought: Brought


def merge_cells(old: Sequence[Block], new: Sequence[Block], channels: tuple[str, ...]) -> Merged:
    """Blocks of one stretch of time, on one grid. channels: of both, in the order in which they are kept.

    A reading that came in its cell stays as it was first accepted; an equal one adds nothing, another one
    contradicts. It takes the place of nothing and of a value that was only held. Of two held values, or a held
    value and none, the one whose reading is newer stands, in doubt the one that was there.
    """
    if not new:
        return Merged([with_channels(block, channels) for block in old], False, Brought())
    if not old:
        fresh = sum(int(np.count_nonzero(block.status & FRESH)) for block in new)
        rows = sum(block.n for block in new)
        return Merged([with_channels(block, channels) for block in new], True, Brought(rows=rows, new=fresh))
    step = new[0].step
    t0 = min(old[0].t0, new[0].t0)
    n = (max(old[-1].end, new[-1].end) - t0) // step
    values, status, rows = on_grid(old, t0, n, channels)
    other_values, other_status, other_rows = on_grid(new, t0, n, channels)
    here, there = (status & FRESH) != 0, (other_status & FRESH) != 0
    alike = (values == other_values) | (np.isnan(values) & np.isnan(other_values))
    alike &= (status & QUALITY_MASK) == (other_status & QUALITY_MASK)
    both = here & there
    wrong = both & ~alike
    added = other_rows & ~rows
    take = (there & ~here) | added | _held_better(here, there, status, other_status, alike)
    brought = Brought(
        rows=int(np.count_nonzero(added)),
        new=int(np.count_nonzero(there & ~here)),
        same=int(np.count_nonzero(both & alike)),
    )
    if wrong.any():
        brought = brought.refused(
            _listed(wrong, t0, step, channels, (values, status), (other_values, other_status)),
            int(np.count_nonzero(wrong)),
        )
    if not take.any() and not added.any():
        return Merged([with_channels(block, channels) for block in old], False, brought)
    values[take], status[take] = other_values[take], other_status[take]
    kept = np.flatnonzero(rows | other_rows)
    times = t0 + step * kept
    return Merged(list(blocks_of(times, step, channels, values[:, kept], status[:, kept])), True, brought)


def _held_better(
    here: np.ndarray, there: np.ndarray, status: np.ndarray, other_status: np.ndarray, alike: np.ndarray
) -> np.ndarray:
    """Cells without a reading of their own on either side that are better taken from the import."""
    neither = ~here & ~there & ~alike & ((other_status & QUALITY_MASK) != NONE)
    if not neither.any():
        return neither
    places = np.arange(here.shape[1], dtype=np.int32)
    newest = np.maximum.accumulate(np.where(here, places, -1), axis=1)
    other_newest = np.maximum.accumulate(np.where(there, places, -1), axis=1)
    empty = (status & QUALITY_MASK) == NONE
    return neither & ((other_newest > newest) | (empty & (other_newest == newest)))


def _listed(
    wrong: np.ndarray,
    t0: int,
    step: int,
    channels: tuple[str, ...],
    kept: tuple[np.ndarray, np.ndarray],
    refused: tuple[np.ndarray, np.ndarray],
) -> list[Contradiction]:
    """The first contradictions in order of time."""
    cells, rows = np.nonzero(wrong.T)
    return [
        Contradiction(
            t0 + int(cell) * step,
            channels[row],
            _text(float(kept[0][row, cell]), int(kept[1][row, cell])),
            _text(float(refused[0][row, cell]), int(refused[1][row, cell])),
        )
        for cell, row in zip(cells[:MOST_LISTED], rows[:MOST_LISTED], strict=True)
    ]


def _text(value: float, status: int) -> str:
    word = ("", " (uncertain)", " (bad)", "")[status & QUALITY_MASK]
    return f"{value!r}{word}"
