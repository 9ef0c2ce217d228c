"""A log that a logger is still writing: read again as it grows, only what can no longer change is given.

The whole file is read each time, by the same reader as a finished log, so that what was held from earlier rows,
what was sorted in and what was set aside is the same as it would be in a check of the finished file. Reading
may take a tenth of the time: a day of 64 tags, about a second to read, is looked at every ten seconds.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ingest.account import ReadingAccount
from ingest.block import FRESH, Block
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from monitor.live_clock import Clock
from monitor.live_source import after

LATE_S = 10.0
"""Rows may come this far behind the newest; cells younger than that wait. The reader sorts in as much."""
QUIET_S = 60.0
"""A file that has not grown for so long is taken as written: its last cells wait no longer."""
LEAP_S = 7200.0
"""A newest row this far ahead of the one before may carry a wrong stamp; it waits for a row that confirms it."""
BUSY_SHARE = 0.1
NEWEST_FILES = 2
_NS = 1_000_000_000
_SUFFIXES = (".csv", ".txt", ".tsv", ".parquet", ".pq")

Mark = tuple[tuple[str, int, int], ...]


class GrowingLog:
    """A log file that grows, or a folder of which the newest two files are read.

    The position is the end of the last cell given, UTC nanoseconds. It never ends by itself.
    report: told in one sentence when the file cannot be read at the moment.
    """

    def __init__(
        self, place: Path, mapping: LogMapping, *, clock: Clock, report: Callable[[str], None] = lambda _: None,
        block_s: int = 3600,
    ) -> None:  # fmt: skip
        self._place, self._mapping, self._clock, self._report = place, mapping, clock, report
        self._block_s = block_s
        self._account = ReadingAccount()
        self._read_blocks: Callable[..., Iterator[Block]]
        self._ever_read = False
        self._spent_ns = 0
        self._trouble = ""

    def account(self) -> dict[str, Any]:
        """The reading account of the newest reading of the file."""
        return self._account.as_dict()

    def read_from(self, position: str) -> Iterator[tuple[Block | None, str]]:
        """What is new and final, each time the file has grown; raises BadLog when it is no log of this line."""
        # Before the clock is looked at: loading the reader takes longer than reading a small file.
        from ingest.read_log import read_blocks

        self._read_blocks = read_blocks
        seen: Mark = ()
        changed_ns = next_ns = self._clock.now_ns()
        written = False
        while True:
            now_ns = self._clock.now_ns()
            files = self._files()
            mark = _mark_of(files)
            if mark != seen:
                changed_ns, written = now_ns, False
            quiet = now_ns - changed_ns >= QUIET_S * _NS
            if not files or now_ns < next_ns or (mark == seen and not (quiet and not written)):
                yield None, position
                continue
            seen, written, self._spent_ns, first = mark, quiet, 0, not self._ever_read
            for part in self._read(files, position, quiet=quiet):
                position = str(part.end)
                yield part, position
            # The first reading loads libraries and says nothing of the next.
            next_ns = self._clock.now_ns() + (0 if first else round(self._spent_ns / BUSY_SHARE))

    def _files(self) -> list[Path]:
        try:
            if not self._place.is_dir():
                return [self._place] if self._place.stat().st_size else []
            found = [path for path in self._place.iterdir() if path.suffix.lower() in _SUFFIXES]
            return sorted(found, key=lambda path: (path.stat().st_mtime_ns, path.name))[-NEWEST_FILES:]
        except OSError:
            return []

    def _read(self, files: Sequence[Path], position: str, *, quiet: bool) -> Iterator[Block]:
        self._account = ReadingAccount()
        try:
            yield from self._timed(final_cells(self._blocks(files, position), quiet=quiet))
            self._ever_read, self._trouble = True, ""
        except (BadLog, OSError) as error:
            # A logger that is just beginning or rolling its file over may leave half a header for a moment.
            if not self._ever_read and (quiet or _has_rows(files)):
                raise
            if str(error) != self._trouble:
                self._report(f"the log cannot be read at the moment ({error})")
            self._trouble = str(error)

    def _blocks(self, files: Sequence[Path], position: str) -> Iterator[Block]:
        for whole in self._read_blocks(list(files), self._mapping, self._account, block_s=self._block_s):
            part = after(whole, position)
            if part is not None:
                yield part

    def _timed(self, blocks: Iterator[Block]) -> Iterator[Block]:
        began_ns = self._clock.now_ns()
        for block in blocks:
            self._spent_ns += self._clock.now_ns() - began_ns
            yield block
            began_ns = self._clock.now_ns()
        self._spent_ns += self._clock.now_ns() - began_ns


def final_cells(blocks: Iterator[Block], *, quiet: bool) -> Iterator[Block]:
    """The cells that no later row can change. quiet: nothing was written for long, so late rows come no more."""
    held: deque[Block] = deque()
    fresh: deque[np.ndarray] = deque()
    for block in blocks:
        held.append(block)
        fresh.append(_fresh_times(block))
        settled = _settled_until(fresh, block.step, quiet=False)
        while held and held[0].end <= settled:
            yield held.popleft()
            fresh.popleft()
    settled = _settled_until(fresh, held[0].step, quiet=quiet) if held else 0
    for block in held:
        last = min(block.n, (settled - block.t0) // block.step)
        if last > 0:
            yield block if last == block.n else block.cut(0, last)


def _fresh_times(block: Block) -> np.ndarray:
    return block.times()[(block.status & FRESH).any(axis=0)]


def _settled_until(fresh: Sequence[np.ndarray], step: int, *, quiet: bool) -> int:
    """End of the newest cell with readings that is old enough, or of the newest at all when `quiet`."""
    t = np.concatenate(list(fresh)) if fresh else np.empty(0, np.int64)
    if t.size > 1 and t[-1] - t[-2] > LEAP_S * _NS:
        t = t[:-1]
    if not quiet and t.size:
        t = t[t < t[-1] - LATE_S * _NS]
    return int(t[-1]) + step if t.size else 0


def _mark_of(files: Sequence[Path]) -> Mark:
    try:
        return tuple((str(path), (stat := path.stat()).st_size, stat.st_mtime_ns) for path in files)
    except OSError:
        return ()


def _has_rows(files: Sequence[Path]) -> bool:
    """Whether a header and a row stand in a text file, so that what is wrong with it will not mend itself."""
    for path in files:
        with path.open("rb") as file:
            head = file.read(1_000_000)
        if not head.startswith(b"PAR1") and head.count(b"\n") > 1:
            return True
    return False
