"""Arithmetic that gives the same bits however a log is cut into blocks.

Every function here takes the state left by the cells before and returns the state for the cells after.
Elsewhere in `monitor` running sums, moving windows and filters are not to be written by hand: numpy and
scipy add in an order that depends on the length of the array, and one NaN poisons a filter for ever.
Arrays are [row, n]: rows are channels or subjects, n cells in time. n = 0 returns the state unchanged.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def blank(rows: int, width: int) -> Floats:
    """State of a window of `width` past cells, none of them known yet."""
    return np.full((rows, width), np.nan)


def with_past(past: Floats, x: Floats) -> tuple[Floats, Floats]:
    """The cells before put in front of `x`, and the state for the next call.

    past: [rows, width]. x: [rows, n]. Returns ([rows, width + n], new past).
    """
    joined = np.concatenate((past, x), axis=1)
    return joined, joined[:, joined.shape[1] - past.shape[1] :].copy()


def ordered_sum(x: Floats, width: int) -> Floats:
    """Sum of each run of `width` neighbouring columns, added oldest first. [rows, w - 1 + n] -> [rows, n]."""
    n = x.shape[1] - width + 1
    if n == 1:  # a live cell: the same additions in the same order; 0.0 makes of -0.0 what starting from 0.0 does
        return np.add.accumulate(x, axis=1)[:, -1:] + 0.0
    total = x[:, : max(n, 0)] + 0.0
    for offset in range(1, width):
        total += x[:, offset : offset + n]
    return total


def count_true(flags: Bools, width: int) -> NDArray[np.int64]:
    """How many are true in each run of `width` neighbouring columns. [rows, w - 1 + n] -> [rows, n].

    Whole numbers add up to the same in any order, so that here one running count does.
    """
    upto = np.zeros((flags.shape[0], flags.shape[1] + 1), np.int64)
    np.add.accumulate(flags, axis=1, dtype=np.int64, out=upto[:, 1:])
    return upto[:, width:] - upto[:, : upto.shape[1] - width]


def trailing_mean(past: Floats, x: Floats, least: int = 1) -> tuple[Floats, Floats]:
    """Mean of the last `past.shape[1] + 1` known cells; NaN where fewer than `least` are known."""
    joined, new_past = with_past(past, x)
    width = past.shape[1] + 1
    known = np.isfinite(joined)
    if known.all() and width >= least:
        return ordered_sum(joined, width) / width, new_past
    count = count_true(known, width)
    mean = ordered_sum(np.where(known, joined, 0.0), width) / np.maximum(count, 1)
    mean[count < max(least, 1)] = np.nan
    return mean, new_past


def trailing_slope(past: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Least-squares slope per cell over the last `past.shape[1] + 1` cells; NaN where any is unknown.

    One cell alone has no slope: NaN throughout.
    """
    joined, new_past = with_past(past, x)
    width = past.shape[1] + 1
    if width == 1:
        return np.full(x.shape, np.nan), new_past
    arm = np.arange(width) - (width - 1) / 2
    n = x.shape[1]
    total = np.zeros((x.shape[0], n))
    for offset in range(width):
        total += arm[offset] * joined[:, offset : offset + n]
    return total / float((arm * arm).sum()), new_past


def trailing_extremes(past: Floats, x: Floats) -> tuple[Floats, Floats, Floats]:
    """Least and greatest known value over the last `past.shape[1] + 1` cells, and the new state.

    Zero comes out as +0.0: which of -0.0 and +0.0 numpy calls the lesser depends on the length of the array.
    """
    joined, new_past = with_past(past, x)
    n = x.shape[1]
    return _over_windows(np.fmin, joined, n) + 0.0, _over_windows(np.fmax, joined, n) + 0.0, new_past


def trailing_least(past: Floats, x: Floats) -> tuple[Floats, Floats]:
    """As `trailing_extremes`, the least alone."""
    joined, new_past = with_past(past, x)
    return _over_windows(np.fmin, joined, x.shape[1]) + 0.0, new_past


def trailing_greatest(past: Floats, x: Floats) -> tuple[Floats, Floats]:
    """As `trailing_extremes`, the greatest alone."""
    joined, new_past = with_past(past, x)
    return _over_windows(np.fmax, joined, x.shape[1]) + 0.0, new_past


