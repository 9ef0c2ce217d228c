"""Sensors most of whose readings lie outside the range that the line file gives them: a likely mistake in that file."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ingest.account import ReadingAccount
from ingest.block import FRESH, GOOD, QUALITY_MASK, Block
from ingest.roles import ROLES
from monitor.line import Line

FEWEST = 60
"""Readings outside from which it is said: fewer are those of a start or of a moment's fault."""


class MistakenRanges:
    """Counts what each channel of a finished log gave within its range. Memory: a number a channel."""

    def __init__(self, line: Line) -> None:
        self._line = line
        self._inside = np.zeros(len(line.channels), np.int64)

    def add(self, block: Block) -> None:
        """The next cells."""
        fresh = ((block.status & FRESH) != 0) & ((block.status & QUALITY_MASK) == GOOD) & np.isfinite(block.values)
        self._inside += np.count_nonzero(fresh, axis=1)

    def sentences(self, account: ReadingAccount) -> Iterator[str]:
        """What is to be looked at in the line file, after the end of the log."""
        inside = dict(zip(self._line.channels, self._inside.tolist(), strict=True))
        for sensor in self._line.sensor:
            outside = account.values_out_of_range.get(sensor.tag, 0)
            if sensor.range is not None and outside >= max(FEWEST, inside[sensor.key]):
                unit = sensor.unit or ROLES[sensor.role].unit
                span = f"{sensor.range[0]:g} to {sensor.range[1]:g} {unit}"
                yield (
                    f"'{sensor.tag}': {outside:,} readings lie outside {span}, "
                    f"the range the line file gives it, and are not judged: correct `range`, which is in the sensor's "
                    f"own unit, or `unit` at this [[sensor]]"
                )
