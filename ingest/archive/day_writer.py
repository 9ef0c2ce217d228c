"""One day of a line under an import: its cells go row group by row group into a new file beside the old one."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor, Future
from contextlib import ExitStack, suppress
from dataclasses import dataclass

import pyarrow as pa

from ingest.archive.cells_file import CellsFile, CellsWriter
from ingest.archive.coarse import Coarse, coarse_levels, joined
from ingest.archive.coarse_file import write_coarse
from ingest.archive.counts import Brought
from ingest.archive.day_book import DayBook, DayRecord
from ingest.archive.layout import cells_folder, coarse_folder, file_name, group_ns
from ingest.archive.merge_cells import merge_cells
from ingest.archive.merge_notes import MergedNotes, Span, Texts, merge_notes
from ingest.archive.place import Place
from ingest.archive.runs import with_channels
from ingest.block import Block, Note


@dataclass(frozen=True)
class Target:
    """Where an import writes. number: of the import. dry: nothing is written."""

    place: Place
    line: str
    number: str
    dry: bool = False


class DayWriter:
    """Takes the Blocks of one day in order, each within a row group; nothing of it counts before `close`.

    Memory: two row groups of cells and a day of coarser levels. folding: works out the coarser levels.
    """

    def __init__(
        self, target: Target, book: DayBook, day: str, step: int, channels: tuple[str, ...], folding: Executor
    ) -> None:
        self._target, self._book, self._day, self._step = target, book, day, step
        self._before = book.at(day)
        known = self._before.channels if self._before else ()
        self._channels = known + tuple(key for key in channels if key not in known)
        self._group_ns = group_ns(step)
        self._open = ExitStack()
        self._old: CellsFile | None = None
        if self._before is not None:
            self._old = CellsFile(self._open.enter_context(target.place.open(self._before.cells)))
        self._writer: CellsWriter | None = None
        self._brought = Brought()
        self._changed = False
        self._folding = folding
        self._levels: list[Future[list[Coarse]]] = []
        self._given: list[Block] = []
        self._unchanged: list[int] = []  # slots passed by while nothing had to be written
        self._slot = -1
        self._written: list[Span] = []
        self._covered: list[Span] = []
        self._filled: list[Span] = []
        self._notes: list[Note] = []
        self._old_slots: dict[int, int] = {}
        if self._old is not None:
            self._old_slots = {first // self._group_ns: group for group, (first, _) in enumerate(self._old.spans)}

    def add(self, block: Block) -> None:
        """The next Block."""
        slot = block.t0 // self._group_ns
        if self._given and slot != self._slot:
            self._flush()
        self._slot = slot
        self._given.append(block)
        self._notes.extend(block.notes)

    def close(self, texts: Texts) -> tuple[Brought, tuple[Note, ...]]:
        """What the import brought to this day, and the day's notes. texts: that hold when it begins."""
        if self._given:
            self._flush()
        for slot in sorted(self._old_slots):
            self._pass(slot)
        notes = merge_notes(self._before.notes if self._before else (), self._notes, self._covered, self._filled, texts)
        self._count_notes(notes)
        with self._open:
            if self._changed and not self._target.dry:
                self._put(self._finish(), notes)
            elif notes.new and not self._target.dry:
                assert self._before is not None
                self._put((self._before.cells, self._before.coarse), notes)
        return self._brought, notes.notes

    def abandon(self) -> None:
        """The import failed; the half-written file is of no account."""
        if self._writer is not None:
            with suppress(pa.ArrowException, OSError):
                self._writer.close()
        error = _Abandoned()
        self._open.__exit__(_Abandoned, error, None)

    def _flush(self) -> None:
        slot, given, self._given = self._slot, self._given, []
        for earlier in sorted(self._old_slots):
            if earlier < slot:
                self._pass(earlier)
        old = self._old_blocks(slot)
        merged = merge_cells(old, given, self._channels)
        self._brought = self._brought.plus(merged.brought)
        self._covered += _spans(old)
        self._filled += _without(_spans(given), _spans(old))
        if merged.changed:
            self._start()
        if self._changed:
            self._write(merged.blocks)
        else:
            self._unchanged.append(slot)

    def _pass(self, slot: int) -> None:
        """A row group of the old file of which the import has nothing."""
        if self._changed:
            old = self._old_blocks(slot)
            self._covered += _spans(old)
            self._write([with_channels(block, self._channels) for block in old])
        else:
            self._unchanged.append(slot)
            if self._old is not None:
                self._covered.append(self._old.spans[self._old_slots.pop(slot)])

    def _old_blocks(self, slot: int) -> list[Block]:
        group = self._old_slots.pop(slot, None)
        if group is None or self._old is None:
            return []
        return list(self._old.blocks(group, self._old.channels))

    def _start(self) -> None:
        """Something changes: the groups before it are copied."""
        if self._changed:
            return
        self._changed = True
        if not self._target.dry:
            path = f"{cells_folder(self._target.line, self._day)}/{self._name('cells')}"
            sink = self._open.enter_context(self._target.place.create(path))
            self._writer = CellsWriter(sink, self._target.line, self._step, self._channels)
        if self._old is not None:
            slots = {first // self._group_ns: group for group, (first, _) in enumerate(self._old.spans)}
            for slot in self._unchanged:
                if slot in slots:
                    old = self._old.blocks(slots[slot], self._old.channels)
                    self._write([with_channels(block, self._channels) for block in old])

    def _write(self, blocks: list[Block]) -> None:
        self._written += _spans(blocks)
        if self._writer is not None:
            if self._levels:
                self._levels[-1].result()  # so that no more than one row group waits
            self._levels.append(self._folding.submit(coarse_levels, blocks))
            self._writer.write(blocks)

    def _finish(self) -> tuple[str, str]:
        """Ends the new files and gives their paths."""
        assert self._writer is not None
        self._writer.close()
        self._open.close()
        cells = f"{cells_folder(self._target.line, self._day)}/{self._name('cells')}"
        levels = [joined(level) for level in zip(*(one.result() for one in self._levels), strict=True)]
        if not any(len(level.t) for level in levels):
            return cells, ""
        coarse = f"{coarse_folder(self._target.line, self._day)}/{self._name('coarse')}"
        with self._target.place.create(coarse) as sink:
            write_coarse(sink, self._target.line, levels)
        return cells, coarse

    def _put(self, files: tuple[str, str], notes: MergedNotes) -> None:
        """The day stands so from now on."""
        before, channels, spans = self._before, self._channels, self._written
        rows = sum(end - start for start, end in spans) // self._step
        if before is not None and not spans:  # notes only
            channels, spans, rows = before.channels, [(before.first, before.end)], before.rows
        imports = {**(before.imports if before else {}), self._target.number: self._brought.as_dict()}
        self._book.put(
            DayRecord(
                self._day, self._book.next_number(self._day), self._step, channels, *files, rows,
                spans[0][0], spans[-1][1], notes.notes, imports,
            )
        )  # fmt: skip

    def _count_notes(self, notes: MergedNotes) -> None:
        self._brought = self._brought.plus(Brought(notes=notes.new)).refused(notes.refused, len(notes.refused))

    def _name(self, kind: str) -> str:
        before = self._before.cells if self._before else ""
        return file_name(kind, self._target.line, self._day, before, self._target.number)


class _Abandoned(Exception):
    """Ends the open files without finishing them."""


def _spans(blocks: Sequence[Block]) -> list[Span]:
    """Time with cells; neighbours joined."""
    spans: list[Span] = []
    for block in blocks:
        if spans and spans[-1][1] == block.t0:
            spans[-1] = (spans[-1][0], block.end)
        else:
            spans.append((block.t0, block.end))
    return spans


def _without(spans: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """The time of `spans` that is not in `taken`; both in order."""
    left: list[Span] = []
    for start, end in spans:
        for low, high in taken:
            if high <= start or low >= end:
                continue
            if low > start:
                left.append((start, low))
            start = max(start, high)
        if start < end:
            left.append((start, end))
    return left
