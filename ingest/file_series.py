"""Files of a log that follow one another, on their way to readings in order of time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ingest.account import ReadingAccount
from ingest.clock import Clock
from ingest.mapping import LogMapping
from ingest.open_log import columns_of
from ingest.ordering import Ordering
from ingest.raw_rows import Log
from ingest.readings import LongReadings, Readings, WideReadings
from ingest.reversed_log import ReversedLog
from ingest.row_judge import RowJudge, Stamped
from ingest.time_sort import sorted_by_time, stands_tag_by_tag
from ingest.time_stamps import EARLIEST_NS, LATEST_NS, TimeReader, as_text
from ingest.usual_step import may_stand_tag_by_tag, runs_backwards
from ingest.wide_quality import WideQuality


@dataclass(frozen=True)
class FileInOrder:
    """One file with the reader of its stamps. by_tag: its rows stand tag by tag. index: in the order of reading."""

    log: Log
    times: TimeReader
    by_tag: bool = False
    index: int = 0
    quality: WideQuality | None = None


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
        account.assume(f"{log.path}: the newest row comes first; the log is read from its end")
        log = ReversedLog(log, *columns_in(log, times, mapping, quality))
    by_tag = may_stand_tag_by_tag(log, times, mapping) and stands_tag_by_tag(_times_and_tags(log, times, mapping))
    if by_tag:
        account.assume(f"{log.path}: the rows stand tag by tag; they are sorted by time")
    return FileInOrder(log, times, by_tag, quality=quality)


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
        before = 0
        for file in self._files:
            for found, done in self._of_file(file):
                self.done_bytes = before + done
                if found is not None:
                    self._note_span(file.log, found)
                    assert self._clock.newest_ns is not None
                    released = self._ordering.push(found, self._clock.newest_ns)
                    if released is not None:
                        self._account.duplicates += released.repeats()
                        yield released, self._ordering.limit_ns(self._clock.newest_ns)
            before += file.log.size_bytes
            self.done_bytes = before
        self._clock.close()
        rest = self._ordering.close()
        if rest is not None:
            self._account.duplicates += rest.repeats()
            yield rest, np.iinfo(np.int64).max

    def _of_file(self, file: FileInOrder) -> Iterator[tuple[Readings | None, int]]:
        log, times = file.log, file.times
        ahead = self._judge.stamped(log.rows(*columns_in(log, times, self._mapping, file.quality)), times)
        if file.by_tag:
            ahead = sorted_by_time(ahead, self._mapping.tag_column, self._tag_clock, times.columns, self._account)
        now: Stamped | None = next(ahead, None)
        while now is not None:
            # One stretch is read ahead: whether the last stamp of this one is right shows in the next.
            following = next(ahead, None)
            next_ns = None if following is None else int(following.ns[0])
            found = self._judge.readings(
                now, next_ns, times, file.index, log.decimal, self._scheme, beside=file.quality
            )
            yield found, now.rows.done_bytes
            now = following

    def _note_span(self, log: Log, found: WideReadings | LongReadings) -> None:
        first, last = int(found.places.at_ns.min()), int(found.places.at_ns.max())
        entry = log.entry
        entry.first_ns = first if entry.first_ns is None else min(entry.first_ns, first)
        entry.last_ns = last if entry.last_ns is None else max(entry.last_ns, last)
