"""Blocks of one line into an archive, day after day."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from ingest.archive.counts import Brought
from ingest.archive.day_book import DayBook
from ingest.archive.day_writer import DayWriter, Target
from ingest.archive.layout import day_of, group_ns
from ingest.archive.line_book import keep_step
from ingest.archive.merge_notes import LASTING_KINDS, Texts, last_texts
from ingest.archive.place import Place
from ingest.archive.runs import cut_at_multiples
from ingest.block import Block, Note


class ArchiveWriter:
    """Takes Blocks of one line in order of time; each day counts from when the next one begins, or from `close`.

    number: gives the number of the import when it is first needed. A day that this import has finished before is
    not written again, so an import that was cut off is simply repeated. dry: nothing is written, only counted.
    Raises BadLog where the archive keeps the line at another cadence.
    A day's files are ended in another thread while the next day begins; days count one after the other nevertheless.
    """

    def __init__(self, place: Place, line: str, number: Callable[[], str], *, dry: bool = False) -> None:
        self._place, self._line, self._dry = place, line, dry
        self._number = number
        self._book = DayBook(place, line)
        self._there: dict[str, tuple[Note, ...]] = {}  # notes of days before this import changed them
        self._given: dict[str, str] = {}  # texts that hold in the import before the day
        self._notes: list[Note] = []  # of the import, on the day
        self._day = ""
        self._writer: DayWriter | None = None
        self._newest: int | None = None
        self._folding, self._ends = ThreadPoolExecutor(1, "coarser levels"), ThreadPoolExecutor(1, "end of a day")
        self._ending: Future[None] | None = None
        self.brought = Brought()
        self.days_changed = 0

    def add(self, block: Block) -> None:
        """The next Block; raises ValueError where it starts before the end of the last one."""
        if self._newest is not None and block.t0 < self._newest:
            raise ValueError(f"block starts at {block.t0} ns, before the end of the last one at {self._newest} ns")
        if self._newest is None:
            keep_step(self._place, self._line, block.step, dry=self._dry)
        self._newest = block.end
        for piece in cut_at_multiples(block, group_ns(block.step)):
            day = day_of(piece.t0)
            if day != self._day:
                self._end_day()
                self._begin_day(day, piece)
            self._notes.extend(piece.notes)
            if self._writer is not None:
                self._writer.add(piece)

    def close(self) -> None:
        """The last day counts, too."""
        self._end_day()
        self._wait()
        self._ends.shutdown()
        self._folding.shutdown()

    def abandon(self) -> None:
        """The import failed: the day under way does not count."""
        self._ends.shutdown()  # a day that was whole may still come to count
        self._folding.shutdown()
        if self._writer is not None:
            self._writer.abandon()
            self._writer = None

    def _begin_day(self, day: str, block: Block) -> None:
        self._day = day
        before, number = self._book.at(day), self._number()
        if before is not None and number in before.imports:
            self._wait()
            self.brought = self.brought.plus(Brought.from_dict(before.imports[number]))
            return
        self._there[day] = before.notes if before else ()
        target = Target(self._place, self._line, number, self._dry)
        self._writer = DayWriter(target, self._book, day, block.step, block.channels, self._folding)

    def _end_day(self) -> None:
        writer, given, notes = self._writer, self._given, self._notes
        self._given, self._notes = last_texts(notes, given), []
        if writer is not None:
            self._wait()
            self._ending = self._ends.submit(self._close_day, writer, self._day, given, notes)
            self._writer = None

    def _close_day(self, writer: DayWriter, day: str, given: dict[str, str], notes: list[Note]) -> None:
        """given: texts that hold in the import before the day. notes: of the import, on the day."""
        record = self._book.at(day)
        try:
            brought, _ = writer.close(self._texts(day, given, notes))
        except BaseException:
            writer.abandon()
            raise
        self.brought = self.brought.plus(brought)
        self.days_changed += self._book.at(day) is not record

    def _wait(self) -> None:
        """Until the day that is being ended counts; raises what its end raised."""
        if self._ending is not None:
            ending, self._ending = self._ending, None
            ending.result()

    def _texts(self, day: str, given: dict[str, str], notes: list[Note]) -> Texts:
        if not given and not any(note.kind in LASTING_KINDS for note in notes):
            return Texts({}, {}, {})
        return Texts(self._before(day, as_it_was=True), given, self._before(day, as_it_was=False))

    def _before(self, day: str, *, as_it_was: bool) -> dict[str, str]:
        """Texts of lasting kinds that hold when a day begins."""
        texts: dict[str, str] = {}
        for earlier in reversed([one for one in self._book.days if one < day]):
            record = self._book.at(earlier)
            notes = record.notes if record else ()
            if as_it_was and earlier in self._there:
                notes = self._there[earlier]
            texts = {**last_texts(notes, {}), **texts}
            if len(texts) == len(LASTING_KINDS):
                break
        return texts
