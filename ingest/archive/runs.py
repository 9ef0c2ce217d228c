"""Cells of several Blocks on one grid and back: Blocks end at whole hours and where cells are missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ingest.archive.layout import HOUR_NS
from ingest.block import NONE, Block


def cut_at_multiples(block: Block, of_ns: int) -> Iterator[Block]:
    """The Block cut at whole multiples of a time, notes with their cells; nothing for a Block without cells."""
    first = 0
    while first < block.n:
        end = ((block.t0 + first * block.step) // of_ns + 1) * of_ns
        last = min(block.n, -((block.t0 - end) // block.step))
        yield block if last - first == block.n else block.cut(first, last)
        first = last


def blocks_of(
    times: np.ndarray, step: int, channels: tuple[str, ...], values: np.ndarray, status: np.ndarray
) -> Iterator[Block]:
    """Rows as Blocks. times: int64, rising, shape (n,). values, status: (channels, n)."""
    if not len(times):
        return
    hours = times // HOUR_NS
    starts = np.flatnonzero((np.diff(times) != step) | (np.diff(hours) != 0)) + 1
    for first, last in zip([0, *starts.tolist()], [*starts.tolist(), len(times)], strict=True):
        yield Block(
            int(times[first]),
            step,
            channels,
            np.ascontiguousarray(values[:, first:last]),
            np.ascontiguousarray(status[:, first:last]),
        )


def with_channels(block: Block, channels: tuple[str, ...]) -> Block:
    """The Block with these channels; those it has not are empty."""
    if block.channels == channels:
        return block
    values = np.full((len(channels), block.n), np.nan)
    status = np.full((len(channels), block.n), NONE, np.uint8)
    place = {key: i for i, key in enumerate(block.channels)}
    here = [i for i, key in enumerate(channels) if key in place]
    there = [place[channels[i]] for i in here]
    values[here], status[here] = block.values[there], block.status[there]
    return Block(block.t0, block.step, channels, values, status, block.notes)


def on_grid(
    blocks: Sequence[Block], t0: int, n: int, channels: tuple[str, ...]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Values, status and whether there is a row, on n cells from t0."""
    values = np.full((len(channels), n), np.nan)
    status = np.full((len(channels), n), NONE, np.uint8)
    rows = np.zeros(n, bool)
    for block in blocks:
        first = (block.t0 - t0) // block.step
        here = slice(first, first + block.n)
        full = with_channels(block, channels)
        values[:, here], status[:, here] = full.values, full.status
        rows[here] = True
    return values, status, rows
