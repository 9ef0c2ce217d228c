"""Coarser levels of the readings for charts: least, greatest and mean value per 10, 60 and 600 s.

60 s and 600 s levels of whole hours are stored; 10 s, and all of the hour still filling, are made from the
readings when asked for, which is as fast as reading them would be (33 hours of one channel: a few ms).
Values judged 'bad' and cells without a reading do not count.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection, delete, insert, select

from ingest.block import BAD, QUALITY_MASK, Block
from monitor.journal.cells import HOUR_NS, hour_of
from monitor.journal.schema import level_table

WIDTHS_S = (10, 60, 600)
STORED_WIDTHS_S = (60, 600)
_SECOND_NS = 1_000_000_000


@dataclass(frozen=True)
class Levels:
    """Readings in buckets on the absolute grid of `width_s`.

    t: start of each bucket, int64 UTC nanoseconds, shape (m,).
    minimum, maximum, mean: float64, shape (len(channels), m), NaN where nothing counts.
    count: cells that count, int64, same shape.
    """

    width_s: int
    channels: tuple[str, ...]
    t: np.ndarray
    minimum: np.ndarray
    maximum: np.ndarray
    mean: np.ndarray
    count: np.ndarray


def width_for(t0: int, t1: int, points: int) -> int:
    """The finest width, in s, that shows [t0, t1) in at most `points` buckets; 0 = the readings themselves
    at one a second; the coarsest when none is coarse enough."""
    span_s = (t1 - t0) / _SECOND_NS
    return next((width for width in (0, *WIDTHS_S) if span_s / max(width, 1) <= points), WIDTHS_S[-1])


def empty_levels(channels: Sequence[str], t0: int, t1: int, width_s: int) -> Levels:
    """Buckets that cover [t0, t1), nothing in them yet."""
    width = width_s * _SECOND_NS
    t = np.arange(t0 // width * width, t1, width, dtype=np.int64)
    shape = (len(channels), t.size)
    return Levels(
        width_s,
        tuple(channels),
        t,
        np.full(shape, np.nan),
        np.full(shape, np.nan),
        np.full(shape, np.nan),
        np.zeros(shape, np.int64),
    )


def levels_of(block: Block, width_s: int) -> Levels:
    """The block's own buckets, first to last."""
    levels = empty_levels(block.channels, block.t0, block.end, width_s)
    if not block.n:
        return levels
    counts = (block.status & QUALITY_MASK) != BAD
    counts &= np.isfinite(block.values)
    all_count = bool(counts.all())
    values = block.values if all_count else np.where(counts, block.values, np.nan)
    summed = values if all_count else np.where(counts, block.values, 0.0)
    bucket, first = _first_cells(block.times(), levels)
    count = np.add.reduceat(counts, first, axis=1, dtype=np.int64)
    total = np.add.reduceat(summed, first, axis=1)
    levels.minimum[:, bucket] = np.fmin.reduceat(values, first, axis=1)
    levels.maximum[:, bucket] = np.fmax.reduceat(values, first, axis=1)
    levels.mean[:, bucket] = np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
    levels.count[:, bucket] = count
    return levels


def coarser(fine: Levels, width_s: int) -> Levels:
    """The same in wider buckets; `width_s` is a multiple of the finer width."""
    end = int(fine.t[-1]) + fine.width_s * _SECOND_NS
    levels = empty_levels(fine.channels, int(fine.t[0]), end, width_s)
    bucket, first = _first_cells(fine.t, levels)
    count = np.add.reduceat(fine.count, first, axis=1)
    total = np.add.reduceat(_total(fine.mean, fine.count), first, axis=1)
    levels.minimum[:, bucket] = np.fmin.reduceat(fine.minimum, first, axis=1)
    levels.maximum[:, bucket] = np.fmax.reduceat(fine.maximum, first, axis=1)
    levels.mean[:, bucket] = np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
    levels.count[:, bucket] = count
    return levels


