"""When a channel changed in a way that something must have caused: the moments clocks are compared by."""

from __future__ import annotations

import numpy as np

from ingest.cell_edges import CellEdges

BEFORE, AFTER = 30, 6
"""Cells before a change that must be calm, and cells after it by which the change must show."""
_TIMES_NOISE = 8.0
_SHARE_OF_HEIGHT, _LEAST = 0.02, 1e-9


def may_hold_moments(values: np.ndarray, sharp: np.ndarray, edges: CellEdges) -> np.ndarray:
    """In which channels there can be a change at all, bool, for many channels at once: in most stretches is none.

    values: float64, shape (channels, n). sharp: as for `moments`. edges: of the values.
    """
    least, most = edges.least, edges.most
    floor = np.maximum(_SHARE_OF_HEIGHT * np.maximum(np.abs(least), np.abs(most)), _LEAST)
    may = ~(most - least <= np.where(sharp, 0.0, floor))
    moving = np.flatnonzero(may & ~sharp & ~np.isnan(least))
    if len(moving) and values.shape[1] >= BEFORE + AFTER + 2:
        some = values[moving]
        noise = np.median(np.abs(np.diff(some[:, :: _every(values.shape[1])], axis=1)), axis=1)
        limit = np.maximum(_TIMES_NOISE * noise, floor[moving])
        may[moving] = (np.abs(some[:, AFTER:] - some[:, :-AFTER]) > limit[:, None]).any(axis=1)
    return may


def moments(values: np.ndarray, sharp: bool) -> np.ndarray:
    """First cells of sudden changes of a channel.

    values: float64, shape (n,), NaN = no reading. sharp: whether the channel stands still but for its changes
    (set-points, switches): every change of such a one counts, where BEFORE calm cells came before it.
    Of another a change counts where the reading leaves the range of the BEFORE cells ahead of it by _TIMES_NOISE
    times its noise, by a fiftieth of its height at least, and is still out AFTER cells later.
    """
    if len(values) < BEFORE + AFTER + 2:
        return np.zeros(0, np.int64)
    return _sharp(values) if sharp else _onsets(values)


def _every(cells: int) -> int:
    """One cell in so many is looked at for the noise."""
    return max(1, cells // 400)


def _sharp(values: np.ndarray) -> np.ndarray:
    steps = np.diff(values)
    moved = np.flatnonzero((steps != 0) & ~np.isnan(steps)) + 1
    calm = np.diff(moved, prepend=-BEFORE) >= BEFORE
    return moved[calm & (moved >= BEFORE)]


def _onsets(values: np.ndarray) -> np.ndarray:
    later = values[AFTER:] - values[:-AFTER]
    steps = np.abs(np.diff(values[:: _every(len(values))]))
    steps = steps[~np.isnan(steps)]
    if not len(steps):
        return np.zeros(0, np.int64)
    height = float(np.nanmax(np.abs(values)))
    least = max(_TIMES_NOISE * float(np.median(steps)), _SHARE_OF_HEIGHT * height, _LEAST)
    found: list[int] = []
    for place in np.flatnonzero(np.abs(later) > least).tolist():
        if place < BEFORE or (found and place < found[-1] + BEFORE):
            continue
        before = values[place - BEFORE : place + 1]
        if np.isnan(before).any() or np.ptp(before) > 0.4 * abs(later[place]):
            continue
        # The first cell outside what was calm, by a quarter of the change.
        after = values[place + 1 : place + 1 + AFTER]
        out = np.abs(after - np.median(before)) > max(0.25 * abs(later[place]), 1.2 * float(np.ptp(before)))
        if out.any():
            found.append(place + 1 + int(np.argmax(out)))
    return np.array(found, np.int64)
