"""A load that steps together with the melt's temperature is another melt's, not that of more or less of the same."""

from __future__ import annotations

import numpy as np

from monitor import recent_level
from monitor.contract import Context, State
from monitor.exact import Bools, Floats
from monitor.view import CoarseView

MELT_WITH_C = 5.0
"""A melt that gets so much colder with less load, or hotter with more, is another one: less of the same would leave it
as warm or warmer at one speed. A tenth of the viscosity is a tenth of the shear heat, some 5 C. Common practice, no
source."""

LEAST_READ = 0.1
"""Part of the cells of a mean that must have a reading."""


def start(ctx: Context, now_s: float, before_s: float, lag_s: float) -> State:
    """Nothing read. Means over so long: of now, and of what was so long ago."""
    return {
        "now": recent_level.start(1, ctx.cells(now_s), 0),
        "before": recent_level.start(1, ctx.cells(before_s), ctx.cells(lag_s)),
    }


def first_probe(view: CoarseView, ctx: Context) -> Floats:
    """Melt temperature of the first probe, C, [1, n]; NaN where none is logged."""
    probes = view.rows("melt_temperature", ctx.subjects_of("melt_temperature")[:1])
    return probes if len(probes) else np.full((1, view.n), np.nan)


def step_c(state: State, view: CoarseView, ctx: Context) -> tuple[Floats, State]:
    """How far the first probe's melt temperature has stepped since, C, [n]; NaN where none is known.

    Probes are often logged when they change alone, and in whole degrees: few readings are enough.
    """
    melt = first_probe(view, ctx)
    now_state, now = recent_level.advance(state["now"], melt, LEAST_READ)
    before_state, before = recent_level.advance(state["before"], melt, LEAST_READ)
    return (now - before)[0], {"now": now_state, "before": before_state}


def goes_with_load(torque: Floats, melt_c: Floats, by_own_c: Floats | float = 0.0) -> Bools:
    """Where the melt got clearly colder as the load fell, or hotter as it rose. Steps of ln torque and of C.

    by_own_c: what more or less of the same ingredient may do to it that way.
    """
    with np.errstate(invalid="ignore"):
        out: Bools = (np.abs(melt_c) >= MELT_WITH_C + by_own_c) & (torque * melt_c > 0)
    return out
