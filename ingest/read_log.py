"""A plant's log as the Blocks of one line: the way in for finished logs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ingest import account as reasons
from ingest.account import GUESS, Gap, ReadingAccount
from ingest.block import Block
from ingest.channel_values import ChannelValues, channel_values
from ingest.clock import LATENESS_NS, Clock
from ingest.csv_log import BLOCK_BYTES
from ingest.errors import BadLog, nearest
from ingest.file_series import FileInOrder, FileSeries, in_order
from ingest.grid import LONGEST_FILL_NS, Grid
from ingest.local_time import LocalClock
from ingest.log_notices import LogNotices
from ingest.mapping import LogMapping
from ingest.note_texts import NoteTexts
from ingest.open_log import open_logs, total_bytes
from ingest.parallel import merged, side_by_side
from ingest.parquet_log import BATCH_ROWS
from ingest.quality_search import find_scheme
from ingest.raw_rows import Log
from ingest.readings import Readings
from ingest.row_judge import RowJudge
from ingest.sentinel_search import with_sentinels_where_sound
from ingest.time_search import find_times
from ingest.unit_row import compare_units
from ingest.usual_step import begins_in_second_pass, start_ns, starts_in_repeated_hour, usual_step_ns
from ingest.wide_quality import find_wide_quality

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
    logs = open_logs([Path(path) for path in paths], mapping, account, block_bytes, batch_rows)
    channels = channel_values(mapping, [log.path for log in logs], account)
    channels = with_sentinels_where_sound(channels, logs, mapping)
    for log in logs:
        compare_units(log, mapping, account)
    return _Reading(logs, channels, mapping, account, block_s).blocks(progress)


class _Reading:
    """The files of one log on their way to Blocks."""

    def __init__(
        self,
        logs: Sequence[Log],
        channels: tuple[ChannelValues, ...],
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
        times = find_times(logs, mapping, account)
        scheme = find_scheme(logs, mapping, account)
        beside = find_wide_quality(logs, mapping, account)
        files = [
            in_order(log, reader, mapping, account, quality)
            for log, reader, quality in zip(logs, times, beside, strict=True)
        ]
        starts = [start_ns(file.log, file.times, mapping, local) for file in files]
        twice = [starts_in_repeated_hour(file.log, file.times, mapping, local) for file in files]
        for hour in {one for one in twice if one is not None and twice.count(one) > 1}:
            some = sorted(files[i].log.path for i, one in enumerate(twice) if one == hour)
            account.assume(
                f"{' and '.join(some[:3])} start in the hour that comes twice; their names order them", GUESS
            )
        # Only the names tell which of two files that start in one repeated hour is of its second pass.
        keys = [start if hour is None else hour for start, hour in zip(starts, twice, strict=True)]
        order = sorted(range(len(files)), key=lambda i: (keys[i], files[i].log.path))
        self._files = [replace(files[i], index=place) for place, i in enumerate(order)]
        for file in self._files:
            file.log.entry.found["time"] = file.times.name
            account.files.append(file.log.entry)
        usual = usual_step_ns(self._files[0].log, self._files[0].times, mapping)
        self._say_short_holds(usual)
        step = round(mapping.cadence_s * 1e9)
        self._gap_ns = max(10 * step, LATENESS_NS, int(2.5 * usual))
        self._notes = NoteTexts(mapping)
        self._grid = Grid(mapping.channels, step, round(block_s * 1e9))
        self._newest_released: int | None = None

        def clock(of: ReadingAccount, one_a_stamp: bool = False, in_second_pass: bool = False) -> Clock:
            return Clock(local, of, usual, one_a_stamp, in_second_pass)

        groups = side_by_side([file.log for file in self._files], mapping)
        self._judges: list[RowJudge] = []
        self._series: list[FileSeries] = []
        for group in groups:
            own = clock(account, mapping.layout == "wide", self._second(group[0], twice, order, local))
            judge = RowJudge(mapping, channels, own, self._notes, account)
            some = [self._files[i] for i in group]
            self._judges.append(judge)
            self._series.append(FileSeries(some, mapping, account, judge, own, clock, scheme))
        self._notices = LogNotices(channels, mapping.layout == "long", _files_of(channels, self._files, groups))
        if len(groups) > 1:
            firsts = ", ".join(self._files[group[0]].log.path for group in groups[:3])
            what = "columns" if mapping.layout == "wide" else "tags"
            account.assume(f"files with other {what} run side by side and are joined by time ({firsts})")

    def _second(self, place: int, twice: Sequence[int | None], order: Sequence[int], local: LocalClock) -> bool:
        """Whether a file begins in the second pass of an hour that comes twice; of several their names tell."""
        hour, file = twice[order[place]], self._files[place]
        alone = hour is not None and twice.count(hour) == 1
        return alone and begins_in_second_pass(file.log, file.times, self._mapping, local)

    def blocks(self, progress: Progress | None) -> Iterator[Block]:
        """Reads the files, those that follow one another one after the other."""
        total = total_bytes([file.log for file in self._files])
        for rows in merged([series.readings() for series in self._series]):
            yield from self._seen(self._to_grid(rows))
            if progress is not None:
                progress(sum(series.done_bytes for series in self._series), total)
        self._check()
        yield from self._seen(self._grid.close())
        self._notices.close(self._account)
        self._account.settle_files()
        if progress is not None:
            progress(total, total)

    def _seen(self, blocks: Iterator[Block]) -> Iterator[Block]:
        for block in blocks:
            self._notices.see_block(block)
            yield block

    def _say_short_holds(self, usual_ns: int) -> None:
        short = [one.tag for one in self._mapping.channels if one.hold_s * 1e9 < usual_ns]
        if short and self._mapping.layout == "wide" and usual_ns > self._mapping.cadence_s * 1e9:
            self._account.assume(
                f"rows come every {usual_ns / 1e9:g} s, but a reading of {', '.join(map(repr, short[:5]))}"
                f"{' and others' if len(short) > 5 else ''} stands for less: cells between stay empty; "
                "a longer hold_s in the line file fills them"
            )

    def _to_grid(self, rows: Readings) -> Iterator[Block]:
        at_ns = rows.places.at_ns
        before = at_ns[0] if self._newest_released is None else self._newest_released
        for i in np.flatnonzero(np.diff(at_ns, prepend=before) > self._gap_ns):
            from_ns, to_ns = int(at_ns[i - 1] if i else before), int(at_ns[i])
            file = self._files[rows.places.files[i]].log.path
            filled = to_ns - from_ns <= LONGEST_FILL_NS
            self._account.add_gap(Gap(file, int(rows.places.numbers[i]), from_ns, to_ns, filled))
        self._newest_released = int(at_ns[-1])
        self._notices.see_rows(rows)
        yield from self._grid.add(rows, self._notes.notes(rows.places))

    def _check(self) -> None:
        """At the end of the log: does the account balance, and was there anything to accept?"""
        account, mapping = self._account, self._mapping
        rows = sum(entry.rows for entry in account.files)
        if rows != account.rows_read or account.rows_read != account.rows_accepted + account.rows_set_aside:
            raise RuntimeError(
                f"reading account does not balance: {rows} rows in the files, {account.rows_read} read, "
                f"{account.rows_accepted} accepted, {account.rows_set_aside} set aside"
            )
        there = np.any([judge.with_reading for judge in self._judges], axis=0)
        account.silent_tags = [source.tag for source, some in zip(mapping.channels, there, strict=True) if not some]
        if account.rows_accepted:
            return
        path = self._files[0].log.path
        lines_seen = set[str]().union(*(judge.lines_seen for judge in self._judges))
        tags_seen = set[str]().union(*(judge.tags_seen for judge in self._judges))
        counts = account.set_aside_by_reason
        if not counts:
            raise BadLog(path, "has a header and no rows", hint="Check the time span exported.")
        worst = max(counts, key=lambda reason: counts[reason])
        if worst == reasons.ANOTHER_LINE:
            raise BadLog(
                path,
                f"no row belongs to line '{mapping.line_value}'; lines in the log: {_some(lines_seen)}",
                column=mapping.line_column,
                hint="Correct line_value in [log] of the line file.",
            )
        if worst == reasons.TAG_NOT_MAPPED:
            tag = mapping.channels[0].tag
            raise BadLog(
                path,
                f"no row has a tag of the line file, such as '{tag}'; tags in the log: "
                f"{_some(set(nearest(tag, sorted(tags_seen))) or tags_seen)}",
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


def _files_of(
    channels: Sequence[ChannelValues], files: Sequence[FileInOrder], groups: Sequence[Sequence[int]]
) -> list[str]:
    """Of every channel of a wide log in files side by side, the first file that has it; else nothing."""
    if len(groups) < 2:
        return []
    first = {name: files[group[0]].log.path for group in groups for i in group for name in files[i].log.names}
    return [first.get(channel.source.tag, "") for channel in channels]


def _some(names: set[str]) -> str:
    listed = sorted(names)
    return ", ".join(map(repr, listed[:8])) + (f" and {len(listed) - 8} more" if len(listed) > 8 else "") or "none"
