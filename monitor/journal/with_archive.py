"""The journal with an archive behind it: what was read before the journal begins, or after it ends, comes from there.

The archive gives readings, coarser levels and notes. What was never judged stays so: it has no phases, quantities and
findings, and pages must not take that for a clean run.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Literal

import numpy as np

from ingest.archive.layout import widths_for
from ingest.archive.read import ArchivedLine
from ingest.block import Block, Note
from ingest.errors import BadLog
from monitor.journal.cells import join, on_grid, shown
from monitor.journal.journal import Journal
from monitor.journal.levels import Levels, empty_levels, levels_of
from monitor.journal.readings import READING

LOOKED_AGAIN_S = 300.0
"""An import shows on the pages after so long at the latest."""

Span = tuple[int, int]


class JournalWithArchive(Journal):
    """Reads as a journal does. archive: folder or URL of the archive."""

    def __init__(self, url_or_path: str | Path, archive: str, *, create: bool = True) -> None:
        super().__init__(url_or_path, create=create)
        self._archive = archive
        self._opened: dict[str, tuple[float, ArchivedLine | None]] = {}

    def span(self, line: str) -> Span:
        """First cell and end of what the journal and the archive hold together."""
        first, end = super().span(line)
        archived = self._archived(line)
        if archived is None:
            return first, end
        return (archived.first, archived.end) if end <= first else (min(first, archived.first), max(end, archived.end))

    def channels(self, line: str) -> tuple[str, ...]:
        """Keys of the channels that readings are stored of, here or there."""
        archived = self._archived(line)
        return tuple(dict.fromkeys((*super().channels(line), *(archived.channels if archived else ()))))

    def blocks(self, line: str, t0: int, t1: int, channels: Sequence[str] | None = None) -> Block:
        """As `JournalReader.blocks`; cells outside the journal's own span come from the archive."""
        archived, outside = self._outside(line, t0, t1)
        if archived is None or not outside:
            return super().blocks(line, t0, t1, channels)
        wanted = self.channels(line) if channels is None else tuple(channels)
        own = super().blocks(line, t0, t1, wanted)
        first = on_grid(t0, archived.step)
        n = max(0, -(-(t1 - first) // archived.step))
        pieces = [piece for low, high in outside for piece in archived.blocks(low, high, wanted)]
        notes = sorted({*own.notes, *(note for piece in pieces for note in piece.notes)})
        # The journal's cells come last: where both have one, its is the one that was judged.
        inside = super().span(line)
        cut = _cut(own, *inside)
        block = shown(join([*pieces, *([cut] if cut is not None else [])], first, archived.step, n, wanted))
        return Block(block.t0, block.step, block.channels, block.values, block.status, tuple(notes))

    def levels(
        self,
        line: str,
        names: Sequence[str],
        t0: int,
        t1: int,
        width_s: int,
        kind: Literal["reading", "quantity"] = "reading",
    ) -> Levels:
        """As `JournalReader.levels`; buckets outside the journal's own span come from the archive."""
        levels = super().levels(line, names, t0, t1, width_s, kind)
        archived, outside = self._outside(line, int(levels.t[0]) if levels.t.size else t0, t1)
        if kind != READING or archived is None:
            return levels
        for low, high in outside:
            for part in _coarse(archived, low, high, width_s, tuple(names)):
                _lay_over(levels, part)
        return levels

    def notes(self, line: str, t0: int, t1: int) -> list[Note]:
        """Notes of the journal, and of the archive where the journal has no readings."""
        archived, outside = self._outside(line, t0, t1)
        own = super().notes(line, t0, t1)
        if archived is None or not outside:
            return own
        more = {note for low, high in outside for note in archived.notes(low, high)}
        return sorted({*own, *more})

    def _outside(self, line: str, t0: int, t1: int) -> tuple[ArchivedLine | None, list[Span]]:
        """The line's archive, and the parts of [t0, t1) that only it can give."""
        archived = self._archived(line)
        if archived is None:
            return None, []
        first, end = super().span(line)
        around = [(archived.first, archived.end)] if end <= first else [(archived.first, first), (end, archived.end)]
        return archived, [(max(t0, low), min(t1, high)) for low, high in around if max(t0, low) < min(t1, high)]

    def _archived(self, line: str) -> ArchivedLine | None:
        """What the archive holds of a line, at the journal's own cadence; None where it holds nothing."""
        at, archived = self._opened.get(line, (-LOOKED_AGAIN_S, None))
        if time.monotonic() - at < LOOKED_AGAIN_S:
            return archived
        try:
            archived = ArchivedLine(self._archive, line)
        except (BadLog, OSError):
            archived = None
        if archived is not None and archived.step != round(self.line(line).line.cadence_s * 1e9):
            archived = None
        self._opened[line] = (time.monotonic(), archived)
        return archived


def _cut(block: Block, first: int, end: int) -> Block | None:
    """The cells of a block that start in [first, end)."""
    low = max(0, -((block.t0 - first) // block.step))
    high = min(block.n, -((block.t0 - end) // block.step))
    return block.cut(low, high) if low < high else None


def _coarse(archived: ArchivedLine, t0: int, t1: int, width_s: int, names: tuple[str, ...]) -> Iterator[Levels]:
    """Buckets of [t0, t1); from the cells themselves where the archive keeps no such level."""
    if width_s not in widths_for(archived.step):
        for block in archived.blocks(t0, t1, names):
            yield levels_of(block, width_s)
        return
    found = archived.coarse(t0, t1, width_s, names)
    if not found.t.size:
        return
    levels = empty_levels(names, int(found.t[0]), int(found.t[-1]) + 1, width_s)
    bucket = (found.t - levels.t[0]) // (width_s * 10**9)
    levels.minimum[:, bucket], levels.maximum[:, bucket] = found.minimum, found.maximum
    levels.mean[:, bucket], levels.count[:, bucket] = found.mean, found.count
    yield levels


def _lay_over(into: Levels, part: Levels) -> None:
    """Puts buckets of the same channels in; one that has readings in both keeps all extremes and the fuller mean."""
    if not part.t.size or not into.t.size:
        return
    start = (int(part.t[0]) - int(into.t[0])) // (into.width_s * 10**9)
    low, high = max(0, -start), min(part.t.size, into.t.size - start)
    if low >= high:
        return
    here, there = slice(start + low, start + high), slice(low, high)
    fuller = part.count[:, there] > into.count[:, here]
    into.minimum[:, here] = np.fmin(into.minimum[:, here], part.minimum[:, there])
    into.maximum[:, here] = np.fmax(into.maximum[:, here], part.maximum[:, there])
    into.mean[:, here] = np.where(fuller, part.mean[:, there], into.mean[:, here])
    into.count[:, here] = np.where(fuller, part.count[:, there], into.count[:, here])
