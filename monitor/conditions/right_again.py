"""A load that steps back to where it stood some hours ago, from where it had stepped the other way meanwhile."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, trailing_extremes, with_past

WITHIN_S, AGO_S = 14400.0, 660.0
"""It stood there within half a shift, and before what is looked at now. Common practice, no source."""

AS_FAR, AS_NEAR = 0.6, 0.4
"""It had stepped the other way by so much of the step, and stood this near to where it is now. Common practice, no
source."""

TOLD_S = 600.0
"""What is over is told for so long after it was last seen, and then explains nothing more."""


def start(ctx: Context) -> State:
    """Nothing known."""
    within = ctx.cells(WITHIN_S) - 1
    return {"late": blank(1, ctx.cells(AGO_S)), "levels": blank(1, within), "steps": blank(1, within)}


def advance(state: State, level: Floats, step: Floats, steady: Bools) -> tuple[tuple[Floats, Floats], State]:
    """Lowest and highest of the level, and of the step, in those hours: [2, n] each.

    level, step: ln of the load over minutes, and how far it has stepped, [n]; steady: where both can be held against
    what was before, [n].
    """
    late, late_state = with_past(state["late"], np.where(steady, level, np.nan)[None, :])
    low, high, levels = trailing_extremes(state["levels"], late[:, : len(level)])
    down, up, steps = trailing_extremes(state["steps"], np.where(steady, step, np.nan)[None, :])
    return (np.array([low[0], high[0]]), np.array([down[0], up[0]])), {
        "late": late_state, "levels": levels, "steps": steps,
    }  # fmt: skip


def back(known: tuple[Floats, Floats], level: Floats, step: Floats) -> Bools:
    """Where a step leads back to a level of those hours, [n]."""
    (low, high), (down, up) = known
    with np.errstate(invalid="ignore"):
        size = np.abs(step)
        fell = (step < 0) & (up >= AS_FAR * size) & (low <= level + AS_NEAR * size)
        rose = (step > 0) & (down <= -AS_FAR * size) & (high >= level - AS_NEAR * size)
    return np.asarray(fell | rose)
