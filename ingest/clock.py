"""The clock of a log: stamps to UTC in the order of the rows, with backward steps, lone stamps and clock changes."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from ingest import account as reasons
from ingest.account import ClockStep, ReadingAccount
from ingest.local_time import LocalClock

SECOND = 1_000_000_000
LATENESS_NS = 10 * SECOND
"""A row up to this far behind the newest row before it is sorted in; further behind it is set aside."""
FAR_AHEAD_NS = 2 * 3600 * SECOND
"""Rows that are this far ahead of the rows before and of one that follows soon carry a wrong stamp."""
LOOK_AHEAD_ROWS = 500
"""So many rows behind a row are looked at for one that tells that its stamp is far ahead. A burst of wrong stamps is
seldom longer: one scan of a few hundred tags, or some minutes until a controller that started anew has its time."""
REMEMBERED_NS = 2 * 3600 * SECOND
"""Among the stamps of this time a set-aside row is looked up, to tell whether its stamp was there before."""
SPARSE_NS = 60 * SECOND
"""From this step between rows on, two rows do not share a stamp, so an equal one is a repeated hour."""


class Clock:
    """Judges stamps row by row in the order of the log; what it says does not depend on how rows are cut up.

    typical_ns: usual step between rows.
    one_a_stamp: a stamp belongs to one row (wide layout), so a second one is a duplicate.
    in_second_pass: the log begins in the second pass of an hour that comes twice.
    """

    def __init__(
        self,
        local: LocalClock,
        account: ReadingAccount,
        typical_ns: int,
        one_a_stamp: bool,
        in_second_pass: bool = False,
    ) -> None:
        self._local = local
        self._account = account
        self._one_a_stamp = one_a_stamp
        self._in_second_pass = in_second_pass
        self._slack_ns = -1 if one_a_stamp and typical_ns >= SPARSE_NS else LATENESS_NS
        self.newest_ns: int | None = None
        self._newest_written: int | None = None  # as it stands in the log, local time not yet turned to UTC
        self._newest_file = ""
        self._recent = np.zeros(0, np.int64)
        self._step: ClockStep | None = None
        self._said: set[str] = set()

    def judge(
        self,
        file: str,
        numbers: np.ndarray,
        ns: np.ndarray,
        zoned: np.ndarray,
        ahead: np.ndarray,
        texts: Callable[[int], str],
    ) -> tuple[np.ndarray, np.ndarray]:
        """UTC nanoseconds, and a bool array of the rows that can be accepted.

        numbers: row numbers. ns: stamps, UTC where `zoned`, else of the local clock. ahead: stamps of the
        rows after these, LOOK_AHEAD_ROWS or more, fewer only at the end of the log. texts: gives the text of a stamp
        by index.
        """
        utc = ns.copy()
        keep = np.ones(len(ns), bool)
        self._drop_far_ahead(file, numbers, ns, keep, ahead, texts)
        self._to_utc(file, numbers, utc, zoned, keep, texts)
        self._drop_late(file, numbers, utc, keep, texts)
        self._newest_written = _newest(self._newest_written, ns[keep])
        return utc, keep

    def close(self) -> None:
        """The log is at its end."""
        self._end_step()

    def _drop_far_ahead(
        self,
        file: str,
        numbers: np.ndarray,
        ns: np.ndarray,
        keep: np.ndarray,
        ahead: np.ndarray,
        texts: Callable[[int], str],
    ) -> None:
        """Sets aside rows far ahead of those around them: accepted, they would put all others behind."""
        wrong = np.zeros(len(ns), bool)
        newest, seen = self._newest_written, 0
        for i in np.flatnonzero(ns > _least_of_next(ns, ahead) + FAR_AHEAD_NS).tolist():
            newest = _newest(newest, ns[seen:i])
            wrong[i] = newest is None or ns[i] > newest + FAR_AHEAD_NS
            seen = i + 1
            if not wrong[i]:
                newest = _newest(newest, ns[i : i + 1])
        self._aside(file, reasons.LONE_STAMP, numbers, wrong, texts)
        keep &= ~wrong

    def _to_utc(
        self,
        file: str,
        numbers: np.ndarray,
        utc: np.ndarray,
        zoned: np.ndarray,
        keep: np.ndarray,
        texts: Callable[[int], str],
    ) -> None:
        """Turns local stamps in `utc` to UTC. Of a repeated hour, rows are in its first pass until they step back, but
        those of a log that begins in the second one."""
        naive = np.flatnonzero(keep & ~zoned)
        if not len(naive):
            return
        instants = self._local.instants(utc[naive])
        absent = np.zeros(len(utc), bool)
        absent[naive] = ~instants.exists
        self._aside(file, reasons.NO_SUCH_TIME, numbers, absent, texts)
        if absent.any():
            self._say(
                "skipped",
                f"{file}, row {numbers[np.argmax(absent)]}: '{texts(int(np.argmax(absent)))}' does not exist in "
                f"{self._local.name}, the clock skipped it; if the clock of the log never changes, give time_zone as "
                "a fixed offset such as 'Etc/GMT-1'",
            )
        keep &= ~absent
        utc[naive] = instants.first
        twice = instants.second != instants.first
        if not twice.any():
            return
        self._say(
            "repeated",
            f"{file}, row {numbers[naive[np.argmax(twice)]]}: the clock of {self._local.name} was put back; the hour "
            "that comes twice is told apart by the order of the rows",
        )
        newest, seen = self.newest_ns, 0
        for index, second in zip(naive[twice].tolist(), instants.second[twice].tolist(), strict=True):
            newest = _newest(newest, utc[seen:index][keep[seen:index]])
            if self._in_second_pass if newest is None else utc[index] < newest - self._slack_ns:
                utc[index] = second
            newest = _newest(newest, utc[index : index + 1])
            seen = index + 1

    def _drop_late(
        self, file: str, numbers: np.ndarray, utc: np.ndarray, keep: np.ndarray, texts: Callable[[int], str]
    ) -> None:
        kept = np.flatnonzero(keep)
        if not len(kept):
            return
        stamps = utc[kept]
        start = stamps[0] if self.newest_ns is None else self.newest_ns
        newest = np.maximum(np.maximum.accumulate(stamps), start)
        before = np.concatenate(([start], newest[:-1]))
        behind = stamps < before
        late = stamps < before - LATENESS_NS
        if behind.any():
            self._account.out_of_order += int((behind & ~late).sum())
        # Until a row of this file is the newest itself, what is behind overlaps the file before.
        ahead = np.flatnonzero(stamps >= before) if self._newest_file != file else np.zeros(1, np.int64)
        own = np.arange(len(stamps)) >= (ahead[0] if len(ahead) else len(stamps))
        if late.any():
            self._count_repeats(stamps, before, late, own)
            for reason, rows in ((reasons.BACKWARDS, late & own), (reasons.OVERLAP, late & ~own)):
                mask = np.zeros(len(utc), bool)
                mask[kept[rows]] = True
                self._aside(file, reason, numbers, mask, texts)
        if self._step is not None or (late & own).any():
            self._follow_steps(file, numbers[kept], stamps, before, late, own)
        keep[kept[late]] = False
        self._recent = np.concatenate((self._recent[self._recent >= newest[-1] - REMEMBERED_NS], stamps[~late]))
        if len(ahead):
            self._newest_file = file
        self.newest_ns = int(newest[-1])

    def _count_repeats(self, stamps: np.ndarray, before: np.ndarray, late: np.ndarray, own: np.ndarray) -> None:
        """Rows that overlap an earlier file are duplicates; others are where their stamp was there before."""
        known = np.concatenate((self._recent, stamps[~late]))
        near = late & own & (stamps >= before - REMEMBERED_NS)
        repeats = int(np.isin(stamps[near], known).sum()) if self._one_a_stamp else 0
        self._account.duplicates += repeats + int((late & ~own).sum())

    def _follow_steps(
        self,
        file: str,
        numbers: np.ndarray,
        stamps: np.ndarray,
        before: np.ndarray,
        late: np.ndarray,
        own: np.ndarray,
    ) -> None:
        """Joins late rows that follow one another to one step of the clock."""
        edges = np.flatnonzero(np.diff(late.astype(np.int8), prepend=0)) if len(late) else []
        bounds = sorted({0, *map(int, edges), len(late)})
        for low, high in pairwise(bounds):
            if not late[low]:
                self._end_step()
            elif own[low]:
                if self._step is None:
                    self._step = ClockStep(file, int(numbers[low]), int(before[low]), int(stamps[low]), 0)
                step = self._step
                self._step = ClockStep(step.file, step.row, step.from_ns, step.to_ns, step.rows + high - low)

    def _end_step(self) -> None:
        if self._step is not None:
            self._account.add_clock_step(self._step)
            self._step = None

    def _aside(
        self, file: str, reason: str, numbers: np.ndarray, which: np.ndarray, texts: Callable[[int], str]
    ) -> None:
        if which.any():
            rows = np.flatnonzero(which)
            listed = [texts(int(i)) for i in rows[: reasons.LISTED_PER_REASON]]
            self._account.put_aside(file, reason, numbers[rows], listed)

    def _say(self, topic: str, sentence: str) -> None:
        """Says the first case of a topic; later ones are in the counts."""
        if topic not in self._said:
            self._said.add(topic)
            self._account.assume(sentence)


def _newest(newest: int | None, stamps: np.ndarray) -> int | None:
    if not len(stamps):
        return newest
    return int(stamps.max()) if newest is None else max(newest, int(stamps.max()))


def _least_of_next(ns: np.ndarray, ahead: np.ndarray) -> np.ndarray:
    """The earliest of the LOOK_AHEAD_ROWS stamps behind each stamp, a late one where none follows."""
    width, count = LOOK_AHEAD_ROWS, len(ns)
    never = np.iinfo(np.int64).max // 2
    after = np.concatenate((ns[1:], ahead[:width]))
    if not len(after) or (np.diff(after) >= 0).all():  # nearly always: what follows next is the earliest
        return np.append(after, never)[:count]
    # Minimum of a moving window by two running minima over stretches of its width (van Herk 1992).
    stretches = -(-(count + width) // width)
    padded = np.full(stretches * width, never)
    padded[: min(len(after), len(padded))] = after[: len(padded)]
    table = padded.reshape(stretches, width)
    forward = np.minimum.accumulate(table, axis=1).ravel()
    backward = np.minimum.accumulate(table[:, ::-1], axis=1)[:, ::-1].ravel()
    return np.minimum(backward[:count], forward[width - 1 : width - 1 + count])
