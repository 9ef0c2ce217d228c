"""Medians of minutes, all quantities at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.exact import Floats

LEAST_CELLS = 0.6
MAD_TO_SIGMA = 1.4826

SWITCHED_PCT = 20.0
"""An output that moves so far within a minute is switched on and off: `SWITCHED_PCT` of zone_hunting."""

SWITCHED_SCATTER = 0.1
"""Of how far it moves: a minute that cuts through cycles of about its own length is off by a tenth of that (a sine of
the duty, cut at any place). Common practice, no source."""


def minute_medians(cells: Floats, switched: NDArray[np.bool_]) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Median and spread (1.4826 times the median distance from it) of each minute, [minute, quantity].

    Zero and finite where too few cells are known; the third says where enough are. switched: quantities, [quantity],
    of which a minute in which they are switched on and off has its mean: its median is nothing or all there is. Its
    scatter is what is left of the switching in a mean.
    """
    known = np.isfinite(cells)
    count = known.sum(axis=0)
    enough = count >= LEAST_CELLS * len(cells)
    padded = np.where(known, cells, np.inf)
    median = np.where(enough, column_medians(padded, count), 0.0)
    spread = column_medians(np.abs(padded - median), count)
    if switched.any():
        part = cells[:, :, switched]
        low, high = np.fmin.reduce(part, axis=0), np.fmax.reduce(part, axis=0)
        with np.errstate(invalid="ignore"):
            moves = enough[:, switched] & (high - low >= SWITCHED_PCT)
        if moves.any():
            total = np.zeros(moves.shape)
            for row in part:
                total += np.where(np.isfinite(row), row, 0.0)
            mean = total / np.fmax(count[:, switched], 1)
            median[:, switched] = np.where(moves, mean, median[:, switched])
            spread[:, switched] = np.where(moves, SWITCHED_SCATTER * (high - low), spread[:, switched])
    return median, np.where(enough, MAD_TO_SIGMA * spread, 0.0), enough


def column_medians(x: Floats, count: NDArray[np.int64]) -> Floats:
    """Median over axis 0 of the `count` finite values of each column; the rest of x is +inf, and x stays as it is.

    Sorted by exchanging neighbours, all columns at once: numpy's own median is many times slower on short columns.
    """
    rows = [row.copy() for row in x]
    for turn in range(len(rows)):
        for place in range(turn % 2, len(rows) - 1, 2):
            a, b = rows[place], rows[place + 1]
            rows[place], rows[place + 1] = np.minimum(a, b), np.maximum(a, b)
    if (count == len(rows)).all():
        middle = (rows[(len(rows) - 1) // 2] + rows[len(rows) // 2]) / 2
    else:
        ordered, last = np.array(rows), np.fmax(count, 1)
        pair = [np.take_along_axis(ordered, place[None], axis=0)[0] for place in ((last - 1) // 2, last // 2)]
        middle = (pair[0] + pair[1]) / 2
    return middle + 0.0  # -0.0 and +0.0 sort as equals


def last_three(recent: Floats, median: Floats, enough: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats, Floats]:
    """The newest three medians known at each minute: state for the next, then lowest, middle, highest.

    recent: [quantity, 3], the state. The others [minute, quantity], NaN while there are fewer than three.
    """
    table = np.concatenate((recent.T, median))
    there = np.concatenate((np.ones(recent.T.shape, bool), enough))
    place = np.where(there, np.arange(len(table))[:, None], 0)
    np.maximum.accumulate(place, axis=0, out=place)
    third = place
    second = np.take_along_axis(place, np.fmax(third - 1, 0), axis=0)
    first = np.take_along_axis(place, np.fmax(second - 1, 0), axis=0)
    a, b, c = (np.take_along_axis(table, part, axis=0)[3:] for part in (first, second, third))
    after = np.array([a[-1], b[-1], c[-1]]).T.copy()
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    return after, low, middle, high
