"""How far the barrel's temperatures moved lately: what a hotter or colder wall does to torque and pressure by itself.

State is two running windows a zone, added up cell by cell, so that every cut gives the same bits.
"""

from __future__ import annotations

import numpy as np

from monitor import recent_level
from monitor.contract import Context, State
from monitor.exact import Floats, blank, trailing_extremes
from monitor.view import CoarseView

SMOOTH_S, OVER_S = 240.0, 1800.0
"""Zones are often logged in whole degrees: means of minutes. In half an hour melt and wall are through."""

LN_PER_K = 0.015
"""Of viscosity, and with it of torque and pressure, by K: 30 kJ/mol at 490 K. Common practice, no source."""


def start(ctx: Context) -> State:
    """Nothing seen."""
    count = len(ctx.subjects_of("zone_temperature"))
    return {"mean": recent_level.start(count, ctx.cells(SMOOTH_S), 0), "range": blank(count, ctx.cells(OVER_S) - 1)}


def advance(state: State, view: CoarseView, ctx: Context) -> tuple[State, Floats]:
    """What it may have done to ln torque and ln pressure, at the most, [n]; 0 where no zone is known."""
    zones = ctx.subjects_of("zone_temperature")
    if not zones:
        return state, np.zeros(view.n)
    mean_state, mean = recent_level.advance(state["mean"], view.rows("zone_temperature", zones))
    low, high, past = trailing_extremes(state["range"], mean)
    known = np.isfinite(high)
    total = np.add.reduce(np.where(known, high - low, 0.0), axis=0)
    count = np.count_nonzero(known, axis=0)
    return {"mean": mean_state, "range": past}, LN_PER_K * total / np.maximum(count, 1)
