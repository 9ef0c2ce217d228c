"""What no longer comes because a hopper is empty, whatever its feeder reports."""

from __future__ import annotations

import numpy as np

from monitor.conditions.feeder_signals import wanted_rates
from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.physics.composition import total_rate_kg_h
from monitor.view import CoarseView

EMPTY_SHARE = 0.05
"""Of the refill level: what is left then lies in corners and on the feeder's screws. Common practice, no source."""

MAIN_SHARE, TORQUE_PER_FEED, MARGIN_LN = 0.3, 1.5, 0.1
"""Without the main feed hardly anything turns; without a smaller one net torque goes down by so much of the logarithm
of what is left, and a margin. Common practice, no source."""


def explains_fall(view: CoarseView, torque: Floats, ctx: Context) -> Bools:
    """Whether feeders that stand empty leave so little that the load is down by it, [n]. torque: ln against expected.

    A controller without weight to go by falls back to a fixed speed and reports its rate as if it came.
    """
    known = [f for f in ctx.line.feeder if f.refill_below_kg and f.name in ctx.subjects_of("feeder_weight")]
    if not known:
        return np.zeros(view.n, bool)
    names = tuple(f.name for f in known)
    bar = EMPTY_SHARE * np.array([[f.refill_below_kg or np.nan] for f in known])
    with np.errstate(divide="ignore", invalid="ignore"):
        empty = view.rows("feeder_weight", names) <= bar
        lost = total_rate_kg_h(np.where(empty, np.nan_to_num(wanted_rates(view, names, ctx)), 0.0))
        share = np.clip(lost / view.quantity("total_setpoint"), 0.0, 0.99)
        enough = torque >= TORQUE_PER_FEED * np.log(1 - share) - MARGIN_LN
        out: Bools = empty.any(axis=0) & ((share >= MAIN_SHARE) | ((share > 0) & enough))
    return out
