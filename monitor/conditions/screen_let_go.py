"""How a screen lets go: within seconds, and what that takes from the drop over it.

A torn or blown screen gives way within one to three seconds. A melt that has changed comes as the screws let it: an
ingredient that fails, or another melt, is smeared over the residence time, half a minute to minutes, and moves the
load of the screws before the pressure at their end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor import recent_level
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, last_known, trailing_least, with_past

AT_ONCE_S, AT_ONCE_SHARE = 20.0, 0.7
"""Two cells of ten seconds hold all of a fall of seconds and what a sensor's damping makes of it; of one smeared over
a residence time with a mean of 20 s after its dead time they hold 0.63 at most. Common practice, no source."""

FALL_S, STEP_S = 60.0, 180.0
"""For how long a fall is held against its fastest part, and for how long a step is in the means it is told from."""

DEEP = 0.2
"""A fall by so much at once needs no base learned before: no new lot and no rate does that in seconds."""

LESS_LOAD_SHARE = 0.3
"""Of the fall, as logarithms, that a torn screen takes from the load at most: the length the melt backs up over gets
shorter, a few percent of torque. Common practice, no source."""

BELOW_CLEAN, SENSORS_SHARE = 0.15, 0.04
"""How far a drop over the screen falls below that of a clean one, of itself and of the pressure ahead: it is the
difference of two sensors, each good to a percent or two (value from memory)."""

MOST_OF_DROP = 0.6
"""Of the drop over the screen, lost at once on a running line: whatever the clean screen was, it let go."""

MOST_OF_IT = 0.6
"""Of how far pressure or drop lies below that of a clean screen, so much came in the step: a slow fall that ends in a
step of noise is no screen."""

BEHIND_SHARE = 0.3
"""Pressure behind the screen that falls by so much of the fall ahead of it is less flow or a thinner melt."""


@dataclass(frozen=True)
class LetGo:
    """smeared: a fall that took its time; deep: one of `DEEP` at once; drop: the screen's own; all [pressure, n]."""

    smeared: Bools
    deep: Bools
    drop: Bools


def start(k: int, ctx: Context) -> State:
    """Nothing seen."""
    fast = max(ctx.cells(FALL_S + STEP_S), 1)
    return {
        "held": np.full(k, np.nan),
        "cells": blank(k, max(ctx.cells(AT_ONCE_S), 1)),
        "fast": blank(k, fast),
        "total": blank(k, max(ctx.cells(FALL_S) - 1, 1)),
        "before": recent_level.start(k, ctx.cells(60), ctx.cells(40)),
        "now": recent_level.start(k, ctx.cells(30), 0),
    }


def advance(
    state: State, plain: Floats, steps: tuple[Floats, Floats, Floats, Floats], drop: Floats, clean: Floats, least: float
) -> tuple[State, LetGo]:
    """One row a pressure.

    plain: logarithm of the pressure ahead. steps: now against before, of that pressure, of the same against two
    minutes before, of the load, the more of both, and of the pressure behind the screen. drop: over the screen, bar,
    NaN where not logged; clean: that of the clean screen, NaN where not known. least: the smallest step of a
    pressure, as a negative logarithm.
    """
    step, whole, load, behind = steps
    held, held_state = last_known(state["held"], plain)
    joined, cells = with_past(state["cells"], held)
    with np.errstate(invalid="ignore"):
        fast, fast_state = trailing_least(state["fast"], held - joined[:, : held.shape[1]])
        total, total_state = trailing_least(state["total"], np.fmin(step, whole))
        smeared = (total <= least) & ~(fast <= AT_ONCE_SHARE * total)
        before_state, before = recent_level.advance(state["before"], drop)
        now_state, now = recent_level.advance(state["now"], drop)
        alone = ~smeared & (step <= least) & ~(load <= LESS_LOAD_SHARE * step) & ~(behind <= BEHIND_SHARE * step)
        lost = alone & (before - now >= -math.expm1(least) * np.exp(plain))
        below = (now <= (1 - BELOW_CLEAN) * clean) & (clean - now >= SENSORS_SHARE * np.exp(plain))
        below &= before - now >= MOST_OF_IT * (clean - now)
        lost &= below | ((now <= (1 - MOST_OF_DROP) * before) & (step <= math.log(1 - DEEP)))
        deep = alone & (step <= math.log(1 - DEEP))
    after = {"held": held_state, "cells": cells, "fast": fast_state, "total": total_state}
    return {**after, "before": before_state, "now": now_state}, LetGo(smeared, deep, lost)
