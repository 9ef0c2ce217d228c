"""What torque, pressure, temperatures and outputs should be here and now, learned inside the run.

Once a minute, from steady minutes only, the median of each quantity moves a slow reference. A minute that lies
far off does not move it, so that a fault does not become the new normal. What is learned in a minute holds from
the next cell on, never backwards. A change of speed or rate starts it anew; the references before the change are
kept for the conditions that ask what the change should have done. Quantities that hang on the steel (`Kind.kept`)
keep theirs over a change of up to 15 % and have half an hour's patience to learn it anew. What belongs to speed, rate
and set-points (`Kind.at_point`) has that haste only where these are others than those it was borne out at: a duty that
leaves its level at the very same ones is not the change's doing. Another recipe leaves nothing to compare with.

What is learned after a change of a running line is held against what was known before it: torque, pressure and
specific energy go with speed and rate within bounds (goes_with.py). What lies outside of them as it
settles, a chute that was blocked within the change, does not become the new normal: what was known, carried over to
the new speed and rate, stands in its place, unsure by a twenty-fifth. Over a stop nothing is carried: much is changed
then.

How near is near: see `learned_quantities`. All whole minutes of a block are made at once; only the recursion over
minutes is a loop.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.contract import State
from monitor.exact import Floats
from monitor.minute_medians import last_three, minute_medians
from monitor.tolerances import Kinds

ADOPT_MINUTES = 3
SLOWEST_WEIGHT = 1 / 20
OFF_SIGMAS = 4.0
GIVE_UP_MINUTES = 240
"""Minutes in a row that must lie off, and agree among themselves, before they are taken for the new normal."""
RELEARN_MINUTES = 30
UNSETTLED_MINUTES = 90
"""So many steady minutes after a change of speed or rate, kept quantities need only the shorter patience."""
WIDEST_STEP = 4.0
"""No single minute counts for more in the squared scatter than this times what it is: a fault that begins within one
must not open the door to the next."""
STABLE_TOLERANCES = 4 / 3
"""Three minutes agree when they lie within so many tolerances, or within 4 sigma."""
FLOOR_TOLERANCES = 0.4 / 3
"""No scatter is taken for less than this part of the tolerance."""
SMALL_CHANGE_SHARE = 0.15
SAME_POINT_SHARE, SAME_SETS_C = 0.05, 2.0
"""Speed and rate, and the sum of the zones' set-points, are the same within so much."""
CARRY_SLACK, CARRY_SCATTER = np.log(1.2), 0.04
"""Beside what speed and rate do, hotter zones and a new level of the melt temperature may do so much. Common practice,
no source."""
_WEIGHTS = np.array([max(1.0 / (minutes + 1), SLOWEST_WEIGHT) for minutes in range(20)])
_NEVER_KNOWN = 1e9
"""In `off`: not yet adopted, so that the first three minutes that agree are."""


@dataclass(frozen=True)
class Learned:
    """Expectations of a run of cells, [quantity, n] each, as known before each cell.

    before: the references that held before the last change of speed, rate or recipe. carried, carried_scatter: what
    was known before it, carried over to the speed and rate of each cell, of those quantities that go with them (rows
    as `Kinds.carried`); NaN where there was none or the line stood since.
    """

    reference: Floats
    scatter: Floats
    before: Floats
    carried: Floats
    carried_scatter: Floats


def start(quantities: int, minute_cells: int) -> State:
    """Nothing learned."""
    return {
        "cells": np.full((quantities, 0), np.nan),
        "calm": np.zeros(0, bool),
        "moved": False,
        "since": UNSETTLED_MINUTES,
        "point": np.full(2, np.nan),
        "known_at": np.full((2, quantities), np.nan),
        "carried_from": np.full((2, quantities), np.nan),
        "home": np.full((3, quantities), np.nan),
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
        "spreads": np.full((quantities, ADOPT_MINUTES), np.nan),
    }


