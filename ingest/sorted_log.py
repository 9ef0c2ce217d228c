"""A wide log whose rows are not in order of time, as a query without an order or days put together in another order
give them: the same rows by time."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ingest.account import SetAside
from ingest.clock import LATENESS_NS
from ingest.local_time import LocalClock
from ingest.mapping import LogMapping
from ingest.raw_rows import Log, RawRows
from ingest.reordered_log import ReorderedLog
from ingest.time_sort import SortedRuns
from ingest.time_stamps import EARLIEST_NS, LATEST_NS, TimeReader, as_text

FEWEST_BACK, SHARE_BACK = 5, 1 / 3
"""So many steps back by more than a late row, and so great a share of all steps that go back, are no clock that is put
right now and then: of rows in no order at all, half step back."""
JOIN_NS, JOIN_STEPS = 60 * 10**9, 10
"""Stretches join where no more is between them than this, or so many usual steps."""


class SortedLog(ReorderedLog):
    """The rows of another log in order of time, with the row numbers they have; those without a stamp come first.

    names: the columns that will be asked for. Memory: as `SortedRuns`.
    """

    def __init__(self, log: Log, times: TimeReader, names: tuple[str, ...]) -> None:
        super().__init__(log, names)
        self._runs, self._rows = SortedRuns(log.path), 0
        self._rejects: tuple[SetAside, ...] = ()
        # As the file has them: a column that is a number in one stretch and a text in the next could not be sorted.
        for rows in log.rows(names, frozenset()):
            self._rejects += rows.rejects
            if len(rows.numbers):
                ns, ok, _ = times.read(rows)
                self._runs.add(rows, np.where(_known(ns, ok), ns, np.iinfo(np.int64).min))
                self._rows += len(ns)

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The rows in order of time; what fell apart goes with the first."""
        done, rejects = 0, self._rejects
        for numbers, table in self._runs.in_order():
            done += len(table)
            columns = {name: table.column(name) for name in names}
            yield RawRows(self.path, numbers, columns, rejects, self._share_read(done, self._rows))
            rejects = ()


def stamps_tell_order(log: Log, times: TimeReader, mapping: LogMapping) -> bool:
    """Whether the stamps of a wide log that is not in order tell in which order its rows were written.

    None is there twice, and none is of an hour that comes twice. Either the rows stand in no order at all, or in
    stretches that join where they were torn apart: a clock that is put back comes to times that were there, or leaves
    some out. Memory: two numbers a row, and none where no row goes back.
    """
    if not _goes_back(log, times, mapping):
        return False
    parts, local = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for ns, zoned in _stamps(log, times, mapping):
        parts.append(ns)
        local.append(ns[~zoned])
    stamps = np.concatenate(parts)
    steps = np.diff(np.sort(stamps))
    if not steps.all():
        return False
    instants = LocalClock(mapping.time_zone).instants(np.concatenate(local))
    if (instants.first != instants.second).any():
        return False
    return in_no_order(np.diff(stamps)) or _joins(stamps, max(JOIN_NS, JOIN_STEPS * int(np.median(steps))))


def _stamps(log: Log, times: TimeReader, mapping: LogMapping) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """The stamps of this line's rows, ns, piece by piece, and which of them name their offset."""
    line = (mapping.line_column,) if mapping.line_column else ()
    for rows in log.rows((*times.columns, *line), frozenset()):
        if not len(rows.numbers):
            continue
        ns, ok, zoned = times.read(rows)
        ok = _known(ns, ok)
        if line:
            ok &= np.array(as_text(rows.columns[line[0]])) == mapping.line_value.strip()
        yield ns[ok], zoned[ok]


def _goes_back(log: Log, times: TimeReader, mapping: LogMapping) -> bool:
    """Whether any row is earlier than the one before it by more than a late row is."""
    newest = np.zeros(0, np.int64)
    for ns, _ in _stamps(log, times, mapping):
        if (np.diff(np.concatenate((newest, ns))) < -LATENESS_NS).any():
            return True
        newest = ns[-1:] if len(ns) else newest
    return False


def in_no_order(steps: np.ndarray) -> bool:
    """Whether rows stand in no order at all, by the steps of their stamps, ns."""
    return int((steps < -LATENESS_NS).sum()) >= FEWEST_BACK and int((steps < 0).sum()) >= SHARE_BACK * len(steps)


def _joins(stamps: np.ndarray, gap_ns: int) -> bool:
    """Whether the stretches of rows, put in order of time, lie one behind the other, and those that were apart in the
    file join without a gap."""
    steps = np.diff(stamps)
    starts = np.concatenate(([0], np.flatnonzero((steps < -LATENESS_NS) | (steps > gap_ns)) + 1))
    least, most = np.minimum.reduceat(stamps, starts), np.maximum.reduceat(stamps, starts)
    order = np.argsort(least)
    between = least[order][1:] - most[order][:-1]
    return bool((between > 0).all() and ((between <= gap_ns) | (np.diff(order) == 1)).all())


def _known(ns: np.ndarray, ok: np.ndarray) -> np.ndarray:
    return ok & (ns >= EARLIEST_NS) & (ns < LATEST_NS)