def _first_cells(t: np.ndarray, levels: Levels) -> tuple[np.ndarray, np.ndarray]:
    """Buckets that have cells, and the first cell of each; t rises."""
    bucket = (t - levels.t[0]) // (levels.width_s * _SECOND_NS)
    first = np.concatenate(([0], np.flatnonzero(np.diff(bucket)) + 1))
    return bucket[first], first


def merge(into: Levels, part: Levels) -> None:
    """Put the buckets of `part` in their places; what lies outside `into`, and channels it lacks, are left out.

    Parts are whole UTC hours, or what there is of the newest; no bucket lies in two of them.
    """
    start = (int(part.t[0]) - int(into.t[0])) // (into.width_s * _SECOND_NS) if part.t.size and into.t.size else 0
    skipped, last = max(0, -start), min(part.t.size, into.t.size - start)
    if skipped >= last:
        return
    row_of = {channel: row for row, channel in enumerate(part.channels)}
    rows = [(to, row_of[channel]) for to, channel in enumerate(into.channels) if channel in row_of]
    to, of = [to for to, _ in rows], [row for _, row in rows]
    here, there = slice(start + skipped, start + last), slice(skipped, last)
    into.minimum[to, here] = part.minimum[of, there]
    into.maximum[to, here] = part.maximum[of, there]
    into.mean[to, here] = part.mean[of, there]
    into.count[to, here] = part.count[of, there]


def _total(mean: np.ndarray, count: np.ndarray) -> np.ndarray:
    return np.where(count > 0, mean, 0.0) * count


def store_hour(connection: Connection, line: str, kind: str, hour: Block) -> None:
    """Replace the stored levels of the one UTC hour that `hour` lies in."""
    hour_ns = hour_of(hour.t0)
    widths = [width for width in STORED_WIDTHS_S if _worth_storing(width, hour.step)]
    if not widths:
        return
    connection.execute(
        delete(level_table).where(
            level_table.c.line == line, level_table.c.kind == kind, level_table.c.hour_ns == hour_ns
        )
    )
    levels: Levels | None = None
    rows = []
    for width in widths:
        levels = levels_of(hour, width) if levels is None else coarser(levels, width)
        rows.append({
            "line": line, "kind": kind, "width_s": width, "hour_ns": hour_ns,
            "channels": json.dumps(hour.channels), "body": _body(levels),
        })  # fmt: skip
    connection.execute(insert(level_table), rows)


def _worth_storing(width_s: int, step: int) -> bool:
    return width_s * _SECOND_NS >= 2 * step


def is_stored(width_s: int, step: int) -> bool:
    """Whether whole hours at this cadence have a stored level of this width."""
    return width_s in STORED_WIDTHS_S and _worth_storing(width_s, step)


def stored_levels(
    connection: Connection, line: str, kind: str, channels: Sequence[str], t0: int, t1: int, width_s: int
) -> Levels:
    """What the stored hours say of [t0, t1)."""
    levels = empty_levels(channels, t0, t1, width_s)
    table = level_table.c
    rows = connection.execute(
        select(table.channels, table.body)
        .where(table.line == line, table.kind == kind, table.width_s == width_s)
        .where(table.hour_ns > t0 - HOUR_NS, table.hour_ns < t1)
        .order_by(table.hour_ns)
    )
    for text, body in rows:
        merge(levels, _from_body(json.loads(text), body, width_s))
    return levels


def _body(levels: Levels) -> bytes:
    head = np.array([levels.t[0], levels.t.size], np.int64)
    planes = (levels.minimum, levels.maximum, levels.mean, levels.count.astype(np.int32))
    return b"".join((head.tobytes(), *(plane.tobytes() for plane in planes)))


def _from_body(stored: list[str], body: bytes, width_s: int) -> Levels:
    t0, m = (int(number) for number in np.frombuffer(body, np.int64, 2))
    size = len(stored) * m
    floats = np.frombuffer(body, np.float64, 3 * size, 16).reshape(3, len(stored), m)
    count = np.frombuffer(body, np.int32, size, 16 + floats.nbytes).reshape(len(stored), m)
    t = t0 + width_s * _SECOND_NS * np.arange(m, dtype=np.int64)
    return Levels(width_s, tuple(stored), t, floats[0], floats[1], floats[2], count)
