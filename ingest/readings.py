"""Accepted readings of one line, row by row, on their way to the cells: one shape for wide and one for long logs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Places:
    """Where rows come from and what their lot and recipe columns say; arrays of one length.

    at_ns: UTC nanoseconds. numbers: row in its file. files: index of the file.
    texts: codes of texts, shape (text columns, n), -1 where a row says nothing.
    """

    at_ns: np.ndarray
    numbers: np.ndarray
    files: np.ndarray
    texts: np.ndarray

    def take(self, rows: np.ndarray | slice) -> Places:
        """Some of the rows."""
        return Places(self.at_ns[rows], self.numbers[rows], self.files[rows], self.texts[:, rows])

    @staticmethod
    def join(parts: Sequence[Places]) -> Places:
        """Rows one behind the other."""
        return Places(
            np.concatenate([p.at_ns for p in parts]),
            np.concatenate([p.numbers for p in parts]),
            np.concatenate([p.files for p in parts]),
            np.concatenate([p.texts for p in parts], axis=1),
        )


@dataclass(frozen=True)
class WideReadings:
    """Rows with a value for every channel.

    values: float64, shape (channels, n), NaN where a row has no reading of a channel.
    quality: uint8 of the same shape, None where all readings are good.
    complete: every row is known to have a good reading of every channel.
    """

    places: Places
    values: np.ndarray
    quality: np.ndarray | None
    complete: bool = False

    def __len__(self) -> int:
        return len(self.places.at_ns)

    def take(self, rows: np.ndarray | slice) -> WideReadings:
        """Some of the rows."""
        quality = None if self.quality is None else self.quality[:, rows]
        return WideReadings(self.places.take(rows), self.values[:, rows], quality, self.complete)

    def quality_or_good(self) -> np.ndarray:
        """Quality as an array in any case."""
        return np.zeros(self.values.shape, np.uint8) if self.quality is None else self.quality

    def repeats(self) -> np.ndarray:
        """The rows that have the stamp of the row before them."""
        return np.flatnonzero(np.diff(self.places.at_ns) == 0) + 1


@dataclass(frozen=True)
class LongReadings:
    """Rows with a value for one channel each; arrays of one length.

    channels: index of the channel. values: float64. quality: uint8.
    A NaN with quality bad ends the hold of the reading before it; other NaN say nothing.
    """

    places: Places
    channels: np.ndarray
    values: np.ndarray
    quality: np.ndarray

    def __len__(self) -> int:
        return len(self.places.at_ns)

    def take(self, rows: np.ndarray | slice) -> LongReadings:
        """Some of the rows."""
        return LongReadings(self.places.take(rows), self.channels[rows], self.values[rows], self.quality[rows])

    def repeats(self) -> np.ndarray:
        """The rows that have the stamp and the tag of an earlier row."""
        if len(self) and not self._may_repeat():
            return np.zeros(0, np.int64)
        order = np.lexsort((self.channels, self.places.at_ns))
        same = (np.diff(self.places.at_ns[order]) == 0) & (np.diff(self.channels[order]) == 0)
        return order[1:][same]

    def _may_repeat(self) -> bool:
        """False where every pair of stamp and tag is there once, found without sorting: stamps are in order."""
        starts = np.flatnonzero(np.diff(self.places.at_ns, prepend=self.places.at_ns[0] - 1))
        stamp = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(self))))
        width = int(self.channels.max()) + 1
        if len(starts) * width > 16 * len(self) + 1000 or (np.diff(self.places.at_ns) < 0).any():
            return True
        return int(np.bincount(stamp * width + self.channels).max()) > 1


Readings = WideReadings | LongReadings


def join(parts: Sequence[Readings]) -> Readings:
    """Rows one behind the other; all of one layout."""
    first = parts[0]
    if len(parts) == 1:
        return first
    places = Places.join([part.places for part in parts])
    if isinstance(first, LongReadings):
        long = [part for part in parts if isinstance(part, LongReadings)]
        return LongReadings(
            places,
            np.concatenate([part.channels for part in long]),
            np.concatenate([part.values for part in long]),
            np.concatenate([part.quality for part in long]),
        )
    wide = [part for part in parts if isinstance(part, WideReadings)]
    quality = None
    if any(part.quality is not None for part in wide):
        quality = np.concatenate([part.quality_or_good() for part in wide], axis=1)
    values = np.concatenate([part.values for part in wide], axis=1)
    return WideReadings(places, values, quality, all(part.complete for part in wide))
