"""Times of day to stamps: counts the days of a log that holds no dates."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator

import numpy as np

from ingest.raw_rows import RawRows

_HOUR_NS = 3600 * 10**9
DAY_NS = 24 * _HOUR_NS
FALL_NS = 3 * _HOUR_NS
"""A time of day that falls by more begins a day; by less, a clock was put back, as twice a year or when it is set."""
LATE_NS = 10 * 10**9
"""A row this shortly before midnight behind one this shortly after it is a late one of the day before."""
LONE_ROWS = 5
"""So many rows whose times of day stand out from those before and behind them begin no day."""
_AHEAD = LONE_ROWS + 1

Times = tuple[np.ndarray, np.ndarray, np.ndarray]
"""Nanoseconds, which could be read, which are UTC."""


def day_shifts(ns: np.ndarray, before: int | None) -> tuple[np.ndarray, np.ndarray]:
    """For every stamp of one and the same day how many days it is later, and which stand out and are of no known day.

    before: the time of day before the first, None where there is none. Shapes (n,), (n,).
    """
    lone = _lone(ns, before)
    kept = np.flatnonzero(~lone)
    steps = np.zeros(len(ns), np.int64)
    if len(kept):
        some = ns[kept]
        prior = np.concatenate(([some[0] if before is None else before], some[:-1]))
        fall = prior - some > FALL_NS
        late = (prior % DAY_NS < LATE_NS) & (some % DAY_NS >= DAY_NS - LATE_NS)
        steps[kept] = fall.astype(np.int64) - late
    return np.add.accumulate(steps), lone


def _lone(ns: np.ndarray, before: int | None) -> np.ndarray:
    """Up to LONE_ROWS rows between two that go on from each other, a long way off from both."""
    lone = np.zeros(len(ns), bool)
    prior = ns[0] if before is None and len(ns) else before
    falls = np.flatnonzero(np.diff(ns, prepend=prior if prior is not None else 0) < -FALL_NS)
    for i in falls.tolist():
        if lone[i]:
            continue
        last = int(ns[i - 1]) if i else prior
        if last is not None and last % DAY_NS >= DAY_NS - LATE_NS and ns[i] % DAY_NS < LATE_NS:
            continue  # midnight itself; what follows may be a late row
        for end in range(i + 1, min(i + 1 + LONE_ROWS, len(ns))):
            if last is not None and 0 <= ns[end] - last < FALL_NS and ns[end] - ns[end - 1] > FALL_NS:
                lone[i:end] = True
                break
    return lone


def counted(
    read: Callable[[RawRows], Times],
    raw: Iterable[RawRows],
    tell: Callable[[RawRows, int, int, int], None],
) -> Iterator[tuple[RawRows, Times]]:
    """Rows with their stamps, in the order of the log; the same however they are cut up.

    read: gives all rows the first day. tell: told of every new day: rows, index, and the times of day before and then.
    """
    days, before = 0, 0
    first = True
    waiting: deque[tuple[RawRows, Times]] = deque()

    def settle() -> tuple[RawRows, Times]:
        nonlocal days, before, first
        rows, (ns, ok, zoned) = waiting.popleft()
        places = np.flatnonzero(ok)
        ahead = [np.zeros(0, np.int64), *(later[0][later[1]][:_AHEAD] for _, later in waiting)]
        shifts, lone = day_shifts(np.concatenate((ns[places], *ahead)), None if first else before)
        shifts, lone = shifts[: len(places)], lone[: len(places)]
        ns, ok = ns.copy(), ok.copy()
        ok[places[lone]] = False
        kept, shifts = places[~lone], shifts[~lone]
        for i in np.flatnonzero(np.diff(shifts, prepend=0) > 0).tolist():
            tell(rows, int(kept[i]), int(ns[kept[i - 1]]) if i else before, int(ns[kept[i]]))
        if len(kept):
            before, first = int(ns[kept[-1]]), False
            ns[kept] += (days + shifts) * DAY_NS
            days += int(shifts[-1])
        return rows, (ns, ok, zoned)

    for rows in raw:
        waiting.append((rows, read(rows)))
        while sum(int(times[1].sum()) for _, times in list(waiting)[1:]) >= _AHEAD:
            yield settle()
    while waiting:
        yield settle()
