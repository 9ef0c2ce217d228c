"""A plant's log as the Blocks of one line: the way in for finished logs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from ingest import account as reasons
from ingest.account import Gap, ReadingAccount
from ingest.block import Block
from ingest.channel_values import channel_values
from ingest.clock import LATENESS_NS, Clock
from ingest.csv_log import BLOCK_BYTES, CsvLog, decimal_for
from ingest.errors import BadLog, nearest
from ingest.grid import LONGEST_FILL_NS, Grid
from ingest.local_time import LocalClock
from ingest.mapping import LogMapping
from ingest.note_texts import NoteTexts
from ingest.open_log import columns_of, open_log, total_bytes
from ingest.ordering import Ordering
from ingest.parquet_log import BATCH_ROWS, ParquetLog
from ingest.quality_search import find_scheme
from ingest.readings import LongReadings, WideReadings
from ingest.row_judge import RowJudge
from ingest.time_search import find_times
from ingest.time_stamps import TimeReader
from ingest.unit_row import compare_units
from ingest.usual_step import refuse_backwards, start_ns, usual_step_ns

Progress = Callable[[int, int], None]


def read_blocks(
    paths: Sequence[Path],
    mapping: LogMapping,
    account: ReadingAccount,
    *,
    block_s: float = 3600.0,
    progress: Progress | None = None,
) -> Iterator[Block]:
    """Blocks of one line in order of time, from the files of a log in any order.

    Cells are contiguous inside a Block and between Blocks, but for times without rows longer than 6 h, after
    which the next Block simply starts. A Block is cut at whole multiples of `block_s`.
    account: an empty one, filled while the Blocks are taken. progress: called with bytes read and bytes in all.

    Raises BadLog, for what can be seen at the start of the files at once, for the rest while Blocks are taken.
    """
    return read_in_pieces(paths, mapping, account, block_s=block_s, progress=progress)


def read_in_pieces(
    paths: Sequence[Path],
    mapping: LogMapping,
    account: ReadingAccount,
    *,
    block_s: float = 3600.0,
    progress: Progress | None = None,
    block_bytes: int = BLOCK_BYTES,
    batch_rows: int = BATCH_ROWS,
) -> Iterator[Block]:
    """`read_blocks` with the size of the pieces in which files are read; Blocks do not depend on it."""
    if not paths:
        raise BadLog(mapping.line, "no log file is given", hint="Name at least one CSV or Parquet file.")
    logs = [open_log(Path(path), mapping, account, block_bytes, batch_rows) for path in paths]
    channels = channel_values(mapping, [str(path) for path in paths], account)
    for log in logs:
        if isinstance(log, CsvLog):
            compare_units(log, mapping, account)
    reading = _Reading(logs, find_times(logs, mapping, account), mapping, account, block_s)
    return reading.blocks(RowJudge(mapping, channels, reading.clock, reading.notes, account), progress)


class _Reading:
    """The files of one log on their way to Blocks."""

    def __init__(
        self,
        logs: Sequence[CsvLog | ParquetLog],
        times: Sequence[TimeReader],
        mapping: LogMapping,
        account: ReadingAccount,
        block_s: float,
    ) -> None:
        try:
            local = LocalClock(mapping.time_zone)
        except KeyError:
            raise BadLog(
                mapping.line,
                f"time_zone '{mapping.time_zone}' of the line file is no IANA time zone",
                hint="Write it like 'Europe/Madrid'.",
            ) from None
        self._mapping, self._account = mapping, account
        starts = [start_ns(log, reader, mapping, local) for log, reader in zip(logs, times, strict=True)]
        order = sorted(range(len(logs)), key=lambda i: (starts[i], str(logs[i].path)))
        self._files = [(logs[i], times[i]) for i in order]
        self._scheme = find_scheme([log for log, _ in self._files], mapping, account)
        for log, reader in self._files:
            refuse_backwards(log, reader, mapping)
            log.entry.found["time"] = reader.name
            account.files.append(log.entry)
        usual = usual_step_ns(*self._files[0], mapping)
        self._say_short_holds(usual)
        step = round(mapping.cadence_s * 1e9)
        self._gap_ns = max(10 * step, LATENESS_NS, int(2.5 * usual))
        self.clock = Clock(local, account, usual, one_a_stamp=mapping.layout == "wide")
        self.notes = NoteTexts(mapping)
        self._grid = Grid(mapping.channels, step, round(block_s * 1e9))
        self._ordering = Ordering(step)
        self._newest_released: int | None = None

    def blocks(self, judge: RowJudge, progress: Progress | None) -> Iterator[Block]:
        """Reads the files one after the other."""
        total, before = total_bytes([log for log, _ in self._files]), 0
        for index, (log, times) in enumerate(self._files):
            names, numeric = columns_of(self._mapping)
            raw = log.rows(tuple(dict.fromkeys((*times.columns, *names))), numeric)
            ahead = judge.stamped(raw, times)
            now = next(ahead, None)
            while now is not None:
                # One stretch is read ahead: whether the last stamp of this one is right shows in the next.
                following = next(ahead, None)
                next_ns = None if following is None else int(following.ns[0])
                found = judge.readings(now, next_ns, times, index, lambda n, g=log: decimal_for(g, n), self._scheme)
                if found is not None:
                    self._note_span(log, found)
                    assert self.clock.newest_ns is not None
                    yield from self._to_grid(self._ordering.push(found, self.clock.newest_ns))
                if progress is not None:
                    progress(before + now.rows.done_bytes, total)
                now = following
            before += log.size_bytes
        self.clock.close()
        self._check(judge)
        yield from self._to_grid(self._ordering.close())
        yield from self._grid.close()
        if progress is not None:
            progress(total, total)

    def _say_short_holds(self, usual_ns: int) -> None:
        short = [one.tag for one in self._mapping.channels if one.hold_s * 1e9 < usual_ns]
        if short and self._mapping.layout == "wide" and usual_ns > self._mapping.cadence_s * 1e9:
            self._account.assume(
                f"rows come every {usual_ns / 1e9:g} s, but a reading of {', '.join(map(repr, short[:5]))}"
                f"{' and others' if len(short) > 5 else ''} stands for less: cells between stay empty; "
                "a longer hold_s in the line file fills them"
            )

    def _note_span(self, log: CsvLog | ParquetLog, found: WideReadings | LongReadings) -> None:
        first, last = int(found.places.at_ns.min()), int(found.places.at_ns.max())
        entry = log.entry
        entry.first_ns = first if entry.first_ns is None else min(entry.first_ns, first)
        entry.last_ns = last if entry.last_ns is None else max(entry.last_ns, last)

    def _to_grid(self, rows: WideReadings | LongReadings | None) -> Iterator[Block]:
        if rows is None or not len(rows):
            return
        self._account.duplicates += rows.repeats()
        at_ns = rows.places.at_ns
        before = at_ns[0] if self._newest_released is None else self._newest_released
        for i in np.flatnonzero(np.diff(at_ns, prepend=before) > self._gap_ns):
            from_ns, to_ns = int(at_ns[i - 1] if i else before), int(at_ns[i])
            file = self._files[rows.places.files[i]][0].path
            filled = to_ns - from_ns <= LONGEST_FILL_NS
            self._account.add_gap(Gap(str(file), int(rows.places.numbers[i]), from_ns, to_ns, filled))
        self._newest_released = int(at_ns[-1])
        yield from self._grid.add(rows, self.notes.notes(rows.places))

    def _check(self, judge: RowJudge) -> None:
        """At the end of the log: does the account balance, and was there anything to accept?"""
        account, mapping = self._account, self._mapping
        rows = sum(entry.rows for entry in account.files)
        if rows != account.rows_read or account.rows_read != account.rows_accepted + account.rows_set_aside:
            raise RuntimeError(
                f"reading account does not balance: {rows} rows in the files, {account.rows_read} read, "
                f"{account.rows_accepted} accepted, {account.rows_set_aside} set aside"
            )
        account.silent_tags = [
            source.tag for source, there in zip(mapping.channels, judge.with_reading, strict=True) if not there
        ]
        if account.rows_accepted:
            return
        path = self._files[0][0].path
        counts = account.set_aside_by_reason
        if not counts:
            raise BadLog(path, "has a header and no rows", hint="Check the time span exported.")
        worst = max(counts, key=lambda reason: counts[reason])
        if worst == reasons.ANOTHER_LINE:
            raise BadLog(
                path,
                f"no row belongs to line '{mapping.line_value}'; lines in the log: {_some(judge.lines_seen)}",
                column=mapping.line_column,
                hint="Correct line_value in [log] of the line file.",
            )
        if worst == reasons.TAG_NOT_MAPPED:
            tag = mapping.channels[0].tag
            raise BadLog(
                path,
                f"no row has a tag of the line file, such as '{tag}'; tags in the log: "
                f"{_some(set(nearest(tag, sorted(judge.tags_seen))) or judge.tags_seen)}",
                column=mapping.tag_column,
                hint="Correct the tags of the sensors in the line file.",
            )
        first = next(one for one in account.set_aside if one.reason == worst)
        what = f" ('{first.text}')" if first.text else ""
        all_of = f"all {account.rows_read} rows" if account.rows_read > 1 else "the only row"
        raise BadLog(
            first.file,
            f"{all_of} had to be set aside, {counts[worst]} of them because: {worst}{what}",
            row=first.row,
            hint="Nothing of this log can be used as it is; correct the line file or the export.",
        )


def _some(names: set[str]) -> str:
    listed = sorted(names)
    return ", ".join(map(repr, listed[:8])) + (f" and {len(listed) - 8} more" if len(listed) > 8 else "") or "none"
