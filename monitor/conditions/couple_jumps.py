"""What the readings of zones alone say of their couples: steps that no steel makes, and readings that stay away."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor import stood_silent
from monitor.contract import State
from monitor.exact import Bools, Floats, accumulate_while, last_known
from monitor.jump_guard import came_back, under_way

FRESH_CELLS = 3
"""A jump is told from a reading no older than so many cells."""

NOTHING_C = 0.0
"""Zones stand in a hall: what reads this or less is a logger's or a controller's nothing."""

AT_SET_C = 0.5
"""A reading so near its set-point before and behind a jump of both has moved with it."""


class Seen:
    """What the readings alone say of each cell, whatever was found before it, [zone, n] each.

    here: there is a reading. leaps: a step from a fresh reading that no steel makes. lost: silent for too long.
    events: cells in which a zone leaps or begins to be lost, [event].
    after: what of the state the readings alone decide, as it stands at the end.
    """

    def __init__(
        self,
        state: State,
        raw: Floats,
        believed: Callable[[], Bools],
        limit_c: float,
        silent_cells: int,
        wanted: Floats,
        step_s: float,
    ) -> None:
        self.raw, self.here = raw, np.isfinite(raw)
        self.known, last = last_known(state["last"], raw)
        self.first = state["last"]
        step = np.empty(raw.shape)
        with np.errstate(invalid="ignore"):
            np.subtract(raw[:, 0], self.first, out=step[:, 0])
            np.subtract(raw[:, 1:], self.known[:, :-1], out=step[:, 1:])
            self.leaps = np.abs(step, out=step) > limit_c
            moves = step > 0.0
        moved_c, silence = stood_silent.may_have_moved_c(state, moves, step_s)
        if np.count_nonzero(self.leaps) and np.count_nonzero(moved_c):
            self.leaps &= step > moved_c
        bad_after = self._nothings(state["bad"], believed)
        zones, cells = np.nonzero(self.leaps)
        fresh = np.where(state["stale"] == 0, self.first, np.nan)
        if len(zones):
            # Between cells on end: what gathers pace, as a die that water quenches, has not jumped.
            pace, earlier = self._pace(fresh, zones, cells), self._pace(fresh, zones, np.maximum(cells - 1, 0))
            slides = under_way(np.where(cells > 0, earlier, state["step"][zones]), pace)
            self.leaps[zones[slides], cells[slides]] = False
            zones, cells = zones[~slides], cells[~slides]
            # From set-point to set-point in one sample: the tag is the set-point, and no couple can break so.
            set_before = np.where(cells > 0, wanted[zones, cells - 1], state["wanted"][zones])
            follows = np.abs(self.before(zones, cells) - set_before) <= AT_SET_C
            follows &= np.abs(raw[zones, cells] - wanted[zones, cells]) <= AT_SET_C
            follows |= came_back(self.before(zones, cells), raw[zones, cells], wanted[zones, cells])
            self.leaps[zones[follows], cells[follows]] = False
        self.leaps[:, 0] &= self.here[:, 0] & (state["stale"] <= FRESH_CELLS)
        self.lost = np.zeros(raw.shape, bool)
        count = len(raw)
        self.after = {
            "step": self._pace(fresh, np.arange(count), np.full(count, raw.shape[1] - 1)),
            "last": last,
            "stale": np.zeros(count),
            "alone": np.zeros(count),
            "ever": np.ones(count, bool),
            "bad": bad_after,
            **silence,
        }
        gaps = np.flatnonzero(~self.here.all(axis=1))
        self._gaps(state, gaps, silent_cells)
        self.events = self._events() if len(zones) or len(gaps) else gaps

    def _nothings(self, before: Floats, believed: Callable[[], Bools]) -> Floats:
        """Takes out what comes back from a number that no zone shows, as of a logger: that has not broken, as one that
        is not believed for another reason may have. Returns whether the newest reading is such a number, [zone].

        believed: gives the readings that are, [zone, n]."""
        with np.errstate(invalid="ignore"):
            low = self.raw <= NOTHING_C
        if not np.count_nonzero(low) and not before.any():
            return before
        nothing = (low & ~believed()).astype(float)
        now, after = last_known(before, np.where(self.here, nothing, np.nan))
        self.leaps &= ~(_one_before(before, now) > 0)
        return after

    def _pace(self, fresh: Floats, zones: NDArray[np.int64], cells: NDArray[np.int64]) -> Floats:
        """How far zones moved from the cell before, NaN where that had no reading. fresh: before the first, [zone]."""
        return self.raw[zones, cells] - np.where(cells > 0, self.raw[zones, cells - 1], fresh[zones])

    def before(self, zones: NDArray[np.int64], cells: NDArray[np.int64] | int) -> Floats:
        """The newest reading of each zone before each of these cells."""
        return np.where(np.asarray(cells) > 0, self.known[zones, np.asarray(cells) - 1], self.first[zones])

    def _gaps(self, state: State, zones: NDArray[np.int64], silent_cells: int) -> None:
        """Zones of which readings are missing: how long, and while another zone read."""
        if not len(zones):
            return
        here = self.here[zones]
        others = np.broadcast_to(np.logical_or.reduce(self.here, axis=0).astype(float), here.shape)
        stale, stale_after = accumulate_while(state["stale"][zones], np.ones(here.shape), ~here)
        alone, alone_after = accumulate_while(state["alone"][zones], others, ~here)
        ever = state["ever"][zones, None] | np.logical_or.accumulate(here, axis=1)
        self.leaps[zones] &= here & (_one_before(state["stale"][zones], stale) <= FRESH_CELLS)
        self.lost[zones] = ~here & ever & (alone >= silent_cells)
        for name, values in (("stale", stale_after), ("alone", alone_after), ("ever", ever[:, -1])):
            self.after[name][zones] = values

    def _events(self) -> NDArray[np.int64]:
        """Cells in which a zone leaps or begins to be lost."""
        found = np.logical_or.reduce(self.leaps, axis=0)
        if self.lost.any():
            begins = self.lost & ~_one_before(np.zeros(len(self.raw), bool), self.lost)
            found |= np.logical_or.reduce(begins, axis=0)
        return np.flatnonzero(found)


def _one_before(state: NDArray[Any], rows: NDArray[Any]) -> NDArray[Any]:
    """What held before each cell. state: before the first."""
    return np.concatenate((state[:, None], rows[:, :-1]), axis=1)
