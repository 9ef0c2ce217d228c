"""What the first rows of a log tell of its course: where it starts, how fast rows follow, which way it runs."""

from __future__ import annotations

import numpy as np

from ingest.arrow_compute import pc
from ingest.errors import BadLog
from ingest.local_time import LocalClock
from ingest.mapping import LogMapping
from ingest.raw_rows import Log, RawRows
from ingest.time_stamps import EARLIEST_NS, LATEST_NS, TimeReader, as_text

_NO_START = 1 << 62


def start_ns(log: Log, times: TimeReader, mapping: LogMapping, local: LocalClock) -> int:
    """UTC nanoseconds of the first readable stamp of the line, very late where the first rows have none."""
    stamps, zoned, _ = _stamps(log, times, mapping)
    if not len(stamps):
        return _NO_START
    return int(stamps[0]) if zoned[0] else int(local.instants(stamps[:1]).first[0])


def usual_step_ns(log: Log, times: TimeReader, mapping: LogMapping) -> int:
    """Median of the steps forward between the first rows of the line, 0 where there are none."""
    steps = np.diff(_stamps(log, times, mapping)[0])
    forward = steps[steps > 0]
    return int(np.median(forward)) if len(forward) else 0


def refuse_backwards(log: Log, times: TimeReader, mapping: LogMapping) -> None:
    """Raises BadLog for a log that runs from the newest row to the oldest."""
    stamps, _, numbers = _stamps(log, times, mapping)
    steps = np.diff(stamps)
    back, forward = int((steps < 0).sum()), int((steps > 0).sum())
    if back >= 3 and back > 9 * forward:
        place = int(np.argmax(steps < 0)) + 1
        raise BadLog(
            log.path,
            "the log runs backwards: its newest row comes first",
            row=int(numbers[place]),
            column=times.columns[0],
            hint="Sort it by time, oldest row first, and read it again.",
        )


def _stamps(log: Log, times: TimeReader, mapping: LogMapping) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Readable stamps of the line among the first rows, whether they are UTC, and their row numbers."""
    rows = _of_line(log.head(), mapping)
    if not len(rows.numbers):
        return np.zeros(0, np.int64), np.zeros(0, bool), rows.numbers
    ns, ok, zoned = times.read(rows)
    ok &= (ns >= EARLIEST_NS) & (ns < LATEST_NS)
    return ns[ok], zoned[ok], rows.numbers[ok]


def _of_line(rows: RawRows, mapping: LogMapping) -> RawRows:
    if not mapping.line_column:
        return rows
    names = as_text(rows.columns[mapping.line_column])
    return rows.where(np.asarray(pc.equal(names, mapping.line_value.strip()).to_numpy()).astype(bool))
