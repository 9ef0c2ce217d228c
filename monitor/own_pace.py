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
    # Zones with a reading in every cell, as nearly all are nearly always, need no look at each of them.
    full = np.logical_and.reduce(came, axis=1) if n else np.zeros(count, bool)
    whole, rest = np.flatnonzero(full), np.flatnonzero(~full)
    first = state["since"][whole] + 1
    paces = state["paces"] + np.bincount(first[state["read"][whole] & (first <= longest)], minlength=longest + 1)
    ends, lengths, some = _intervals(state["since"][rest], state["read"][rest], came[rest], longest)
    after = {"since": np.zeros(count, np.int64), "read": np.ones(count, bool), **nothing}
    after["since"][rest], after["read"][rest] = some
    jumped = np.flatnonzero(np.logical_or.reduce(away, axis=1)) if away is not None else rest[:0]
    if away is None or not len(jumped):
        return {**after, "paces": _counted(paces, lengths, len(whole) * max(n - 1, 0), longest)}, None
    held, after["held"][jumped] = run_length(state["held"][jumped], away[jumped])
    readings, after["came"][jumped] = accumulate_while(state["came"][jumped], came[jumped].astype(float), away[jumped])
    rows, begins = np.nonzero(away[jumped] & (held == 1))
    at_start = np.full(held.shape, np.nan)
    order = np.argsort(ends, kind="stable")
    ends, lengths = ends[order], lengths[order]
    for cell in np.unique(begins).tolist():
        until = int(np.searchsorted(ends, cell, side="right"))
        at_start[rows[begins == cell], cell] = _pace(_counted(paces, lengths[:until], len(whole) * cell, longest))
    pace, pace_after = last_known(state["pace"][jumped], at_start)
    waits = np.zeros(came.shape, bool)
    with np.errstate(invalid="ignore"):
        waits[jumped] = away[jumped] & (held >= samples) & (readings < samples) & (held <= (samples - 1) * pace + 1)
    after["pace"][jumped] = np.where(after["held"][jumped] > 0, pace_after, np.nan)
    return {**after, "paces": _counted(paces, lengths, len(whole) * max(n - 1, 0), longest)}, waits


def _counted(paces: NDArray[np.int64], lengths: NDArray[np.int64], ones: int, longest: int) -> NDArray[np.int64]:
    """The paces with these times between two readings and so many of one cell, which are of zones read in each."""
    out = paces + np.bincount(lengths, minlength=longest + 1)
    out[1] += ones
    return out


def _intervals(
    since: NDArray[np.int64], read: Bools, came: Bools, longest: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], tuple[NDArray[np.int64], Bools]]:
    """Cells in which a reading came after another, not longer ago than `longest`, and how long ago; and `since` and
    `read` as they are at the end. All of the same zones."""
    zones, cells = np.nonzero(came)
    first = np.ones(len(zones), bool)
    first[1:] = zones[1:] != zones[:-1]
    before = np.where(first, -1 - since[zones], 0)
    before[~first] = cells[:-1][~first[1:]]
    apart = cells - before
    known = (apart <= longest) & (~first | read[zones])
    newest = since + came.shape[1]
    newest[zones] = came.shape[1] - 1 - cells  # of several the last one stays
    read = read.copy()
    read[zones] = True
    return cells[known], apart[known], (np.minimum(newest, longest), read)


def _pace(paces: NDArray[np.int64]) -> float:
    """The shortest time between two readings that is usual, cells; the longest there is where nothing is known."""
    counted, total = 0, int(paces.sum())
    for cells, times in enumerate(paces.tolist()):
        counted += times
        if counted >= max(FEW, SHARE * total):
            return float(cells)
    return float(len(paces) - 1)
