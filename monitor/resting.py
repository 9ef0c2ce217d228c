"""Conditions rest while they cannot decide anything; the cells of that while are judged together, and later.

What has to hold for a minute before it is said cannot be said twenty seconds after nothing of it held. Its cells of
10 s may as well be judged five at a time, for the price of one, and in one of the seconds after the fifth, when
little else is to be done: so no live tick has all of the work. What is decided, and the tick in which it is said, are
the same to the bit, for judging a + b is judging a, then b.

When a condition rests follows from the clock, its episodes and its state, not from how a log is cut: on marks of the
absolute grid it has judged all cells before. If nothing of it is open or pending there, and nothing can be opened
before the next mark has been judged, it rests up to the next; else it judges every cell as it comes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor import recent_cells
from monitor.arming import Armed
from monitor.contract import Context, State
from monitor.episodes import Episode, all_idle
from monitor.view import CoarseView, Extremes

PERIODS = (5, 3, 2, 1)
"""Cells between two marks."""
KEPT = 5
"""The most cells a condition may have to judge later."""
LATE_TICKS = 3
"""Into so many cadence cells after a 10 s cell what may wait is spread; the others stay as quick as can be."""


@dataclass(frozen=True)
class Marks:
    """Cells of the absolute grid before which a condition has judged everything: number % period == first.

    late: cadence cells that pass after the mark until it does so. by_minute: between two marks it does not change its
    mind.
    """

    period: int
    first: int
    late: int = 0
    by_minute: bool = False

    def newest(self, fine_end: int, width: int) -> int:
        """The newest mark that is due. fine_end: number of the cadence cell that comes next; width: of a 10 s cell."""
        end = (fine_end - self.late) // width
        return end - (end - self.first) % self.period


def silent_for(item: Armed, state: State, index: int, ctx: Context) -> int:
    """Cells up to and with the first with which something may be opened that is neither open nor pending now.

    The shortest on-delay; longer where the condition has a delay of its own and tells, by `silent_for(state, index,
    ctx)`, the cells up to and with the first that may speak. index: number, on the absolute grid, of the cell to come.
    """
    own = getattr(item.condition, "silent_for", None)
    before = 0 if own is None else max(0, own(state, index, ctx) - 1)
    return before + max(1, min(delays.soonest for delays in item.delays))


def marks(armed: Sequence[Armed], width: int, ctx: Context) -> dict[str, Marks]:
    """Marks of every condition that watches something on the 10 s grid, by name. width: cadence cells in a 10 s cell.

    So far apart that, resting, it says nothing late. What judges by the minute without an on-delay changes its mind at
    the ends of minutes only: those are its marks, and it judges them at once. Conditions of one period are spread in
    the order of the registry, for neighbours share what they make of the cells.
    """
    found: dict[str, Marks] = {}
    by_period: dict[tuple[int, int], list[str]] = {}
    ticks = min(LATE_TICKS, width - 1)
    for item in armed:
        if item.condition.grid != "coarse" or not item.subjects:
            continue
        longest = silent_for(item, item.condition.start(item.subjects, ctx), 0, ctx)
        minute = round(getattr(item.condition, "grid_s", 0.0) / ctx.step_s)
        if longest == 1 < minute <= KEPT + 1:
            found[item.condition.name] = Marks(minute, 0, by_minute=True)
            continue
        spread = ticks if longest > 1 else 0
        period = next(cells for cells in PERIODS if cells <= max(1, longest - (spread > 0)))
        by_period.setdefault((period, spread), []).append(item.condition.name)
    for (period, spread), some in by_period.items():
        for place, name in enumerate(some):
            first, late = divmod(place * period * max(1, spread) // len(some), max(1, spread))
            found[name] = Marks(period, first, late + 1 if spread else 0)
    return found


def rests(item: Armed, marks: Marks, state: State, episodes: Sequence[Episode], index: int, ctx: Context) -> bool:
    """Whether nothing is open or pending at a mark, and nothing can be opened before the next has been judged."""
    if not all_idle(episodes):
        return False
    return marks.by_minute or silent_for(item, state, index, ctx) >= marks.period + (marks.late > 0)


class Stretch:
    """The newest cells as each condition has still to judge them. recent: the cells kept from before, if any.

    fine_end: number of the cadence cell that comes next; width: cadence cells in a 10 s cell.
    """

    def __init__(self, view: CoarseView, extremes: Extremes, recent: State | None, fine_end: int, width: int) -> None:
        self.view, self._extremes, self._recent = view, extremes, recent
        self._fine_end, self._width = fine_end, width
        self._joined: tuple[CoarseView, Extremes] | None = None
        self._parts: dict[tuple[int, int], CoarseView] = {(0, view.n): view}

    def part(self, first: int, last: int) -> CoarseView:
        """Some of the cells; `first` is below 0 where it lies among those kept from before."""
        if (first, last) not in self._parts:
            if first >= 0:
                self._parts[first, last] = recent_cells.cut(self.view, first, last)
            else:
                both, _ = self._both()
                before = both.n - self.view.n
                self._parts[first, last] = recent_cells.cut(both, before + first, before + last)
        return self._parts[first, last]

    def _both(self) -> tuple[CoarseView, Extremes]:
        if self._joined is None:
            whole = self.view, self._extremes
            self._joined = whole if self._recent is None else recent_cells.joined(self._recent, *whole)
        return self._joined

    def newest(self) -> State:
        """What has to be kept for the cells to come."""
        whole = (self.view, self._extremes) if self.view.n >= KEPT else self._both()
        return recent_cells.newest(*whole, KEPT)

    def due(
        self, item: Armed, marks: Marks, owed: dict[str, int], nodes: State, episodes: State, ctx: Context
    ) -> Iterator[CoarseView]:
        """What a condition has to judge now, in one part or two. Its state is looked at again behind a mark.

        owed: by condition, how many cells before these it has not judged; its own is brought up to date.
        """
        name, last = item.condition.name, self.view.n
        first, zero = -owed.get(name, 0), self.view.t0 // self.view.step
        mark = marks.newest(self._fine_end, self._width) - zero
        owed[name] = 0
        if mark >= first:
            if mark > first:
                yield self.part(first, mark)
            if mark < last and rests(item, marks, nodes[name], episodes[name], zero + mark, ctx):
                owed[name] = last - mark
                return
            first = mark
        if first < last:
            yield self.part(first, last)


def late_now(marks: dict[str, Marks], owed: dict[str, int], fine_first: int, fine_end: int, width: int) -> list[str]:
    """Conditions that have let a mark pass and judge it in these cadence cells, in which no 10 s cell ends."""
    if fine_first % width >= LATE_TICKS:
        return []
    return [
        name
        for name, cells in owed.items()
        if cells and marks[name].newest(fine_end, width) > marks[name].newest(fine_first, width)
    ]
