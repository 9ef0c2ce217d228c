"""How often the zones of a line are read, and whether one that jumped has had readings enough since to be believed.

A line may be judged every 10 s while its zones are read every 50 s, in a log that writes what has changed: one odd
reading then stands for five cells. It counts as one. What no second reading follows has stood, in such a log, for as
long as the zones are usually apart: the way back would have been written.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key
from monitor.contract import Context, State
from monitor.exact import Bools, accumulate_while, last_known, run_length
from monitor.view import Readings

SLOWEST_S = 60.0
"""Zones are read once a minute at least (common practice, no source): a longer pace is one of changes only. A jump that
is real must not wait longer."""

FEW, SHARE = 4, 0.02
"""Readings on end that came at a pace before it counts, and of all: a row that came twice makes none."""


def _longest(ctx: Context) -> int:
    return max(ctx.cells(SLOWEST_S), 1)


def start(zones: int, ctx: Context) -> State:
    """Nothing read. since: cells from each zone's newest reading; paces: how often two were so many cells apart."""
    return {
        "since": np.zeros(zones, np.int64),
        "read": np.zeros(zones, bool),
        "paces": np.zeros(_longest(ctx) + 1, np.int64),
        "held": np.zeros(zones, np.int64),
        "came": np.zeros(zones),
        "pace": np.full(zones, np.nan),
    }


def arrived(view: Readings, zones: tuple[str, ...]) -> Bools:
    """Cells in which a reading of each zone came, [zone, n]; all of them where that is not told."""
    if view.fresh is None:
        return np.ones((len(zones), view.n), bool)
    return view.fresh([view.index[channel_key("zone_temperature", zone)] for zone in zones])


def advance(
    state: State, came: Bools, away: NDArray[np.bool_] | None, samples: float, ctx: Context
) -> tuple[State, Bools | None]:
    """Where a zone is away from where it jumped, but has to wait for more readings of its own: [zone, n].

    came: [zone, n], cells in which a reading came. away: the same, zones that jumped; None where there are none.
    samples: readings that must show it, of which the last may be one that was not written, nothing having changed.
    """
    longest, (count, n) = _longest(ctx), came.shape
    nothing = {"held": np.zeros(count, np.int64), "came": np.zeros(count), "pace": np.full(count, np.nan)}
    jumped = away is not None and away.any()
    if n and not jumped and came.all():  # a reading of each in every cell, as nearly always
        first = state["since"] + 1
        paces = state["paces"] + np.bincount(first[state["read"] & (first <= longest)], minlength=longest + 1)
        paces[1] += count * (n - 1)
        return {"since": np.zeros(count, np.int64), "read": np.ones(count, bool), **nothing, "paces": paces}, None
    ends, lengths, after = _intervals(state, came, longest)
    if away is None or not jumped:
        paces = state["paces"] + np.bincount(lengths, minlength=longest + 1)
        return {**after, **nothing, "paces": paces}, None
    held, held_after = run_length(state["held"], away)
    readings, came_after = accumulate_while(state["came"], came.astype(float), away)
    zones, begins = np.nonzero(away & (held == 1))
    at_start = np.full((count, n), np.nan)
    order = np.argsort(ends, kind="stable")
    ends, lengths = ends[order], lengths[order]
    paces, done = state["paces"], 0
    for cell in np.unique(begins).tolist():
        until = int(np.searchsorted(ends, cell, side="right"))
        paces, done = paces + np.bincount(lengths[done:until], minlength=longest + 1), until
        at_start[zones[begins == cell], cell] = _pace(paces)
    paces = paces + np.bincount(lengths[done:], minlength=longest + 1)
    pace, pace_after = last_known(state["pace"], at_start)
    with np.errstate(invalid="ignore"):
        waits = away & (held >= samples) & (readings < samples) & (held <= (samples - 1) * pace + 1)
    pace_after = np.where(held_after > 0, pace_after, np.nan)
    return {**after, "paces": paces, "held": held_after, "came": came_after, "pace": pace_after}, waits


def _intervals(state: State, came: Bools, longest: int) -> tuple[NDArray[np.int64], NDArray[np.int64], State]:
    """Cells in which a reading came after another, not longer ago than `longest`, and how long ago; and the state."""
    zones, cells = np.nonzero(came)
    first = np.ones(len(zones), bool)
    first[1:] = zones[1:] != zones[:-1]
    before = np.where(first, -1 - state["since"][zones], 0)
    before[~first] = cells[:-1][~first[1:]]
    apart = cells - before
    known = (apart <= longest) & (~first | state["read"][zones])
    since = state["since"] + came.shape[1]
    since[zones] = came.shape[1] - 1 - cells  # of several the last one stays
    read = state["read"].copy()
    read[zones] = True
    return cells[known], apart[known], {"since": np.minimum(since, longest), "read": read}


def _pace(paces: NDArray[np.int64]) -> float:
    """The shortest time between two readings that is usual, cells; the longest there is where nothing is known."""
    counted, total = 0, int(paces.sum())
    for cells, times in enumerate(paces.tolist()):
        counted += times
        if counted >= max(FEW, SHARE * total):
            return float(cells)
    return float(len(paces) - 1)
