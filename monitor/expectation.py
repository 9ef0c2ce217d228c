"""What torque, pressure, temperatures and outputs should be here and now, learned inside the run.

Once a minute, from steady minutes only, the median of each quantity moves a slow reference. A minute that lies
far off does not move it, so that a fault does not become the new normal. What is learned in a minute holds from
the next cell on, never backwards. A change of speed or rate starts it anew; the references before the change are
kept for the conditions that ask what the change should have done. Quantities that hang on the steel (`Kind.kept`)
keep theirs over a change of up to 15 % and have half an hour's patience to learn it anew. Another recipe leaves
nothing to compare with.

How near is near: see `learned_quantities`. All whole minutes of a block are made at once; only the recursion over
minutes is a loop.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.contract import State
from monitor.exact import Floats
from monitor.learned_quantities import Kind

ADOPT_MINUTES = 3
SLOWEST_WEIGHT = 1 / 20
OFF_SIGMAS = 4.0
GIVE_UP_MINUTES = 240
"""Minutes in a row that must lie off, and agree among themselves, before they are taken for the new normal."""
RELEARN_MINUTES = 30
UNSETTLED_MINUTES = 90
"""So many steady minutes after a change of speed or rate, kept quantities need only the shorter patience."""
STABLE_TOLERANCES = 4 / 3
"""Three minutes agree when they lie within so many tolerances, or within 4 sigma."""
FLOOR_TOLERANCES = 0.4 / 3
"""No scatter is taken for less than this part of the tolerance."""
SMALL_CHANGE_SHARE = 0.15
LEAST_CELLS = 0.6
MAD_TO_SIGMA = 1.4826
_WEIGHTS = np.array([max(1.0 / (minutes + 1), SLOWEST_WEIGHT) for minutes in range(20)])
_NEVER_KNOWN = 1e9
"""In `off`: not yet adopted, so that the first three minutes that agree are."""


@dataclass(frozen=True)
class Learned:
    """Expectations of a run of cells, [quantity, n] each, as known before each cell.

    before: the references that held before the last change of speed, rate or recipe.
    """

    reference: Floats
    scatter: Floats
    before: Floats


class Kinds:
    """Tolerances of the learned quantities as rows: share, absolute, kept, [quantity] each."""

    def __init__(self, kinds: Sequence[Kind]) -> None:
        self.share = np.array([kind.share for kind in kinds], float)
        self.absolute = np.array([kind.absolute for kind in kinds], float)
        self.kept = np.array([kind.kept for kind in kinds], bool)

    def tolerance(self, value: Floats) -> Floats:
        """How far off counts, [..., quantity]."""
        return self.share * np.abs(value) + self.absolute


def start(quantities: int, minute_cells: int) -> State:
    """Nothing learned."""
    return {
        "cells": np.full((quantities, 0), np.nan),
        "calm": np.zeros(0, bool),
        "moved": False,
        "since": UNSETTLED_MINUTES,
        "point": np.full(2, np.nan),
        "width": minute_cells,
        "before": np.full(quantities, np.nan),
        **_nothing_known(quantities),
    }


def _nothing_known(quantities: int) -> State:
    """16 times the squared scatter and the squared tolerance are -1 where nothing is known: nothing is near then."""
    return {
        "reference": np.zeros(quantities),
        "wide": np.full(quantities, -1.0),
        "bound": np.full(quantities, -1.0),
        "minutes": np.zeros(quantities, np.int64),
        "off": np.full(quantities, _NEVER_KNOWN),
        "recent": np.full((quantities, ADOPT_MINUTES), np.nan),
    }


def advance(
    state: State,
    x: Floats,
    steady: NDArray[np.bool_],
    changed: NDArray[np.bool_],
    first_index: int,
    kinds: Kinds,
    point: Floats,
) -> tuple[State, Learned]:
    """Expectations for the cells of `x`, [quantity, n].

    steady: cells fit to learn from. changed: cells in which speed, rate or recipe was changed or the line stood.
    first_index: number of the first cell on the absolute grid; minutes end where (index + 1) % width == 0.
    point: screw speed and rate, [2, n].
    """
    n, width = x.shape[1], state["width"]
    run = _Run(state, kinds)
    lead = first_index % width
    pending = state["cells"].shape[1]
    calm = np.concatenate((np.zeros(lead - pending, bool), state["calm"], steady & ~changed))
    whole = len(calm) // width
    # Lead-in cells of a log that begins inside a minute are not calm: that minute counts for nothing.
    good = np.flatnonzero(calm[: whole * width].reshape(whole, width).all(axis=1)) if whole else np.zeros(0, int)
    first_of_minute = np.arange(whole) * width - lead
    moves = np.flatnonzero(changed)
    ends = first_of_minute[good] + width
    breaks = np.searchsorted(moves, ends)
    last = 0
    for some, group in itertools.groupby(range(len(good)), key=lambda g: int(breaks[g])):
        if some > last:
            run.forget(int(moves[last]))
            last = some
        minutes = list(group)
        cells = _cells_of(state["cells"], x, first_of_minute[good[minutes]], width)
        run.learn(cells, ends[minutes], point)
    if last < len(moves):
        run.forget(int(moves[last]))
    kept = len(calm) - whole * width
    joined = x if kept <= n else np.concatenate((state["cells"], x), axis=1)
    after = {
        **run.s,
        "cells": joined[:, joined.shape[1] - min(kept, joined.shape[1]) :].copy(),
        "calm": calm[len(calm) - min(kept, pending + n) :].copy(),
    }
    return after, run.cells(n)


def _cells_of(pending: Floats, x: Floats, firsts: NDArray[np.int64], width: int) -> Floats:
    """Cells of whole minutes, [width, minute, quantity]; the first minute may begin in the cells before."""
    if len(firsts) and firsts[0] < 0:
        x = np.concatenate((pending, x), axis=1)
        firsts = firsts + pending.shape[1]
    return x[:, firsts + np.arange(width)[:, None]].transpose(1, 2, 0).copy()


class _Run:
    """References of a run of cells, and from which cell on each holds."""

    def __init__(self, state: State, kinds: Kinds) -> None:
        self.s, self.kinds = dict(state), kinds
        self.since: list[NDArray[np.int64] | list[int]] = [[0]]
        self.rows: list[tuple[Floats, ...]] = [self._now()]

    def _now(self) -> tuple[Floats, ...]:
        s = self.s
        return tuple(s[name][None, :].copy() for name in ("reference", "wide", "bound", "before"))

    def cells(self, n: int) -> Learned:
        """Each reference repeated over the cells it holds for."""
        since = np.concatenate([np.asarray(part, np.int64) for part in self.since])
        spans = np.diff(np.append(since, n))
        reference, wide, bound, before = (np.concatenate(part) for part in zip(*self.rows, strict=True))
        known = bound >= 0
        scatter = np.fmax(np.sqrt(np.where(known, wide, 0.0)) / OFF_SIGMAS, FLOOR_TOLERANCES * np.sqrt(np.abs(bound)))
        rows = np.where(known, reference, np.nan), np.where(known, scatter, np.nan), before
        return Learned(*(np.repeat(np.ascontiguousarray(part.T), spans, axis=1) for part in rows))

    def forget(self, cell: int) -> None:
        """A change: what was known becomes 'before'; learning starts anew, or in haste where it is kept."""
        s = self.s
        known = s["bound"] >= 0
        before = np.where(known, s["reference"], s["before"])
        blank, kept = _nothing_known(len(known)), self.kinds.kept
        self.s = {
            **s,
            **{name: np.where(kept, s[name], blank[name]) for name in ("reference", "wide", "bound", "off")},
            "minutes": np.where(kept, np.fmin(s["minutes"], ADOPT_MINUTES), blank["minutes"]),
            "recent": blank["recent"],
            "before": before,
            "moved": True,
            "since": 0,
        }
        self.since.append([cell])
        self.rows.append(self._now())

    def _drop_kept(self) -> None:
        """The change was a large one: what hangs on the steel is to be learned afresh too."""
        self.s = {**self.s, **_nothing_known(len(self.s["reference"]))}

    def learn(self, cells: Floats, ends: NDArray[np.int64], point: Floats) -> None:
        """Take finished steady minutes into account. cells: [width, minute, quantity]; ends: cell after each."""
        now = point[:, ends - 1]
        if self.s["moved"]:
            with np.errstate(invalid="ignore", divide="ignore"):
                far = np.abs(now[:, 0] / self.s["point"] - 1) > SMALL_CHANGE_SHARE
            if far.any():
                self._drop_kept()
        median, spread, enough = minute_medians(cells)
        rows = self._recursion(median, spread, enough)
        before = np.broadcast_to(self.s["before"], rows[0].shape)
        self.since.append(ends)
        self.rows.append((*rows, before))
        self.s = {**self.s, "moved": False, "point": now[:, -1].copy()}

    def _recursion(self, median: Floats, spread: Floats, enough: NDArray[np.bool_]) -> tuple[Floats, ...]:
        """The references after each minute, [minute, quantity]: reference, 16 scatter^2, tolerance^2."""
        s, count = self.s, len(median)
        recent, low, middle, high = _last_three(s["recent"], median, enough)
        tolerance = self.kinds.tolerance(middle)
        stable = enough & (high - low <= np.fmax(STABLE_TOLERANCES * tolerance, OFF_SIGMAS * spread))
        first_wide = np.square(OFF_SIGMAS * np.fmax(spread, (high - low) / 2))
        noise = np.square(OFF_SIGMAS * spread)
        # Out of reach of any tolerance, and finite: nothing in the loop has to look for what is missing.
        median = np.where(enough, median, 1e150)
        standing = np.array([s["reference"], s["wide"], s["bound"]])
        reference, wide, bound = standing
        minutes, off = s["minutes"].copy(), s["off"].copy()
        outs = np.empty((count, *standing.shape))
        given = enough.astype(float)
        may_adopt = bool((stable.any(axis=0) & (off + count >= RELEARN_MINUTES)).any())
        patience = np.full(len(off), float(GIVE_UP_MINUTES))
        hasty = np.where(self.kinds.kept, float(RELEARN_MINUTES), patience)
        for j in range(count):
            step = median[j] - reference
            square = step * step
            near = square <= np.maximum(wide, bound)
            weight = _WEIGHTS.take(minutes, mode="clip")
            weight *= near
            step *= weight
            reference += step
            square *= OFF_SIGMAS * OFF_SIGMAS
            square += noise[j]
            square -= wide
            square *= weight
            wide += square
            minutes += near
            off += given[j]
            np.putmask(off, near, 0.0)
            if may_adopt:
                adopt = stable[j] & (off >= (hasty if s["since"] + j < UNSETTLED_MINUTES else patience))
                if adopt.any():
                    reference[adopt], wide[adopt] = middle[j][adopt], first_wide[j][adopt]
                    bound[adopt] = np.square(tolerance[j][adopt])
                    minutes[adopt], off[adopt] = ADOPT_MINUTES, 0.0
            outs[j] = standing
        self.s = {
            **s,
            "reference": reference.copy(),
            "wide": wide.copy(),
            "bound": bound.copy(),
            "minutes": np.minimum(minutes, len(_WEIGHTS)),
            "off": np.where(off >= _NEVER_KNOWN, _NEVER_KNOWN, off),
            "recent": recent,
            "since": min(s["since"] + count, UNSETTLED_MINUTES),
        }
        return outs[:, 0], outs[:, 1], outs[:, 2]


def minute_medians(cells: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Median and spread (1.4826 times the median distance from it) of each minute, [minute, quantity].

    Zero and finite where too few cells are known; the third says where enough are.
    """
    known = np.isfinite(cells)
    count = known.sum(axis=0)
    enough = count >= LEAST_CELLS * len(cells)
    padded = np.where(known, cells, np.inf)
    median = np.where(enough, column_medians(padded, count), 0.0)
    spread = column_medians(np.abs(padded - median), count)
    return median, np.where(enough, MAD_TO_SIGMA * spread, 0.0), enough


