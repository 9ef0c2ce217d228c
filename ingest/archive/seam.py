"""Where a log begins just behind what an archive has: readings held there go on to hold in it.

Read as one log, the files of two days give cells that hold over midnight; imported one after the other they must, too.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ingest.archive.layout import HOUR_NS
from ingest.archive.place import Place
from ingest.archive.read import ArchivedLine
from ingest.block import FRESH, NONE, QUALITY_MASK, Block
from ingest.errors import BadLog


def held_over(place: Place, line: str, first: Block, hold_ns: Mapping[str, int]) -> Block:
    """The first Block of an import with what still holds from the archive in its empty leading cells.

    hold_ns: how long a reading stands, by channel. Holds longer than an hour end at an hour here.
    """
    try:
        before = list(ArchivedLine(place, line).blocks(first.t0 - HOUR_NS, first.t0, first.channels))
    except BadLog:  # nothing of the line yet
        return first
    if not before:
        return first
    values, status = first.values.copy(), first.status.copy()
    for row, key in enumerate(first.channels):
        found = _newest(before, row)
        if found is None:
            continue
        value, quality, at_ns = found
        fresh = (status[row] & FRESH) != 0
        lead = int(np.argmax(fresh)) if fresh.any() else first.n
        holds = (at_ns + hold_ns.get(key, 0) - first.t0) // first.step + 1
        last = max(0, min(lead, holds))
        empty = (status[row, :last] & QUALITY_MASK) == NONE
        values[row, :last][empty], status[row, :last][empty] = value, quality
    return Block(first.t0, first.step, first.channels, values, status, first.notes)


def _newest(blocks: list[Block], row: int) -> tuple[float, int, int] | None:
    """Value, quality and time of the newest reading, None where there is none or it was known to have ended."""
    if blocks[-1].status[row, -1] & QUALITY_MASK == NONE:
        return None
    for block in reversed(blocks):
        fresh = np.flatnonzero(block.status[row] & FRESH)
        if len(fresh):
            cell = int(fresh[-1])
            quality = int(block.status[row, cell]) & QUALITY_MASK
            return float(block.values[row, cell]), quality, block.t0 + cell * block.step
    return None
