"""A rate that shows far too much for some seconds after one refill and after the next: what ran through in them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, trailing_greatest, trailing_least, with_past

TIMES_FED, TIMES_SET = 1.5, 1.5
"""Weight against what is fed, and rate against its set-point. A controller swings by a fifth at most as it takes over
from the refill hold. Common practice, no source."""

HELD = 0.9
"""Of its set-point at least the rate has shown just before: it was held. A hand that leans on a hopper while it fills
it makes it read low first."""

WITHIN_S, STILL_S = 60.0, 30.0
"""It comes in a refill or so soon after it, and the rate that is shown, a filtered slope, follows the weight for so
long."""

AGO_S, LAST_S = 120.0, 7200.0
"""The one before came longer ago than that, and within that. A hand on a scale does not come with one refill after
another; how often a feeder is filled, common practice."""


def start(count: int, ctx: Context) -> State:
    """Nothing seen."""
    return {
        "steep": blank(count, ctx.cells(STILL_S) - 1),
        "shown": blank(count, ctx.cells(STILL_S)),
        "now": blank(count, ctx.cells(AGO_S)),
        "before": blank(count, ctx.cells(LAST_S) - 1),
    }


def again(
    state: State, fall: Floats, fed: Floats, own: Floats, times_set: Floats, since: NDArray[np.int64], ctx: Context
) -> tuple[Bools, State]:
    """Where it shows so much once more, [feeder, n].

    fall: of the weight in each cell; fed: what is wanted in one; own: what a scale may show by itself; times_set: rate
    over set-point; since: cells from the last refill, 0 in it; all [feeder, n].
    """
    with np.errstate(invalid="ignore"):
        lately, steep = trailing_greatest(state["steep"], (fall >= TIMES_FED * fed + own).astype(float))
        lowest, shown = trailing_least(state["shown"], times_set)
        leaps = (lately > 0) & (times_set >= TIMES_SET) & (lowest >= HELD) & (since <= ctx.cells(WITHIN_S))
    late, now = with_past(state["now"], leaps.astype(float))
    seen, before = trailing_greatest(state["before"], late[:, : leaps.shape[1]])
    return leaps & (seen > 0), {"steep": steep, "shown": shown, "now": now, "before": before}
