"""A heater that draws no current although its output calls for heat: told within a minute or two, long before steel is.

Many logs hold the current as it is in the moment, on or off with the contactor: its pauses are learned, and what may be
one more of them is not told. A reading that is off for long by chance alone is no dead heater either: where a single
zone draws nothing, its temperature must have begun to fall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, run_length

ASKS_PCT = 5.0
"""Output above which a zone asks for heat."""

NONE_SHARE, NONE_A, LEAST_A = 0.05, 0.05, 0.5
"""Part of the current due that is none, what a display of 0.1 A shows as none, and current due that tells at all."""

AT_LEAST_S, PAUSES, LONGEST_S, SEEN_S = 30.0, 3.0, 200.0, 600.0
"""So long without, and so many times its longest pause so far, of which no more than this is learned: contactors switch
every 10 to 60 s (values from memory), so that after so many seconds of heat its pauses have been seen."""

UNDER_C, FELL_C, FELL_S = 0.5, 0.1, 60.0
"""Under set, and below where it was a minute ago. Common practice, no source."""

FULL_PCT, PART_LEAST, PART_MOST = 50.0, 0.15, 0.8
"""Output at which contactors hardly pause, and shares of the current due that are part of the bands."""

LATELY_S, LONG_AGO = 600.0, 10**6


def start(zones: int) -> State:
    """No pause seen. without: cells so far; longest: cells of the longest pause that ended; seen: cells that told;
    part: cells in a row with part of the current; since: cells since one drew nothing for too long."""
    counts = {name: np.zeros(zones, np.int64) for name in ("without", "longest", "seen", "part")}
    return {**counts, "since": np.full(zones, LONG_AGO, np.int64)}


@dataclass(frozen=True)
class Drawn:
    """gone: zones that have drawn nothing for too long; cells: for how long; lately: so in the last minutes, as told of
    one that is being repaired; share: of the current due where that has been part of it for a minute, else NaN; [zone,
    n] each."""

    gone: Bools
    cells: NDArray[np.int64]
    lately: Bools
    share: Floats


def advance(state: State, current: Floats, output: Floats, most_a: Floats, ctx: Context) -> tuple[State, Drawn]:
    """What zones draw. current: A; output: %; most_a: the most it drew before for its output, A at 100 %; [zone, n]
    each."""
    with np.errstate(invalid="ignore"):
        due = most_a * output / 100.0
        told = (output > ASKS_PCT) & (due >= LEAST_A) & np.isfinite(current)
        none = told & (current <= np.fmax(NONE_SHARE * due, NONE_A))
    length, without = run_length(state["without"], none)
    before = np.concatenate((state["without"][:, None], length), axis=1)[:, :-1]
    ended = np.where(told & ~none, before, 0)
    longest = np.maximum.accumulate(np.concatenate((state["longest"][:, None], ended), axis=1), axis=1)
    least = np.fmax(ctx.cells(AT_LEAST_S), PAUSES * np.fmin(longest[:, 1:], ctx.cells(LONGEST_S)) + 1)
    counts = np.concatenate((state["seen"][:, None], told.astype(np.int64)), axis=1)
    seen = np.minimum(np.add.accumulate(counts, axis=1), ctx.cells(SEEN_S))
    gone = none & (length >= least) & (seen[:, 1:] >= ctx.cells(SEEN_S))
    ago, since = run_length(state["since"], ~gone)
    share = _part_of_it(current, output, most_a)
    held, part = run_length(state["part"], np.isfinite(share))
    after = {"without": without, "longest": longest[:, -1].copy(), "seen": seen[:, -1].copy(), "part": part}
    share = np.where(held >= ctx.cells(FELL_S), share, np.nan)
    return {**after, "since": np.minimum(since, LONG_AGO)}, Drawn(gone, length, ago < ctx.cells(LATELY_S), share)


def dead(drawn: Drawn, under: Floats, fell: Floats, turns: Bools, ctx: Context) -> Bools:
    """Of the zones without current those whose steel shows it too, or another's that lost it with them, [zone, n].

    under: C below set; fell: C below where it was a minute ago, [zone, n]; turns: the line runs, [n]: on one that
    stands heating may be switched off. Heaters that lose their current at once are no chance of readings, and one that
    falls speaks for all; one that drew nothing long before, as pauses of a contactor that all readings meet do, is not.
    """
    with np.errstate(invalid="ignore"):
        cools = drawn.gone & (under >= UNDER_C) & (fell >= FELL_C)
    out = cools.copy()
    for zone in np.flatnonzero(cools.any(axis=1)).tolist():
        at_once = np.abs(drawn.cells - drawn.cells[zone]) <= ctx.cells(LONGEST_S)
        out |= drawn.gone & at_once & cools[zone]
    return out & turns


def _part_of_it(current: Floats, output: Floats, most_a: Floats) -> Floats:
    """Share of the current due that a heater draws where that is some of it and not all, else NaN; [zone, n]. Means and
    moments alike: a contactor that is closed draws all of it."""
    with np.errstate(invalid="ignore", divide="ignore"):
        due = most_a * output / 100.0
        share = np.where((due >= LEAST_A) & (output >= FULL_PCT), current / due, np.nan)
        return np.where((share >= PART_LEAST) & (share <= PART_MOST), share, np.nan)
