"""A stretch of an archive in the place of a log: where `check` takes its Blocks from."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dashboards.command_line.holds_told import mapping_with_holds_of_cells
from dashboards.command_line.told import Told
from ingest.account import FileRead, Gap, ReadingAccount
from ingest.archive.read import ArchivedLine
from ingest.block import Block, Note
from ingest.grid import LONGEST_FILL_NS
from ingest.propose.sample import stretches_of
from monitor.line import Line

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class ArchiveSpan:
    """start, end: ISO 8601, in plant local time unless an offset is given; '' for all there is."""

    archive: str
    start: str = ""
    end: str = ""

    def blocks(
        self, line: Line, account: ReadingAccount, progress: Callable[[int, int], None]
    ) -> tuple[Iterator[Block], tuple[Note, ...], Line]:
        """Blocks of a line with its channels, the notes that say which lot and recipe hold when they begin, and the
        line as its log was written: how long its readings stand.

        account: an empty one, filled as for a log; its rows are cells of time. Raises BadLog, Told.
        """
        t0, t1 = (_instant(text, line.line.time_zone, name) for text, name in ((self.start, "from"), (self.end, "to")))
        archived = ArchivedLine(self.archive, line.name)
        if archived.step != round(line.line.cadence_s * 1e9):
            raise Told(
                f"{self.archive}: line '{line.name}' is kept in cells of {archived.step / 1e9:g} s, but its line file "
                f"says {line.line.cadence_s:g} s. Correct cadence_s in the line file."
            )
        first = archived.first if t0 is None else max(t0, archived.first)
        end = archived.end if t1 is None else min(t1, archived.end)
        if first >= end:
            raise Told(f"{self.archive}: the archive has nothing of line '{line.name}' in the time asked for.")
        before = archived.texts_before(first - 1)
        as_logged = line.with_holds(mapping_with_holds_of_cells(_stretches(archived, line, first, end), line))
        return (
            self._counted(archived.blocks(first, end, line.channels), line, account, progress, end),
            before,
            as_logged,
        )

    def _counted(
        self,
        blocks: Iterator[Block],
        line: Line,
        account: ReadingAccount,
        progress: Callable[[int, int], None],
        end: int,
    ) -> Iterator[Block]:
        entry = FileRead(self.archive, "archive")
        account.files.append(entry)
        silent = np.ones(len(line.channels), bool)
        for block in blocks:
            if entry.last_ns is not None and block.t0 > entry.last_ns + block.step:
                gap_ns = block.t0 - entry.last_ns
                filled = gap_ns <= LONGEST_FILL_NS
                account.add_gap(Gap(self.archive, entry.rows + 1, entry.last_ns, block.t0, filled))
            entry.first_ns = block.t0 if entry.first_ns is None else entry.first_ns
            entry.last_ns = block.end - block.step
            entry.rows += block.n
            account.accept(block.n)
            silent &= np.isnan(block.values).all(axis=1)
            yield block
            progress(block.end - entry.first_ns, end - entry.first_ns)
        account.silent_tags = [sensor.tag for sensor, none in zip(line.sensor, silent, strict=True) if none]


def _stretches(archived: ArchivedLine, line: Line, first: int, end: int) -> Iterator[list[Block]]:
    """Some stretches of the cells from all over the time, as many as are looked at of a log."""
    cells = (end - first) // archived.step
    starts, size = stretches_of(cells, len(line.channels))
    for start in starts:
        low = first + start * archived.step
        yield list(archived.blocks(low, min(end, low + size * archived.step), line.channels))


def span_given(logs: Sequence[Path], archive: str, start: str, end: str) -> ArchiveSpan | None:
    """What the options of `check` say, None for logs. Raises Told where they do not go together."""
    if archive and logs:
        raise Told("Give log files or --from-archive, not both.")
    if archive:
        return ArchiveSpan(archive, start, end)
    if not logs:
        raise Told("Give the files of a log, or --from-archive.")
    if start or end:
        raise Told("--from and --to go with --from-archive; a log is judged from its start to its end.")
    return None


def _instant(text: str, zone: str, option: str) -> int | None:
    if not text:
        return None
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise Told(
            f"--{option} {text}: this is no time. Write it like 2026-03-02, 2026-03-02T06:00 or 2026-03-02T05:00Z."
        ) from None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zoneinfo.ZoneInfo(zone))
    return (moment - _EPOCH) // dt.timedelta(microseconds=1) * 1000