def column_medians(x: Floats, count: NDArray[np.int64]) -> Floats:
    """Median over axis 0 of the `count` finite values of each column; the rest of x is +inf, and x stays as it is.

    Sorted by exchanging neighbours, all columns at once: numpy's own median is many times slower on short columns.
    """
    rows = [row.copy() for row in x]
    for turn in range(len(rows)):
        for place in range(turn % 2, len(rows) - 1, 2):
            a, b = rows[place], rows[place + 1]
            rows[place], rows[place + 1] = np.minimum(a, b), np.maximum(a, b)
    if (count == len(rows)).all():
        middle = (rows[(len(rows) - 1) // 2] + rows[len(rows) // 2]) / 2
    else:
        ordered, last = np.array(rows), np.fmax(count, 1)
        pair = [np.take_along_axis(ordered, place[None], axis=0)[0] for place in ((last - 1) // 2, last // 2)]
        middle = (pair[0] + pair[1]) / 2
    return middle + 0.0  # -0.0 and +0.0 sort as equals


def _last_three(recent: Floats, median: Floats, enough: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats, Floats]:
    """The newest three medians known at each minute: state for the next, then lowest, middle, highest.

    recent: [quantity, 3], the state. The others [minute, quantity], NaN while there are fewer than three.
    """
    table = np.concatenate((recent.T, median))
    there = np.concatenate((np.ones(recent.T.shape, bool), enough))
    place = np.where(there, np.arange(len(table))[:, None], 0)
    np.maximum.accumulate(place, axis=0, out=place)
    third = place
    second = np.take_along_axis(place, np.fmax(third - 1, 0), axis=0)
    first = np.take_along_axis(place, np.fmax(second - 1, 0), axis=0)
    a, b, c = (np.take_along_axis(table, part, axis=0)[ADOPT_MINUTES:] for part in (first, second, third))
    after = np.array([a[-1], b[-1], c[-1]]).T.copy()
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    return after, low, middle, high
