"""Coarser levels of cells for charts: least, greatest and mean value and how many cells count, per 10, 60, 600 s.

Cells without a reading and values judged 'bad' do not count. Buckets lie on the absolute grid.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ingest.archive.layout import SECOND_NS, widths_for
from ingest.archive.runs import on_grid
from ingest.block import BAD, QUALITY_MASK, Block


@dataclass(frozen=True)
class Coarse:
    """One level.

    width_s: of a bucket. t: start of each bucket that has cells, int64 UTC ns, rising, shape (m,).
    minimum, maximum, mean: float64, shape (channels, m), NaN where nothing counts.
    count: cells that count, int32, same shape.
    """

    width_s: int
    channels: tuple[str, ...]
    t: np.ndarray
    minimum: np.ndarray
    maximum: np.ndarray
    mean: np.ndarray
    count: np.ndarray


@dataclass(frozen=True)
class _Buckets:
    t: np.ndarray
    minimum: np.ndarray
    maximum: np.ndarray
    total: np.ndarray
    count: np.ndarray


def coarse_levels(blocks: Sequence[Block]) -> list[Coarse]:
    """All levels kept of Blocks with the same channels; no bucket may have cells elsewhere."""
    step, channels = blocks[0].step, blocks[0].channels
    widths = widths_for(step)
    parts: dict[int, list[_Buckets]] = {width: [] for width in widths}
    for values, t0, status in _wholes(blocks, widths[-1] * SECOND_NS if widths else 0):
        made: _Buckets | None = None
        for number, width in enumerate(widths):
            if made is None:
                made = _from_cells(values, status, t0, step, width)
            else:
                made = _coarser(made, width // widths[number - 1])
            parts[width].append(made)
            if width * SECOND_NS % step:
                made = None  # a cell may lie in the end of one bucket and still count in the next coarser one
    return [_joined(width, channels, parts[width]) for width in widths]


def joined(levels: Sequence[Coarse]) -> Coarse:
    """One level, given in pieces in order of time with the same channels."""
    first = levels[0]
    return Coarse(
        first.width_s,
        first.channels,
        np.concatenate([level.t for level in levels]),
        *(
            np.concatenate([getattr(level, name) for level in levels], axis=1)
            for name in ("minimum", "maximum", "mean", "count")
        ),
    )


def _wholes(blocks: Sequence[Block], widest: int) -> Iterator[tuple[np.ndarray, int, np.ndarray]]:
    """Values, start and status of whole widest buckets; Blocks that share one come together."""
    start = 0
    for i in range(len(blocks)):
        after = blocks[i + 1].t0 if i + 1 < len(blocks) else None
        last_start = blocks[i].end - blocks[i].step
        if not widest or (after is not None and after // widest == last_start // widest):
            continue
        some = blocks[start : i + 1]
        start = i + 1
        step = some[0].step
        t0 = -(-(some[0].t0 // widest * widest) // step) * step
        end = -(-((last_start // widest + 1) * widest) // step) * step
        if len(some) == 1 and (t0, end) == (some[0].t0, some[0].end):
            yield some[0].values, t0, some[0].status
        else:
            values, status, _ = on_grid(some, t0, (end - t0) // step, some[0].channels)
            yield values, t0, status


def _from_cells(values: np.ndarray, status: np.ndarray, t0: int, step: int, width_s: int) -> _Buckets:
    """Buckets of cells; a bucket's numbers depend on its own cells alone."""
    width = width_s * SECOND_NS
    bad = (status & QUALITY_MASK) == BAD
    t = t0 + width * np.arange(values.shape[1] * step // width, dtype=np.int64)
    if not width % step and len(t) > 1 and not bad.any():
        low, high, total = _folded(values, width // step)
        if np.isfinite(low).all() and np.isfinite(high).all():  # so was every cell
            return _Buckets(t, low, high, total, np.full(low.shape, width // step, np.int32))
    values = np.where(np.isfinite(values) & ~bad, values, np.nan)
    if width % step:
        t = t0 + step * np.arange(values.shape[1], dtype=np.int64)
        first = np.flatnonzero(np.diff(t // width, prepend=-1))
        counts = np.isfinite(values)
        return _Buckets(
            t[first] // width * width,
            np.fmin.reduceat(values, first, axis=1),
            np.fmax.reduceat(values, first, axis=1),
            np.add.reduceat(np.where(counts, values, 0.0), first, axis=1),
            np.add.reduceat(counts, first, axis=1, dtype=np.int32),
        )
    # Cells of a bucket one behind the other, so that every bucket adds up in order, however many there are.
    by_place = np.ascontiguousarray(values.reshape(len(values), -1, width // step).transpose(2, 0, 1))
    counts = np.isfinite(by_place)
    count = counts.sum(0, dtype=np.int32)
    total = np.where(counts, by_place, 0.0).sum(0)
    return _Buckets(t, np.fmin.reduce(by_place, 0), np.fmax.reduce(by_place, 0), total, count)


def _folded(values: np.ndarray, times: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Least, greatest and sum of every `times` cells, NaN where one of them is."""
    shape = len(values), values.shape[1] // times
    low, high, total = np.empty(shape), np.empty(shape), np.empty(shape)
    for i, row in enumerate(values):
        # Channel by channel, which a cache holds. The cells of a bucket one behind the other: it adds up in order.
        by_place = np.ascontiguousarray(row.reshape(-1, times).T)
        np.minimum.reduce(by_place, axis=0, out=low[i])
        np.maximum.reduce(by_place, axis=0, out=high[i])
        np.add.reduce(by_place, axis=0, out=total[i])
    return low, high, total


def _coarser(fine: _Buckets, times: int) -> _Buckets:
    """`times` buckets to one."""

    def by_place(array: np.ndarray) -> np.ndarray:
        # Laid out anew: numpy folds an array with strides several times slower.
        return np.ascontiguousarray(array.reshape(len(array), -1, times).transpose(2, 0, 1))

    return _Buckets(
        fine.t[::times],
        np.fmin.reduce(by_place(fine.minimum), 0),
        np.fmax.reduce(by_place(fine.maximum), 0),
        by_place(fine.total).sum(0),
        by_place(fine.count).sum(0, dtype=np.int32),
    )


def _joined(width_s: int, channels: tuple[str, ...], parts: Sequence[_Buckets]) -> Coarse:
    """Buckets with at least one cell that counts in any channel."""
    t = np.concatenate([part.t for part in parts])
    low, high, total, count = (
        np.concatenate([getattr(part, name) for part in parts], axis=1)
        for name in ("minimum", "maximum", "total", "count")
    )
    some = count.any(axis=0)
    if not some.all():
        t, low, high, total, count = t[some], low[:, some], high[:, some], total[:, some], count[:, some]
    mean = np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
    return Coarse(width_s, channels, t, low, high, mean, count)
