"""Whether all feeders were switched off, cell by cell: a feed that is not wanted is no feed that has failed."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, run_length, with_past
from monitor.quantities import feed_by_weight
from monitor.quantities.feed import SMALL_SHARE, STANDS_PCT, feed_off_together
from monitor.view import Readings

EBBS, EBBS_OVER_S, ON_SET = 0.95, 30.0, 0.97
"""A feeder off its set-point that has lost a twentieth of its rate within half a minute is going off. Feeders report
filtered rates, each at its own pace: the large one reads nothing while a small one has hardly begun. Common practice,
no source."""

GONE_SHARE, HALF, FALLS = 0.25, 0.5, (0.8, 0.95)
"""A feeder that ebbs with the others and reads less than a quarter of its set-point runs out: none is trimmed so far.
So does one below half that falls on: to less than so much of the cell before, and that of the one before it."""

COPIED, COPIED_S = 1e-6, 30.0
"""A rate that equals its set-point to the digit for so long is a copy of it and tells nothing."""


def start(ctx: Context) -> State:
    """Nothing seen."""
    count = len(ctx.subjects_of("feeder_rate"))
    return {
        **feed_by_weight.start(ctx),
        "rates": blank(count, max(ctx.cells(EBBS_OVER_S), 2)),
        "copied": np.zeros(count, np.int64),
    }


def advance(state: State, readings: Readings, ctx: Context) -> tuple[Bools, State]:
    """Cells in which all feeders are off or going off together, [n], and the state. One feeder alone has failed."""
    feeders = ctx.subjects_of("feeder_rate")
    still, weights = feed_by_weight.stand_together(state["weights"], readings, ctx)
    rate, wanted = readings.rows("feeder_rate", feeders), readings.rows("feeder_setpoint", feeders)
    joined, rates = with_past(state["rates"], rate)
    with np.errstate(invalid="ignore"):
        copied, copies = run_length(state["copied"], np.abs(rate - wanted) <= COPIED * np.abs(wanted))
    off = feed_off_together(readings, feeders, ctx) | still
    with np.errstate(invalid="ignore"):
        driven = readings.rows("feeder_drive", feeders) > STANDS_PCT
    copied = copied >= ctx.cells(COPIED_S)
    off |= _ebb_together(rate, joined, wanted, copied, ctx.cells(EBBS_OVER_S)) & ~driven.any(axis=0)
    return off, {"weights": weights, "rates": rates, "copied": copies}


def _ebb_together(rate: Floats, joined: Floats, wanted: Floats, copied: Bools, lag: int) -> Bools:
    """Set-points that stand, rates that all run out: [n] from [feeder, n] each. joined: the rate with what went before,
    two cells at least; lag: cells over which it ebbs.

    One that matters is as good as gone, and at least two are judged. Where a set-point is not known nothing is.
    """
    n, past = rate.shape[1], joined.shape[1] - rate.shape[1]
    before, two_ago, last = (joined[:, past - ago : past - ago + n] for ago in (lag, 2, 1))
    total = np.zeros(n)
    for row in np.where(wanted > 0, wanted, 0.0):
        total = total + row
    judged, gone, ebbing, told = np.zeros(n, np.int64), np.zeros(n, bool), np.ones(n, bool), np.ones(n, bool)
    for row in range(len(rate)):
        with np.errstate(invalid="ignore"):
            known = np.isfinite(rate[row]) & ~copied[row]
            used = known & (wanted[row] > 0)
            falls = (rate[row] <= FALLS[0] * last[row]) & (last[row] <= FALLS[1] * two_ago[row])
            low = used & (rate[row] < np.where(falls, HALF, GONE_SHARE) * wanted[row])
            ebbs = low | (used & (rate[row] <= EBBS * before[row]) & (rate[row] < ON_SET * wanted[row]))
            gone |= low & (wanted[row] >= SMALL_SHARE * total)
        told &= ~known | np.isfinite(wanted[row])
        ebbing &= ebbs | ~used
        judged += used
    return ebbing & gone & told & (judged >= 2)
