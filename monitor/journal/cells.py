"""Joins stored pieces of readings to one grid, and cuts a grid into the stretches that were really given."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from ingest.block import NONE, Block
from monitor.journal.codec import ABSENT

HOUR_NS = 3_600_000_000_000


def hour_of(t_ns: int) -> int:
    """Start of the UTC hour that `t_ns` lies in."""
    return t_ns // HOUR_NS * HOUR_NS


def on_grid(t_ns: int, step: int) -> int:
    """Start of the first cell that does not begin before `t_ns`."""
    return -(-t_ns // step) * step


def by_hour(block: Block) -> Iterator[Block]:
    """The block cut at UTC hours; a cell belongs to the hour in which it starts."""
    first = 0
    while first < block.n:
        hour_end = hour_of(block.t0 + first * block.step) + HOUR_NS
        last = min(block.n, (on_grid(hour_end, block.step) - block.t0) // block.step)
        yield block if last - first == block.n else block.cut(first, last)
        first = last


def join(pieces: Iterable[Block], t0: int, step: int, n: int, channels: Sequence[str]) -> Block:
    """The pieces laid over one another on n cells from t0; what no piece gives is NaN with status ABSENT."""
    values = np.full((len(channels), n), np.nan)
    status = np.full((len(channels), n), ABSENT, np.uint8)
    rows = {channel: row for row, channel in enumerate(channels)}
    for piece in pieces:
        first = max(0, (piece.t0 - t0) // step)
        last = min(n, (piece.end - t0) // step)
        if first >= last:
            continue
        cut = slice(t0 // step + first - piece.t0 // step, t0 // step + last - piece.t0 // step)
        here = [row for row, channel in enumerate(piece.channels) if channel in rows]
        there = [rows[piece.channels[row]] for row in here]
        given = piece.status[here, cut]
        if (given == ABSENT).any():
            kept = given != ABSENT
            values[there, first:last] = np.where(kept, piece.values[here, cut], values[there, first:last])
            status[there, first:last] = np.where(kept, given, status[there, first:last])
        else:
            values[there, first:last] = piece.values[here, cut]
            status[there, first:last] = given
    return Block(t0, step, tuple(channels), values, status)


def trimmed(block: Block) -> Block | None:
    """The block without cells at its ends that nothing gives; None when nothing is given at all."""
    given = np.flatnonzero((block.status != ABSENT).any(axis=0))
    return block.cut(int(given[0]), int(given[-1]) + 1) if given.size else None


def stretches(block: Block) -> Iterator[Block]:
    """Runs of cells that were given, as they were given: a gap stays a gap between Blocks."""
    given = (block.status != ABSENT).any(axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], given, [False])).astype(np.int8)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        yield shown(block.cut(int(first), int(last)))


def shown(block: Block) -> Block:
    """The block with cells that were never given marked 'none', as a reader of Blocks expects it."""
    absent = block.status == ABSENT
    if absent.any():
        return Block(
            block.t0,
            block.step,
            block.channels,
            block.values,
            np.where(absent, np.uint8(NONE), block.status),
            block.notes,
        )
    return block
