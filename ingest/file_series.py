"""Files of a log that follow one another, on their way to readings in order of time."""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from ingest.account import LIKELY, SURE, ReadingAccount
from ingest.cell_units import CellUnits, find_cell_units
from ingest.clock import LOOK_AHEAD_ROWS, Clock
from ingest.mapping import LogMapping
from ingest.open_log import columns_of
from ingest.ordering import Ordering
from ingest.raw_rows import Log
from ingest.readings import LongReadings, Readings, WideReadings
from ingest.reversed_log import ReversedLog
from ingest.row_judge import RowJudge, Stamped
from ingest.sorted_log import SortedLog, stamps_tell_order
from ingest.time_sort import sorted_by_time, stands_tag_by_tag
from ingest.time_stamps import EARLIEST_NS, LATEST_NS, TimeReader, as_text
from ingest.usual_step import may_be_out_of_order, may_stand_tag_by_tag, runs_backwards
from ingest.wide_quality import WideQuality


@dataclass(frozen=True)
class FileInOrder:
    """One file with the reader of its stamps. by_tag: its rows stand tag by tag. index: in the order of reading."""

    log: Log
    times: TimeReader
    by_tag: bool = False
    index: int = 0
    quality: WideQuality | None = None
    cell_units: CellUnits = field(default_factory=dict)


def columns_in(
    log: Log, times: TimeReader, mapping: LogMapping, quality: WideQuality | None
) -> tuple[tuple[str, ...], frozenset[str]]:
    """The columns to be read of a file, and those of them that hold numbers."""
    names, numeric = columns_of(mapping)
    beside = () if quality is None else quality.columns.values()
    return tuple(dict.fromkeys((*times.columns, *(name for name in names if name in log.names), *beside))), numeric


def in_order(
    log: Log, times: TimeReader, mapping: LogMapping, account: ReadingAccount, quality: WideQuality | None = None
) -> FileInOrder:
    """A file as it can be read oldest row first; says so where that is not how it is written."""
    if runs_backwards(log, times, mapping):
        account.assume(f"{log.path}: the newest row comes first; the log is read from its end", SURE)
        log = ReversedLog(log, *columns_in(log, times, mapping, quality))
    elif may_be_out_of_order(log, times, mapping) and stamps_tell_order(log, times, mapping):
        account.assume(
            f"{log.path}: the rows are not in order of time, and no time is there twice; they are sorted by time",
            LIKELY,
        )
        log = SortedLog(log, times, columns_in(log, times, mapping, quality)[0])
    by_tag = may_stand_tag_by_tag(log, times, mapping) and stands_tag_by_tag(_times_and_tags(log, times, mapping))
    if by_tag:
        account.assume(f"{log.path}: the rows stand tag by tag; they are sorted by time", SURE)
    return FileInOrder(log, times, by_tag, quality=quality, cell_units=find_cell_units(log, mapping, account))