def _over_windows(which: np.ufunc, joined: Floats, n: int) -> Floats:
    """np.fmin or np.fmax over each of the `n` windows of neighbouring columns, [rows, n]."""
    width = joined.shape[1] - n + 1
    if n == 1:
        return which.reduce(joined, axis=1, keepdims=True)
    # The lesser of two windows that overlap is that of both together: wider windows from narrower ones, exactly.
    found, covered = joined, 1
    while covered < width:
        step = min(covered, width - covered)
        found = which(found[:, :-step], found[:, step:])
        covered += step
    return found[:, :n]


def last_known(before: Floats, x: Floats) -> tuple[Floats, Floats]:
    """`x` with each NaN replaced by the newest known value before it. before: [rows]."""
    n = x.shape[1]
    if n == 0:
        return x, before
    known = np.isfinite(x)
    if n == 1:
        filled = np.where(known, x, before[:, None])
        return filled, filled[:, 0].copy()
    if known.all():
        return x, x[:, -1].copy()
    gaps = ~np.logical_and.reduce(known, axis=1)
    if 2 * np.count_nonzero(gaps) <= len(x):  # the rows without gaps, if most are, are as they should be
        filled = x.copy()
        filled[gaps], _ = last_known(before[gaps], x[gaps])
        return filled, filled[:, -1].copy()
    told = np.ones((len(x), n + 1), bool)
    told[:, 1:] = known
    filled = _held(told, np.concatenate((before[:, None], x), axis=1))
    return filled[:, 1:], filled[:, -1].copy()


def _held(told: Bools, values: NDArray[Any]) -> NDArray[Any]:
    """In every cell the value of the newest one that is told, its own row's: the first of every row is. [rows, n].

    Each is written out as often as it stands, which is quicker than to go over the cells one by one.
    """
    places = np.flatnonzero(told)
    lasts = np.empty_like(places)
    np.subtract(places[1:], places[:-1], out=lasts[:-1])
    lasts[-1:] = told.size - places[-1:]
    return np.repeat(values.ravel()[places], lasts).reshape(values.shape)


def turns(newest: Floats, side: Floats) -> tuple[Bools, Floats]:
    """Cells on the other side than the newest that was on any, and the newest side after them.

    newest: [rows], NaN before the first. side: [rows, n], 1 or -1, NaN on neither.
    """
    known, after = last_known(newest, side)
    before = np.concatenate((newest[:, None], known), axis=1)[:, : side.shape[1]]
    with np.errstate(invalid="ignore"):
        return known * before < 0, after


def two_threshold(before: Bools, rises: Bools, falls: Bools) -> tuple[Bools, Bools]:
    """A switch with deadband: on from a cell that `rises`, off from one that `falls`, else as before.

    before: [rows], rises and falls: [rows, n]. Where both hold, it is on.
    """
    rows, n = rises.shape
    if n == 0:
        return rises, before
    if n == 1:
        switched = rises | (before[:, None] & ~falls)
        return switched, switched[:, 0].copy()
    if not before.any() and not rises.any():
        return np.zeros((rows, n), bool), before
    may = np.flatnonzero(before | np.logical_or.reduce(rises, axis=1))
    decided = np.ones((len(may), n + 1), bool)
    np.logical_or(rises[may], falls[may], out=decided[:, 1:])
    switched = np.zeros((rows, n), bool)
    switched[may] = _held(decided, np.concatenate((before[may, None], rises[may]), axis=1))[:, 1:]
    return switched, switched[:, -1].copy()


def run_length(before: NDArray[np.int64], holds: Bools) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """How many cells in a row, this one included, `holds` has been true. before: [rows]."""
    rows, n = holds.shape
    if n == 0:
        return np.zeros((rows, 0), np.int64), before
    if n == 1:
        length = (before[:, None] + 1) * holds
        return length, length[:, 0].copy()
    if not holds.any():
        return np.zeros((rows, n), np.int64), np.zeros(rows, np.int64)
    every = np.logical_and.reduce(holds, axis=1)
    some = np.logical_or.reduce(holds, axis=1) & ~every
    if some.all():
        length = _runs(before, holds)
        return length, length[:, -1].copy()
    length = np.zeros((rows, n), np.int64)
    if every.any():
        length[every] = before[every, None] + np.arange(1, n + 1)
    if some.any():
        length[some] = _runs(before[some], holds[some])
    return length, length[:, -1].copy()


