"""How far a feeder's rate leaves its set-point by itself: after a refill, or where a lump or a hand moves its scale."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, trailing_extremes, with_past

HOUR_S, UNTIL_S = 3600.0, 600.0
"""The hour that ended so long ago: before whatever is looked at now."""

FURTHER = 1.3
"""What went that far the same way within an hour is usual; a jump is news that goes so many times as far. Common
practice, no source."""


def start(count: int, ctx: Context) -> State:
    """Nothing seen."""
    return {"late": blank(count, ctx.cells(UNTIL_S)), "hour": blank(count, ctx.cells(HOUR_S) - 1)}


def reach(state: State, off: Floats) -> tuple[tuple[Floats, Floats], State]:
    """Least and greatest mean within that hour, [feeder, n] each.

    off: mean of 30 s of rate over wanted less one, NaN where the line does not run steadily, [feeder, n].
    """
    late, late_state = with_past(state["late"], off)
    low, high, hour_state = trailing_extremes(state["hour"], late[:, : off.shape[1]])
    return (low, high), {"late": late_state, "hour": hour_state}


def further(usual: tuple[Floats, Floats], level: Floats, jump: Floats) -> Bools:
    """Where a jump goes further than any of that hour, [feeder, n]. What is not known is no bar.

    level: where the rate stood before it; jump: from there; of the set rate, [feeder, n] each.
    """
    low, high = usual
    with np.errstate(invalid="ignore"):
        own = np.nan_to_num(np.where(jump > 0, high - level, level - low))
        return np.abs(jump) >= FURTHER * own
