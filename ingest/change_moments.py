"""When a channel changed in a way that something must have caused: the moments clocks are compared by."""

from __future__ import annotations

import numpy as np

BEFORE, AFTER = 30, 6
"""Cells before a change that must be calm, and cells after it by which the change must show."""
_TIMES_NOISE = 8.0


def moments(values: np.ndarray, sharp: np.ndarray) -> list[np.ndarray]:
    """First cells of sudden changes, of each channel.

    values: float64, shape (channels, n), NaN = no reading. sharp: bool, which channels stand still but for their
    changes (set-points, switches): every change of these counts, where BEFORE calm cells came before it.
    Of the others a change counts where the reading leaves the range of the BEFORE cells ahead of it by _TIMES_NOISE
    times its noise, by a fiftieth of its height at least, and is still out AFTER cells later.
    """
    count = values.shape[1]
    if count < BEFORE + AFTER + 2:
        return [np.zeros(0, np.int64) for _ in values]
    return [_sharp(one) if still else _onsets(one) for one, still in zip(values, sharp, strict=True)]


def _sharp(values: np.ndarray) -> np.ndarray:
    steps = np.diff(values)
    moved = np.flatnonzero((steps != 0) & ~np.isnan(steps)) + 1
    calm = np.diff(moved, prepend=-BEFORE) >= BEFORE
    return moved[calm & (moved >= BEFORE)]


def _onsets(values: np.ndarray) -> np.ndarray:
    later = values[AFTER:] - values[:-AFTER]
    steps = np.abs(np.diff(values[:: max(1, len(values) // 400)]))
    steps = steps[~np.isnan(steps)]
    if not len(steps):
        return np.zeros(0, np.int64)
    height = float(np.nanmax(np.abs(values)))
    least = max(_TIMES_NOISE * float(np.median(steps)), 0.02 * height, 1e-9)
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
