"""Out of an archive: Blocks to the bit as they were imported, coarser levels for charts, what there is."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

import numpy as np

from ingest.archive.cells_file import CellsFile
from ingest.archive.coarse import Coarse, joined
from ingest.archive.coarse_file import read_coarse
from ingest.archive.day_book import DayBook, DayRecord
from ingest.archive.layout import DAY_NS, start_of, widths_for
from ingest.archive.line_book import lines_in, read_step
from ingest.archive.merge_notes import LASTING_KINDS
from ingest.archive.place import Place, open_place
from ingest.archive.runs import with_channels
from ingest.block import Block, Note
from ingest.errors import BadLog, nearest

Read = TypeVar("Read")


class ArchivedLine:
    """One line of an archive as it stood when this was made.

    step: ns. channels: of all days, in the order in which they came. first, end: of its cells, UTC ns.
    Raises BadLog where the archive does not hold the line.
    """

    def __init__(self, archive: str | Place, line: str) -> None:
        self.place, self.line = open_place(archive), line
        step = read_step(self.place, line)
        self._book = DayBook(self.place, line)
        records = [record for day in self._book.days if (record := self._book.at(day)) is not None]
        if step is None or not records:
            known = lines_in(self.place)
            near = nearest(line, known) or known[:5]
            like = f"; it holds {', '.join(map(repr, near))}" if near else "; it is empty or is no archive"
            raise BadLog(str(self.place), f"archive has nothing of line '{line}'{like}")
        self.step = step
        self.channels = tuple(dict.fromkeys(key for record in records for key in record.channels))
        self.first, self.end = records[0].first, records[-1].end

    def blocks(
        self, t0: int | None = None, t1: int | None = None, channels: Sequence[str] | None = None
    ) -> Iterator[Block]:
        """Cells that start in [t0, t1) with their notes, in order; Blocks end at whole hours and at gaps.

        channels: which and in which order, None for all. A channel that a day does not have is empty on it.
        """
        low = self.first if t0 is None else t0
        high = self.end if t1 is None else t1
        wanted = self.channels if channels is None else tuple(channels)
        for record in self._records(low, high):
            yield from self._day(record, low, high, wanted)

    def notes(self, t0: int, t1: int) -> tuple[Note, ...]:
        """Notes in [t0, t1), by time; no cells are read."""
        found = (note for record in self._records(t0, t1) for note in record.notes)
        return tuple(sorted(note for note in found if t0 <= note.at_ns < t1))

    def texts_before(self, t_ns: int) -> tuple[Note, ...]:
        """The notes that say which lot and recipe hold at a time: the last of each kind up to it."""
        found: dict[str, Note] = {}
        for day in reversed(self._book.days):
            record = self._book.at(day) if start_of(day) <= t_ns else None
            for note in reversed(record.notes if record else ()):
                if note.kind in LASTING_KINDS and note.at_ns <= t_ns:
                    found.setdefault(note.kind, note)
            if len(found) == len(LASTING_KINDS):
                break
        return tuple(sorted(found.values()))

    def coarse(self, t0: int, t1: int, width_s: int, channels: Sequence[str] | None = None) -> Coarse:
        """Buckets of one level that overlap [t0, t1), each under its start; those without a reading are left out.

        Raises ValueError for a level that is not kept at this cadence.
        """
        if width_s not in widths_for(self.step):
            raise ValueError(f"no level of {width_s} s is kept; there are {widths_for(self.step)}")
        wanted = self.channels if channels is None else tuple(channels)
        empty = np.zeros((len(wanted), 0))
        parts = [Coarse(width_s, wanted, np.zeros(0, np.int64), empty, empty, empty, empty.astype(np.int32))]
        for record in self._records(t0, t1, reach_ns=width_s * 10**9):
            if record.coarse:
                parts.append(self._again(record, lambda now: self._read_coarse(now, width_s, wanted, t0, t1)))
        return joined(parts)

    def _read_coarse(self, record: DayRecord, width_s: int, wanted: tuple[str, ...], t0: int, t1: int) -> Coarse:
        with self.place.open(record.coarse) as source:
            return read_coarse(source, width_s, wanted, t0, t1)

    def _records(self, low: int, high: int, reach_ns: int = 0) -> Iterator[DayRecord]:
        for day in self._book.days:
            start = start_of(day)
            if start < high and start + DAY_NS + reach_ns > low:
                record = self._book.at(day)
                if record is not None:
                    yield record

    def _day(self, record: DayRecord, low: int, high: int, wanted: tuple[str, ...]) -> Iterator[Block]:
        done = low
        file, source, notes = self._again(record, self._open)
        with source:
            for group, (first, end) in enumerate(file.spans):
                if end <= done or first >= high:
                    continue
                for block in file.blocks(group, wanted):
                    start = max(0, -((block.t0 - low) // block.step))
                    last = min(block.n, -((block.t0 - high) // block.step))
                    if start < last:
                        inside = tuple(note for note in notes if block.t0 <= note.at_ns < block.end)
                        full = with_channels(block, wanted)
                        noted = Block(full.t0, full.step, wanted, full.values, full.status, inside)
                        yield noted if (start, last) == (0, block.n) else noted.cut(start, last)

    def _open(self, record: DayRecord):
        source = self.place.open(record.cells)
        return CellsFile(source), source, record.notes

    def _again(self, record: DayRecord, read: Callable[[DayRecord], Read]) -> Read:
        """An import may have put new files in the place of those of a day just now; then these are read."""
        try:
            return read(record)
        except FileNotFoundError:
            now = DayBook(self.place, self.line).at(record.day)
            if now is None or now.number == record.number:
                raise BadLog(str(self.place), f"files of {record.day} of line '{self.line}' are missing") from None
            return read(now)


def archive_blocks(
    archive: str | Place,
    line: str,
    t0: int | None = None,
    t1: int | None = None,
    channels: Sequence[str] | None = None,
) -> Iterator[Block]:
    """Blocks of a line with the cells that start in [t0, t1), UTC ns; see `ArchivedLine.blocks`. Raises BadLog."""
    return ArchivedLine(archive, line).blocks(t0, t1, channels)