def advance(
    state: State,
    x: Floats,
    steady: NDArray[np.bool_],
    changed: NDArray[np.bool_],
    first_index: int,
    kinds: Kinds,
    point: Floats,
    stood: NDArray[np.bool_],
    sets_c: Floats | None = None,
) -> tuple[State, Learned]:
    """Expectations for the cells of `x`, [quantity, n].

    steady: cells fit to learn from. changed: cells in which speed, rate or recipe was changed or the line stood.
    first_index: number of the first cell on the absolute grid; minutes end where (index + 1) % width == 0.
    point: screw speed and rate, [2, n]. stood: cells in which the line did not run.
    sets_c: sum of the zones' set-points, C, [n]; None and NaN where not known: then they are not held to have moved.
    """
    n, width = x.shape[1], state["width"]
    asked = np.concatenate((point, (np.full(n, np.nan) if sets_c is None else sets_c)[None, :]))
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
    stops = np.flatnonzero(stood)
    last = 0
    for some, group in itertools.groupby(range(len(good)), key=lambda g: int(breaks[g])):
        if some > last:
            run.forget(int(moves[last]))
            first = np.searchsorted(stops, moves[last])
            if np.searchsorted(stops, moves[some - 1], side="right") > first:
                run.stood(int(stops[first]))
            last = some
        minutes = list(group)
        cells = _cells_of(state["cells"], x, first_of_minute[good[minutes]], width)
        run.learn(cells, ends[minutes], asked)
    if last < len(moves):
        run.forget(int(moves[last]))
        first = np.searchsorted(stops, moves[last])
        if len(stops) > first:
            run.stood(int(stops[first]))
    kept = len(calm) - whole * width
    joined = x if kept <= n else np.concatenate((state["cells"], x), axis=1)
    after = {
        **run.s,
        "cells": joined[:, joined.shape[1] - min(kept, joined.shape[1]) :].copy(),
        "calm": calm[len(calm) - min(kept, pending + n) :].copy(),
    }
    return after, run.cells(point)


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
        self.origins: list[Floats] = [self._origin()]

    def _now(self) -> tuple[Floats, ...]:
        s = self.s
        return tuple(s[name][None, :].copy() for name in ("reference", "wide", "bound", "before"))

    def _origin(self) -> Floats:
        """Speed and rate of what was known before the last change, [2, carried, 1]."""
        origin: Floats = self.s["carried_from"][:, self.kinds.carried, None]
        return origin.copy()

    def cells(self, point: Floats) -> Learned:
        """Each reference repeated over the cells it holds for."""
        n = point.shape[1]
        since = np.concatenate([np.asarray(part, np.int64) for part in self.since])
        spans = np.diff(np.append(since, n))
        reference, wide, bound, before = (np.concatenate(part) for part in zip(*self.rows, strict=True))
        known = bound >= 0
        scatter = np.fmax(np.sqrt(np.where(known, wide, 0.0)) / OFF_SIGMAS, FLOOR_TOLERANCES * np.sqrt(np.abs(bound)))
        rows = np.where(known, reference, np.nan), np.where(known, scatter, np.nan), before
        expected, wide, earlier = (np.repeat(np.ascontiguousarray(part.T), spans, axis=1) for part in rows)
        return Learned(expected, wide, earlier, *self._carried_cells(earlier, spans, point))

    def _carried_cells(self, before: Floats, spans: NDArray[np.int64], point: Floats) -> tuple[Floats, Floats]:
        carried = self.kinds.carried
        blank = np.full((int(carried.sum()), point.shape[1]), np.nan)
        if not any(np.isfinite(origin).any() for origin in self.origins):
            return blank, blank
        lengths = [len(part) for part in self.since]
        origins = np.repeat(np.concatenate(self.origins, axis=2), lengths, axis=2)
        middle, half = self.kinds.carried_over(np.repeat(origins, spans, axis=2), point)
        value = np.exp(middle) * before[carried]
        return value, np.fmax(half, CARRY_SCATTER) * value

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
            "spreads": blank["spreads"],
            "before": before,
            "carried_from": np.where(known & self.kinds.carried, s["known_at"], s["carried_from"]),
            "moved": True,
            "since": 0,
        }
        self.since.append([cell])
        self.rows.append(self._now())
        self.origins.append(self._origin())

    def stood(self, cell: int) -> None:
        """The line stands from there: what was known before is not carried over."""
        self.s = {**self.s, "carried_from": np.full_like(self.s["carried_from"], np.nan)}
        self.since.append([cell])
        self.rows.append(self._now())
        self.origins.append(self._origin())

    def _drop_kept(self) -> None:
        """The change was a large one: what hangs on the steel is to be learned afresh too."""
        self.s = {**self.s, **_nothing_known(len(self.s["reference"]))}

    def learn(self, cells: Floats, ends: NDArray[np.int64], asked: Floats) -> None:
        """Take finished steady minutes into account. cells: [width, minute, quantity]; ends: cell after each; asked:
        speed, rate and sum of set-points, [3, n]."""
        now = asked[:, ends - 1]
        if self.s["moved"]:
            with np.errstate(invalid="ignore", divide="ignore"):
                far = np.abs(now[:2, 0] / self.s["point"] - 1) > SMALL_CHANGE_SHARE
            if far.any():
                self._drop_kept()
        median, spread, enough = minute_medians(cells, self.kinds.switched)
        rows = self._recursion(median, spread, enough, now[:2], now)
        before = np.broadcast_to(self.s["before"], rows[0].shape)
        self.since.append(ends)
        self.rows.append((*rows, before))
        self.origins.append(self._origin())
        self.s = {**self.s, "moved": False, "point": now[:2, -1].copy()}

    def _carried(self, middle: Floats, point: Floats) -> Floats | None:
        """What stands in the place of a first value that speed and rate cannot have made, [minute, quantity]; NaN where
        they can have. None where nothing is carried over."""
        s = self.s
        open_still = self.kinds.carried & (s["bound"] < 0) & np.isfinite(s["carried_from"]).all(axis=0)
        if not open_still.any():
            return None
        rows = np.flatnonzero(self.kinds.carried)
        origin = np.repeat(s["carried_from"][:, rows, None], point.shape[1], axis=2)
        centre, half = self.kinds.carried_over(origin, point)
        before = np.where(s["before"][rows] > 0, s["before"][rows], np.nan)[:, None]
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.log(np.fmax(middle.T[rows], 1e-9) / before) - centre
            beyond = np.abs(off) > half + CARRY_SLACK
        out = np.full(middle.shape, np.nan)
        # Load tells: where it cannot be, pressures are not believed either, they moved with it. A pressure alone may
        # well have another level, behind a screen that was changed as the line ran slower.
        load = self.kinds.exponents[:, 2].any(axis=1)
        out[:, rows] = np.where(beyond[load].any(axis=0), np.exp(centre) * before, np.nan).T
        return out

    def _recursion(
        self, median: Floats, spread: Floats, enough: NDArray[np.bool_], point: Floats, asked: Floats
    ) -> tuple[Floats, ...]:
        """The references after each minute, [minute, quantity]: reference, 16 scatter^2, tolerance^2."""
        s, count = self.s, len(median)
        recent, low, middle, high = last_three(s["recent"], median, enough)
        # A step within one of the three minutes is no scatter: that of the middle one counts.
        spreads, _, usual, _ = last_three(s["spreads"], spread, enough)
        tolerance = self.kinds.tolerance(middle)
        stable = enough & (high - low <= np.fmax(STABLE_TOLERANCES * tolerance, OFF_SIGMAS * usual))
        first_wide = np.square(OFF_SIGMAS * np.fmax(usual, (high - low) / 2))
        noise = np.square(OFF_SIGMAS * spread)
        carried = self._carried(middle, point)
        # Out of reach of any tolerance, and finite: nothing in the loop has to look for what is missing.
        median = np.where(enough, median, 1e150)
        standing = np.array([s["reference"], s["wide"], s["bound"]])
        reference, wide, bound = standing
        minutes, off = s["minutes"].copy(), s["off"].copy()
        # The minute that last bore each reference out: a rate that a fault took away is not the rate that it goes with.
        borne_out = np.full(len(off), -1)
        outs = np.empty((count, *standing.shape))
        given = enough.astype(float)
        may_adopt = bool((stable.any(axis=0) & (off + count >= RELEARN_MINUTES)).any())
        patience = np.full(len(off), float(GIVE_UP_MINUTES))
        hasty = np.where(self.kinds.kept, float(RELEARN_MINUTES), patience)
        home, at_home = s["home"], np.full(len(off), -1)
        for j in range(count):
            step = median[j] - reference
            square = step * step
            reach = np.maximum(wide, bound)
            near = square <= reach
            reach *= WIDEST_STEP
            weight = _WEIGHTS.take(minutes, mode="clip")
            weight *= near
            step *= weight
            reference += step
            square *= OFF_SIGMAS * OFF_SIGMAS
            np.minimum(square, reach, out=square)
            square += np.minimum(noise[j], reach)
            square -= wide
            square *= weight
            wide += square
            minutes += near
            off += given[j]
            np.putmask(off, near, 0.0)
            np.putmask(borne_out, near, j)
            if s["since"] + j >= RELEARN_MINUTES:
                # A level that has stood for as long as a new one takes is the level here.
                np.putmask(at_home, near, j)
            # No patience is shorter than the hasty one: with less there is nothing to adopt.
            ripe = stable[j] & (off >= RELEARN_MINUTES)
            if may_adopt and np.count_nonzero(ripe):
                haste = patience
                if s["since"] + j < UNSETTLED_MINUTES:
                    there = np.where(at_home >= 0, asked[:, at_home], home)
                    haste = np.where(self.kinds.at_point & _same(asked[:, j], there), patience, hasty)
                adopt = ripe & (off >= haste)
                if carried is not None:
                    instead = adopt & (bound < 0) & np.isfinite(carried[j])
                    adopt &= ~instead
                    reference[instead] = carried[j][instead]
                    wide[instead] = np.square(OFF_SIGMAS * CARRY_SCATTER * carried[j][instead])
                    bound[instead] = np.square(self.kinds.tolerance(carried[j]))[instead]
                    minutes[instead], off[instead], borne_out[instead] = ADOPT_MINUTES, 0.0, j
                if adopt.any():
                    reference[adopt], wide[adopt] = middle[j][adopt], first_wide[j][adopt]
                    bound[adopt] = np.square(tolerance[j][adopt])
                    minutes[adopt], off[adopt], borne_out[adopt], at_home[adopt] = ADOPT_MINUTES, 0.0, j, j
            outs[j] = standing
        self.s = {
            **s,
            "reference": reference.copy(),
            "wide": wide.copy(),
            "bound": bound.copy(),
            "minutes": np.minimum(minutes, len(_WEIGHTS)),
            "off": np.where(off >= _NEVER_KNOWN, _NEVER_KNOWN, off),
            "known_at": np.where(borne_out >= 0, point[:, borne_out], s["known_at"]),
            "home": np.where(at_home >= 0, asked[:, at_home], home),
            "recent": recent,
            "spreads": spreads,
            "since": min(s["since"] + count, UNSETTLED_MINUTES),
        }
        return outs[:, 0], outs[:, 1], outs[:, 2]


def _same(asked: Floats, there: Floats) -> NDArray[np.bool_]:
    """Whether speed, rate and set-points are those of there, [quantity]. asked: [3]; there: [3, quantity]."""
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.abs(asked[:2, None] / there[:2] - 1)
        moved = (off > SAME_POINT_SHARE).any(axis=0) | (np.abs(asked[2] - there[2]) > SAME_SETS_C)
    same: NDArray[np.bool_] = np.isfinite(there[0]) & ~moved
    return same
