"""A reading that stays within one digit while its zone goes to full heat: neither a live heater nor a dead one does so.

With its heater alive the zone gets hotter; with its heater gone it loses what it was heated by before. Readings that
flicker between two digits are not flat to the digit, and their couple may be as dead.
"""

from __future__ import annotations

import numpy as np

from monitor.conditions.zone_signals import output_limits, wanted
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, run_length, trailing_greatest, trailing_least, two_threshold, with_past
from monitor.view import CoarseView

LATELY_S, FULL_S = 1200.0, 600.0
"""So long the reading has stayed, and of it so long at full heat. Common practice, no source."""

UNDER_C, NEAR_LIMIT_PCT = 5.0, 2.0
HEATED_PCT = 8.0
"""A zone that took less before shows nothing of a heater that died meanwhile: melt holds it where it is."""


def start(zones: int, ctx: Context) -> State:
    """Nothing seen."""
    width = ctx.cells(LATELY_S)
    return {
        "hottest": blank(zones, width - 1),
        "coldest": blank(zones, width - 1),
        "minutes": blank(zones, width),
        "full": np.zeros(zones, np.int64),
        "stuck": np.zeros(zones, bool),
    }


def silent_for(state: State, ctx: Context) -> int:
    """Cells up to and with the first that may find one."""
    return ctx.cells(FULL_S) - int(state["full"].max(initial=0))


def found(
    state: State, view: CoarseView, zones: tuple[str, ...], ctx: Context, low: Floats, high: Floats, minute: Floats,
    lowest: Floats, least_c: Floats, gains: Floats, step_c: Floats, time_constant_s: float,
) -> tuple[State, Bools, Floats]:  # fmt: skip
    """Zones whose reading stays though it ought to have moved, [zone, n], and what the output was before, %.

    low, high: least and greatest reading of each cell, C. minute: output, mean of a minute, lowest: the lowest of these
    for long, %. least_c: what it has to move at least, step_c: its digit, C [zone, n] each. gains: C per %, [zone].
    """
    limit = output_limits(zones, ctx)
    hottest, hottest_past = trailing_greatest(state["hottest"], high)
    coldest, coldest_past = trailing_least(state["coldest"], low)
    joined, minutes = with_past(state["minutes"], minute)
    before = joined[:, : view.n]
    with np.errstate(invalid="ignore"):
        stays = (hottest - coldest <= step_c + 1e-9) & np.isfinite(low)
        moves = hottest - coldest > 2.0 * step_c
        full, full_after = run_length(state["full"], minute >= limit - NEAR_LIMIT_PCT)
        pushed = gains[:, None] * (minute - before) * -np.expm1(-FULL_S / time_constant_s)
        stuck = stays & (full >= ctx.cells(FULL_S)) & (lowest >= HEATED_PCT) & (pushed > least_c)
        stuck &= wanted(view, zones, ctx) - high >= UNDER_C
    on, stuck_after = two_threshold(state["stuck"], stuck, moves)
    after = {
        "hottest": hottest_past,
        "coldest": coldest_past,
        "minutes": minutes,
        "full": full_after,
        "stuck": stuck_after,
    }
    return after, on, before