def _runs(before: NDArray[np.int64], holds: Bools) -> NDArray[np.int64]:
    """As `run_length`, from where runs begin, or from where they break off, whichever is less to go over."""
    rows, n = holds.shape
    apart = np.zeros((rows, n + 1), bool)  # a break before every row keeps its runs from those of the row before
    apart[:, 1:] = holds
    if 2 * np.count_nonzero(holds) > holds.size:
        breaks = np.flatnonzero(~apart)
        counted_from = breaks.copy()
        counted_from[np.searchsorted(breaks, np.arange(rows) * (n + 1))] -= before
        spans = np.diff(breaks, append=apart.size)
        return (np.arange(apart.size) - np.repeat(counted_from, spans)).reshape(apart.shape)[:, 1:]
    places = np.flatnonzero(apart)
    starts = np.concatenate(([0], np.flatnonzero(places[1:] != places[:-1] + 1) + 1))
    row, cell = np.divmod(places[starts], n + 1)
    counted_from = places[starts] - 1 - np.where(cell == 1, before[row], 0)
    length = np.zeros((rows, n + 1), np.int64)
    length.ravel()[places] = places - np.repeat(counted_from, np.diff(starts, append=len(places)))
    return length[:, 1:]


def ewma(before: Floats, x: Floats, weight: float) -> tuple[Floats, Floats]:
    """Exponentially weighted mean z += weight * (x - z). NaN cells leave it as it was; it starts at the
    first known cell. before: [rows], NaN = not started.

    Written as a recurrence over cells because scipy's filter has no answer to NaN; use it on coarse grids.
    """
    rows, n = x.shape
    out = np.empty((rows, n))
    z = before
    for i in range(n):
        column = x[:, i]
        z = np.where(np.isnan(column), z, np.where(np.isnan(z), column, z + weight * (column - z)))
        out[:, i] = z
    return out, z


def cell_means(x: Floats, width: int) -> Floats:
    """Mean of the known values of each whole cell of `width` columns. [rows, k * width] -> [rows, k]."""
    rows, n = x.shape
    if n == 0:
        return np.zeros((rows, 0))
    if width == 1:
        return np.where(np.isfinite(x), x + 0.0, np.nan)
    cells = x.reshape(rows, n // width, width)
    total = np.zeros(cells.shape[:2])
    # So few rows at a time that they stay in the processor's cache while gone over `width` times: half the time.
    at_once = max(1, 2**15 // n)
    for first in range(0, rows, at_once):
        part = slice(first, first + at_once)
        for offset in range(width):
            total[part] += cells[part, :, offset]
    means = total / width
    # What is not known makes its cell's sum unknown too: only such cells have to be gone over with care.
    gaps = ~np.isfinite(total)
    if gaps.any():
        means[gaps] = _known_means(cells[gaps])
    return means


def _known_means(cells: Floats) -> Floats:
    """Mean of the known values of each row, added first to last; NaN where none is. [cell, width] -> [cell]."""
    total, count = np.zeros(len(cells)), np.zeros(len(cells))
    for column in cells.T:  # numpy takes many times longer over short rows
        known = np.isfinite(column)
        total += np.where(known, column, 0.0)
        count += known
    return np.where(count > 0, total / np.where(count > 0, count, 1), np.nan)


def accumulate_while(before: Floats, x: Floats, holds: Bools) -> tuple[Floats, Floats]:
    """Running sum of `x` while `holds`, zero elsewhere. before: [rows]. x finite."""
    rows, n = x.shape
    if n == 0 or (not holds.any() and not before.any()):
        return np.zeros((rows, n)), before if n == 0 else np.zeros(rows)
    out = np.zeros((rows, n))
    apart = np.zeros((rows, n + 2), bool)  # what holds ends with its row
    apart[:, 1:-1] = holds
    row, edge = np.nonzero(apart[:, 1:] != apart[:, :-1])
    for place, first, last in zip(row[::2].tolist(), edge[::2].tolist(), edge[1::2].tolist(), strict=True):
        seed = before[place] if first == 0 else 0.0
        out[place, first:last] = running_total(np.array([seed]), x[None, place, first:last])
    return out, out[:, -1].copy()


def running_count(before: Floats, flags: Bools) -> Floats:
    """How many were true so far, this cell included. before: [rows]. Whole numbers add up to the same in any order."""
    if flags.shape[1] == 1:
        return before[:, None] + flags
    return before[:, None] + np.add.accumulate(flags, axis=1, dtype=np.int64)


def running_total(before: Floats, x: Floats) -> Floats:
    """Sum so far, this cell included. before: [rows]. The carry goes in front, so the additions are the same."""
    if x.shape[1] == 1:
        return before[:, None] + x
    return np.add.accumulate(np.concatenate((before[:, None], x), axis=1), axis=1)[:, 1:]
