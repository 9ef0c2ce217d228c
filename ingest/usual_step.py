"""What the first rows of a log tell of its course: where it starts, how fast rows follow, which way it runs."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pyarrow as pa

from ingest.arrow_compute import pc
from ingest.clock import LATENESS_NS
from ingest.local_time import LocalClock
from ingest.mapping import LogMapping
from ingest.raw_rows import Log, RawRows
from ingest.stamp_text import decode
from ingest.time_stamps import EARLIEST_NS, LATEST_NS, TimeReader, as_text

LONG_RUN = 20
"""So many rows of one tag in a row, on the mean: time-ordered logs change the tag nearly every row."""

SMALL_BYTES = 8 << 20

HALF_AN_HOUR_NS = 1800 * 10**9

_NO_START = 1 << 62


def start_ns(log: Log, times: TimeReader, mapping: LogMapping, local: LocalClock) -> int:
    """UTC nanoseconds of the first readable stamp of the line, very late where the first rows have none."""
    stamps, zoned, _ = _stamps(log, times, mapping)
    if not len(stamps):
        return _NO_START
    return int(stamps[0]) if zoned[0] else int(local.instants(stamps[:1]).first[0])


def starts_in_repeated_hour(log: Log, times: TimeReader, mapping: LogMapping, local: LocalClock) -> int | None:
    """Where a file starts in an hour that comes twice, the instant at which that hour first began, else None.

    Which pass it is in, its first stamp does not tell.
    """
    stamps, zoned, _ = _stamps(log, times, mapping)
    return None if not len(stamps) or zoned[0] else local.first_pass(int(stamps[0]))


def begins_in_second_pass(log: Log, times: TimeReader, mapping: LogMapping, local: LocalClock) -> bool:
    """Whether a log that begins in an hour that comes twice begins in its second pass: rows run on into the next hour
    without a step back, and only so without half an hour that has none."""
    names = tuple(dict.fromkeys((*times.columns, *((mapping.line_column,) if mapping.line_column else ()))))
    last = np.zeros(0, np.int64)
    for rows in log.rows(names, frozenset()):
        ns, ok, zoned = times.read(_of_line(rows, mapping))
        stamps = np.concatenate((last, ns[ok & ~zoned & (ns >= EARLIEST_NS) & (ns < LATEST_NS)]))
        if not len(stamps):
            continue
        instants = local.instants(stamps)
        after = np.flatnonzero(instants.first == instants.second)
        within = stamps[: after[0]] if len(after) else stamps
        if (np.diff(within) < -LATENESS_NS).any():
            return False
        if len(after):
            return after[0] > 0 and int(instants.first[after[0]] - instants.second[after[0] - 1]) < HALF_AN_HOUR_NS
        last = stamps[-1:]
    return False


def usual_step_ns(log: Log, times: TimeReader, mapping: LogMapping) -> int:
    """Median of the steps forward between the first rows of the line, 0 where there are none."""
    steps = np.diff(_stamps(log, times, mapping)[0])
    forward = steps[steps > 0]
    return int(np.median(forward)) if len(forward) else 0


def runs_backwards(log: Log, times: TimeReader, mapping: LogMapping) -> bool:
    """Whether a log runs from the newest row to the oldest."""
    steps = np.diff(_stamps(log, times, mapping)[0])
    back, forward = int((steps < 0).sum()), int((steps > 0).sum())
    return back >= 3 and back > 9 * forward


def may_be_out_of_order(log: Log, times: TimeReader, mapping: LogMapping) -> bool:
    """Whether stamps of a wide log, its first or some from all over it, step back, or it is so small that it may as
    well be read once more for them. Times of day step back by nature."""
    if mapping.layout != "wide" or times.first_day:
        return False
    return log.size_bytes <= SMALL_BYTES or any(
        bool((np.diff(ns) < -LATENESS_NS).any())
        for ns in (_stamps(log, times, mapping)[0], _seen_stamps(log, times, mapping))
    )


def may_stand_tag_by_tag(log: Log, times: TimeReader, mapping: LogMapping) -> bool:
    """Whether the first rows of a long log, or stamps from all over it, let one think that it is sorted by tag."""
    if mapping.layout != "long":
        return False
    rows = _of_line(log.head(), mapping)
    tags = as_text(rows.columns[mapping.tag_column]).to_pylist()
    changes = sum(one != other for one, other in pairwise(tags))
    if len(tags) >= LONG_RUN and (changes + 1) * LONG_RUN <= len(tags):
        return True
    return bool((np.diff(_seen_stamps(log, times, mapping)) < -LATENESS_NS).any())


def _seen_stamps(log: Log, times: TimeReader, mapping: LogMapping) -> np.ndarray:
    """Readable stamps from all over a log; the first ones where its columns hold times as such."""
    seen = [log.seen(name) for name in times.columns]
    if times.form is not None:
        texts = pa.array([" ".join(part.text.strip() for part in parts) for parts in zip(*seen, strict=True)])
        ns, ok, _ = decode(texts, times.form)
    else:
        columns = {times.columns[0]: pa.chunked_array([pa.array([one.text for one in seen[0]], pa.string())])}
        if times.epoch is None:
            ns, ok = _stamps(log, times, mapping)[0], slice(None)
        else:
            ns, ok, _ = times.read(RawRows(log.path, np.zeros(len(seen[0]), np.int64), columns))
    return ns[ok]


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
