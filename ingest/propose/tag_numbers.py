"""What the numbers of one tag are like: level, whether they step or drift, whether they are switches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.propose.sample import Sample

_STEP_LIKE = 0.02
"""Share of rows with a change below which a tag is set by hand or recipe rather than measured."""
_LEVELS = 40
_BAND = 0.02
_RAMPS, _IN_A_RAMP = 0.15, 0.8
"""A set-point that is led to its new level changes row after row, by the same amount, and rests otherwise."""


@dataclass(frozen=True)
class TagNumbers:
    """Of one tag in a sample.

    count: readings. low, middle, high: 1st, 50th and 99th percentile. least, most: extremes.
    changes: share of rows whose reading differs from the one before. distinct: different readings, up to 1000.
    switch: only 0 and 1. stepped: a few levels, each held long, with steps or even ramps between them. rising: share
    of changes that go up.
    jitter: median size of a change. whole: only whole numbers.
    """

    count: int
    low: float
    middle: float
    high: float
    least: float
    most: float
    changes: float
    distinct: int
    switch: bool
    stepped: bool
    rising: float
    jitter: float
    whole: bool = False

    @property
    def constant(self) -> bool:
        """One and the same reading throughout."""
        return self.distinct <= 1


def numbers_of(sample: Sample) -> list[TagNumbers]:
    """Of every tag, in the order of the sample."""
    together = np.diff(sample.part) == 0
    return [_of(row, together) for row in sample.values]


def _of(row: np.ndarray, together: np.ndarray) -> TagNumbers:
    known = row[np.isfinite(row)]
    if not len(known):
        nan = float("nan")
        return TagNumbers(0, nan, nan, nan, nan, nan, 0.0, 0, False, False, nan, nan)
    low, middle, high = (float(x) for x in np.percentile(known, (1, 50, 99)))
    steps = np.diff(row)[together]
    steps = steps[np.isfinite(steps)]
    changed = steps[steps != 0]
    distinct = min(len(np.unique(known)), 1000)
    changes = len(changed) / max(1, len(steps))
    return TagNumbers(
        count=len(known),
        low=low,
        middle=middle,
        high=high,
        least=float(known.min()),
        most=float(known.max()),
        changes=changes,
        distinct=distinct,
        switch=bool(np.isin(known, (0.0, 1.0)).all()),
        stepped=((changes < _STEP_LIKE and distinct <= _LEVELS) or _ramps(steps, changes))
        and not _flickers(known, distinct),
        rising=float((changed > 0).mean()) if len(changed) else 0.5,
        jitter=float(np.median(np.abs(changed))) if len(changed) else 0.0,
        whole=bool((known == np.round(known)).all()),
    )


def _flickers(known: np.ndarray, distinct: int) -> bool:
    """Three and more levels within 2 %: a steady reading of coarse resolution, and no set-point."""
    middle = abs(float(np.median(known)))
    return distinct >= 3 and float(known.max() - known.min()) <= _BAND * middle


def _ramps(steps: np.ndarray, changes: float) -> bool:
    """Whether what changes does so evenly, row after row; a measured value goes to and fro, or waits between digits."""
    if not 0 < changes < _RAMPS:
        return False
    before, after = steps[:-1], steps[1:]
    moving = after != 0
    digit = np.abs(steps[steps != 0]).min()
    # Of a rounded ramp one step may be a digit larger than the next.
    even = moving & (before * after > 0) & (np.abs(after - before) <= np.maximum(0.5 * np.abs(after), 1.01 * digit))
    return bool(even.sum() >= _IN_A_RAMP * moving.sum())
