"""Sorts rows that stand a little out of order, and lets them go in whole cells only."""

from __future__ import annotations

import numpy as np

from ingest.clock import LATENESS_NS
from ingest.readings import Readings, join


class Ordering:
    """Holds back the rows that a late one could still come before.

    What leaves is sorted by stamp, rows of one stamp in the order of the log, and ends with a whole cell: so
    neither the order nor the content of a cell depends on how the rows were cut up.
    """

    def __init__(self, step_ns: int) -> None:
        self._step_ns = step_ns
        self._held: list[Readings] = []

    def push(self, rows: Readings, newest_ns: int) -> Readings | None:
        """Takes rows in; gives those back that are final, None if there are none.

        newest_ns: newest stamp so far; a row more than LATENESS_NS before it will not come any more.
        """
        self._held.append(rows)
        limit = self.limit_ns(newest_ns)
        if not any((part.places.at_ns < limit).any() for part in self._held):
            return None
        ready = self._sorted()
        count = int(np.searchsorted(ready.places.at_ns, limit))
        self._held = [ready.take(slice(count, None))]
        return ready.take(slice(0, count))

    def limit_ns(self, newest_ns: int) -> int:
        """Start of the first cell that a later row can still belong to."""
        return (newest_ns - LATENESS_NS) // self._step_ns * self._step_ns

    def close(self) -> Readings | None:
        """What is left at the end of the log, None if nothing is."""
        if not self._held:
            return None
        rows = self._sorted()
        self._held = []
        return rows if len(rows) else None

    def _sorted(self) -> Readings:
        rows = join(self._held)
        at_ns = rows.places.at_ns
        if (np.diff(at_ns) < 0).any():
            rows = rows.take(np.argsort(at_ns, kind="stable"))
        return rows
