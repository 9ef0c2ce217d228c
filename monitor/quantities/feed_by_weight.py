"""Whether the feed was switched off, told by the scales alone: for logs that keep no rate of the feeders."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, with_past
from monitor.quantities.feed import SMALL_SHARE, wanted_rates
from monitor.view import Readings

OVER_S = 30.0
"""Long enough for a scale to tell running from standing, short beside what a stop does to the barrel; own choice."""

STILL_SHARE = 0.25
"""Of what its set-point promises: a hopper that lost less stands still."""

LEAST_KG = 0.1
"""A promise of less within `OVER_S` is lost in a scale's noise."""

KNOWN_SHARE = 0.5
"""Of all that is wanted, to be seen on the scales: the rest is being filled or stands on no scale."""


def weighed_only(ctx: Context) -> tuple[str, ...]:
    """Feeders with a weight and no rate; none where any feeder has its rate in the log."""
    if ctx.subjects_of("feeder_rate"):
        return ()
    relative = ctx.line.relative_channels
    return tuple(name for name in ctx.subjects_of("feeder_weight") if f"feeder_weight:{name}" not in relative)


def start(ctx: Context) -> State:
    """No weight seen: the last cells of each, [feeder, cells]."""
    return {"weights": blank(len(weighed_only(ctx)), ctx.cells(OVER_S))}


def stand_together(past: Floats, readings: Readings, ctx: Context) -> tuple[Bools, Floats]:
    """Cells at whose end all scales that matter have stood still together, [n], and the last weights.

    One feeder alone may have failed; all of at least two were switched off. A hopper that gained is being filled and
    says nothing. Common practice, no source.
    """
    feeders = weighed_only(ctx)
    joined, after = with_past(past, readings.rows("feeder_weight", feeders))
    if len(feeders) < 2:
        return np.zeros(readings.n, bool), after
    lost = joined[:, : readings.n] - joined[:, joined.shape[1] - readings.n :]
    wanted = np.nan_to_num(wanted_rates(readings, feeders, ctx))
    promised = wanted * (OVER_S / 3600)
    total = np.zeros(readings.n)
    for row in wanted:
        total = total + row
    known, still, moves = np.zeros(readings.n), np.zeros(readings.n, np.int64), np.zeros(readings.n, bool)
    for row in range(len(feeders)):
        with np.errstate(invalid="ignore"):
            told = (promised[row] >= LEAST_KG) & (wanted[row] >= SMALL_SHARE * total) & (lost[row] > -promised[row])
            stands = told & (lost[row] < STILL_SHARE * promised[row])
        known = known + np.where(told, wanted[row], 0.0)
        still += stands
        moves |= told & ~stands
    return (still >= 2) & ~moves & (known >= KNOWN_SHARE * total), after
