"""Logs that hold a reading only when it changes: each stands until the next, however many rows are empty between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ingest.propose.sample import Sample

_FILLED = 0.6
"""Share of cells that hold a reading, above which a log is taken to be written row by row."""
_DIFFER = 0.9
"""Share of readings that differ from the one before. A channel that is read slowly repeats itself: a set-point always,
a zone at rest mostly. What is left to repeat is the reading stored now and then to say that the channel lives."""
_FEWEST = 200


def with_standing_readings(sample: Sample) -> Sample:
    """The sample with every reading in all rows until the next, where the log is of that kind; else as it is.

    Rows before the first reading stay empty, and nothing stands from one part of a log into another.
    """
    known = np.isfinite(sample.values)
    if not known.size or known.mean() > _FILLED or not _on_change(sample, known):
        return sample
    rows = np.arange(known.shape[1])
    starts = np.r_[True, np.diff(sample.part) != 0] if len(rows) else np.zeros(0, bool)
    first = np.maximum.accumulate(np.where(starts, rows, 0))
    last = np.maximum.accumulate(np.where(known, rows, -1), axis=1)
    values = np.take_along_axis(sample.values, np.maximum(last, 0), axis=1)
    return replace(sample, values=np.where(last >= first, values, np.nan))


def _on_change(sample: Sample, known: np.ndarray) -> bool:
    differ = pairs = 0
    for row, there in zip(sample.values, known, strict=True):
        steps = np.diff(row[there])[np.diff(sample.part[there]) == 0]
        differ += int(np.count_nonzero(steps))
        pairs += len(steps)
    return pairs >= _FEWEST and differ >= _DIFFER * pairs
