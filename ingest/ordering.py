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

    def push(self, rows: Readings, newest_ns: int) -> list[Readings]:
        """Takes rows in; gives those back that are final, each part in whole cells, none if there are none.

        newest_ns: newest stamp so far; a row more than LATENESS_NS before it will not come any more.
        """
        self._held.append(rows)
        limit = self.limit_ns(newest_ns)
        if not any((part.places.at_ns < limit).any() for part in self._held):
            return []
        ready = self._following(limit)
        if ready:
            return ready
        one = self._sorted()
        count = int(np.searchsorted(one.places.at_ns, limit))
        self._held = [one.take(slice(count, None))]
        return [one.take(slice(0, count))]

    def _following(self, limit: int) -> list[Readings]:
        """What is final where the new rows simply follow the few that are held, as nearly always: nothing is copied
        but those few, with the rest of the cell in which they end. Nothing where it is not so."""
        if len(self._held) != 2:
            return []
        held, rows = self._held
        at_ns = rows.places.at_ns
        if not len(held) or held.places.at_ns[-1] > at_ns[0] or not _in_order(held) or not _in_order(rows):
            return []
        end = (int(held.places.at_ns[-1]) // self._step_ns + 1) * self._step_ns
        if end > limit:
            return []
        first, last = (int(place) for place in np.searchsorted(at_ns, (end, limit)))
        self._held = [rows.take(np.arange(last, len(rows)))]  # a copy, so that the rest can be let go
        parts = [join([held, rows.take(slice(0, first))]), rows.take(slice(first, last))]
        return [part for part in parts if len(part)]

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
        return rows if _in_order(rows) else rows.take(np.argsort(rows.places.at_ns, kind="stable"))


def _in_order(rows: Readings) -> bool:
    at_ns = rows.places.at_ns
    return bool((at_ns[1:] >= at_ns[:-1]).all())
