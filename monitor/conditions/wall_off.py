"""Bodies beyond the screw, whose walls make the pressure of what passes: how far they are off what they are told."""

from __future__ import annotations

import numpy as np

from monitor.conditions.melt_colder import BELOW_SET_C, OTHERWISE_LN
from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.explains_pressure import STIFFER_LN_C
from monitor.view import CoarseView


def bodies(ctx: Context) -> tuple[str, ...]:
    """Adapter, screen body and die, where their temperature is logged."""
    return tuple(zone for zone in ctx.subjects_of("zone_temperature") if _is_body(zone, ctx))


def off_c(view: CoarseView, ctx: Context, side: int) -> Floats:
    """By how much the furthest of them is hotter (side 1) or colder (-1) than the recipe, else its set-point, wants it.

    C, [n], at least 0; NaN where none is known.
    """
    return view.once(("walls off", side), lambda: _off_c(view, ctx, side))


def accounts_for(fall: Floats, hotter_c: Floats) -> Bools:
    """Whether walls or melt hotter by so much can make a pressure fall by so much, natural logarithm."""
    with np.errstate(invalid="ignore"):
        return (hotter_c >= BELOW_SET_C) & (fall <= STIFFER_LN_C * hotter_c + OTHERWISE_LN)


def _off_c(view: CoarseView, ctx: Context, side: int) -> Floats:
    zones = bodies(ctx)
    if not zones:
        return np.full(view.n, np.nan)
    wanted = np.array(view.rows("zone_setpoint", zones))
    for row, zone in enumerate(zones):
        target = ctx.recipe.zones.get(zone) if ctx.recipe else None
        if target is not None:
            wanted[row] = target
    return np.fmax.reduce(np.fmax(side * (view.rows("zone_temperature", zones) - wanted), 0.0), axis=0)


def _is_body(zone: str, ctx: Context) -> bool:
    return zone in ctx.line.zone_names and ctx.line.zone_named(zone).beyond_the_screw