def _times_and_tags(log: Log, times: TimeReader, mapping: LogMapping) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Stamps and tag codes of the rows of this line, piece by piece."""
    known: dict[str, int] = {}
    line = (mapping.line_column,) if mapping.line_column else ()
    for rows in log.rows((*times.columns, mapping.tag_column, *line), frozenset()):
        if not len(rows.numbers):
            continue
        ns, ok, _ = times.read(rows)
        ok &= (ns >= EARLIEST_NS) & (ns < LATEST_NS)
        if line:
            ok &= np.array(as_text(rows.columns[line[0]])) == mapping.line_value.strip()
        encoded = as_text(rows.columns[mapping.tag_column]).combine_chunks().dictionary_encode()
        codes = np.array([known.setdefault(tag, len(known)) for tag in encoded.dictionary.to_pylist()], np.int64)
        yield ns[ok], codes[encoded.indices.to_numpy()][ok]


class FileSeries:
    """Some files, oldest first, read one after the other with one clock.

    clock: of the series. tag_clock: makes one for a single tag, with its account.
    """

    def __init__(
        self,
        files: Sequence[FileInOrder],
        mapping: LogMapping,
        account: ReadingAccount,
        judge: RowJudge,
        clock: Clock,
        tag_clock: Callable[[ReadingAccount], Clock],
        scheme: str,
    ) -> None:
        self._files, self._mapping, self._account, self._judge = files, mapping, account, judge
        self._clock, self._tag_clock, self._scheme = clock, tag_clock, scheme
        self._ordering = Ordering(round(mapping.cadence_s * 1e9))
        self.done_bytes = 0

    def readings(self) -> Iterator[tuple[Readings | None, int]]:
        """Readings in whole cells, with the stamp that no later one is before."""
        for (file, before), now, ahead in _with_stamps_ahead(self._stretches()):
            decimal, units = file.log.decimal, file.cell_units
            found = self._judge.readings(
                now, ahead, file.times, file.index, decimal, self._scheme, beside=file.quality, units=units
            )
            self.done_bytes = before + now.rows.done_bytes
            if found is not None:
                self._note_span(file.log, found)
                assert self._clock.newest_ns is not None
                released = self._ordering.push(found, self._clock.newest_ns)
                for i, part in enumerate(released):
                    self._count_repeats(part)
                    after = released[i + 1].places.at_ns[0] if i + 1 < len(released) else self._clock.newest_ns
                    yield part, self._ordering.limit_ns(int(after))
        self.done_bytes = sum(file.log.size_bytes for file in self._files)
        self._clock.close()
        rest = self._ordering.close()
        if rest is not None:
            self._count_repeats(rest)
            yield rest, np.iinfo(np.int64).max

    def _stretches(self) -> Iterator[tuple[tuple[FileInOrder, int], Stamped]]:
        """The rows of all files; beside the file, the bytes of the files before it."""
        before = 0
        for file in self._files:
            log, times = file.log, file.times
            rows = self._judge.stamped(log.rows(*columns_in(log, times, self._mapping, file.quality)), times)
            if file.by_tag:
                rows = sorted_by_time(rows, self._mapping.tag_column, self._tag_clock, times.columns, self._account)
            for one in rows:
                yield (file, before), one
            before += log.size_bytes

    def _count_repeats(self, rows: Readings) -> None:
        repeated = rows.repeats()
        self._account.duplicates += len(repeated)
        for file, count in zip(*np.unique(rows.places.files[repeated], return_counts=True), strict=True):
            self._account.files[file].duplicates += int(count)

    def _note_span(self, log: Log, found: WideReadings | LongReadings) -> None:
        first, last = int(found.places.at_ns.min()), int(found.places.at_ns.max())
        entry = log.entry
        entry.first_ns = first if entry.first_ns is None else min(entry.first_ns, first)
        entry.last_ns = last if entry.last_ns is None else max(entry.last_ns, last)


def _with_stamps_ahead(
    stretches: Iterator[tuple[tuple[FileInOrder, int], Stamped]],
) -> Iterator[tuple[tuple[FileInOrder, int], Stamped, np.ndarray]]:
    """Every stretch with the stamps of the rows after it: whether its last stamps are right shows in those."""
    waiting: deque[tuple[tuple[FileInOrder, int], Stamped]] = deque()
    count = 0
    for one in stretches:
        waiting.append(one)
        count += len(one[1].ns)
        while count - len(waiting[0][1].ns) >= LOOK_AHEAD_ROWS:
            place, now = waiting.popleft()
            count -= len(now.ns)
            yield place, now, _stamps_like(now, waiting)
    while waiting:
        place, now = waiting.popleft()
        yield place, now, _stamps_like(now, waiting)


def _stamps_like(now: Stamped, later: Iterable[tuple[object, Stamped]]) -> np.ndarray:
    """The stamps of later stretches, up to one in another kind of time (UTC after local time, or the reverse)."""
    same = itertools.takewhile(lambda one: one[1].zoned[0] == now.zoned[-1], later)
    return np.concatenate([np.zeros(0, np.int64), *(one.ns for _, one in same)])
