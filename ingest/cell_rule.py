"""What a cell takes of several readings: the last, the mean or the maximum, and the quality that goes with it."""

from __future__ import annotations

import numpy as np

from ingest.block import BAD


def reduce_to_cells(
    rule: str, cells: np.ndarray, values: np.ndarray, quality: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One value and quality for each cell that has readings: (cells, values, quality), cells rising.

    rule: 'last', 'mean' or 'max'. cells: cell of each reading, not falling. quality: uint8.
    'last' takes the last reading as it is. 'mean' and 'max' leave bad readings out where others are there, and
    give the worst quality among those they take. A mean is summed in the order of the readings.
    """
    if rule != "last" and (quality >= BAD).any():
        usable = quality < BAD
        good = reduce_to_cells(rule, cells[usable], values[usable], quality[usable])
        only_bad = ~usable & ~np.isin(cells, good[0])
        bad = _reduce(rule, cells[only_bad], values[only_bad], quality[only_bad])
        order = np.argsort(np.concatenate((good[0], bad[0])), kind="stable")
        at, value, worst = (np.concatenate(pair)[order] for pair in zip(good, bad, strict=True))
        return at, value, worst
    return _reduce(rule, cells, values, quality)


def _reduce(
    rule: str, cells: np.ndarray, values: np.ndarray, quality: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if not len(cells):
        return cells, values, quality
    changes = np.flatnonzero(np.diff(cells)) + 1
    starts = np.concatenate(([0], changes))
    ends = np.concatenate((changes, [len(cells)]))
    at = cells[starts]
    if rule == "last":
        return at, values[ends - 1], quality[ends - 1]
    worst = np.maximum.reduceat(quality, starts)
    if rule == "max":
        return at, np.maximum.reduceat(values, starts), worst
    counts = ends - starts
    # bincount adds one after the other; numpy's own sums would depend on how many readings come together.
    sums = np.bincount(np.repeat(np.arange(len(starts)), counts), weights=values)
    return at, np.where(counts == 1, values[starts], sums / counts), worst
