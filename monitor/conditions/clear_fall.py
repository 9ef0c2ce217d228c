"""A sharp fall of torque with all feeders on set that is small but clear: part of the feed does not come through.

A side filler that goes on makes what is left stiffer, so that the pressure holds or rises where the throat gets less.
"""

from __future__ import annotations

import numpy as np

from monitor.conditions import another_melt
from monitor.conditions.machine_load import Load, log_ratio
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, run_length, two_threshold
from monitor.view import CoarseView

SHARE, SIGMAS = 0.5, 10.0
"""Part of the fall that is asked for elsewhere, and scatters of torque, from which a sharp one is clear. Common
practice, no source."""

RISES, COLDER_PER_LN = 0.5, 30.0
"""By so much of what the torque lost the pressure may be up for a side filler. A melt colder than 5 C and so many for
each ln of torque is another melt. Common practice, no source."""

PRESSURE_PER_TORQUE, PER_CURRENT = 0.6, 0.75
"""ln pressure by ln torque, by ln of a current that the magnetising part is in: the power law makes it a third for
less feed, a thinner melt takes as much of both. So near the scatter nothing is given."""

PUMPED_PER_TORQUE = 0.5
"""ln turns of a melt pump for each of the screw, by ln torque: a pump whose speed holds its suction turns as much
slower as less comes, and it turns no slower for a melt that is thinner. Common practice, no source."""

STAYS_SHARE = 0.6
ENDS_CELLS = 3
"""One odd reading interrupts and ends nothing."""


def start() -> State:
    """Nothing fell."""
    return {"clear": np.zeros(1, bool), "unclear": np.zeros(1, np.int64)}


def less_is_pumped(view: CoarseView, torque: Floats) -> Bools:
    """Whether a melt pump behind the screws takes less away, as where less comes; [n]. torque: ln over expected."""
    pumped, scatter = log_ratio(view, "pumped_per_turn", view.quantity("pumped_per_turn"))
    with np.errstate(invalid="ignore"):
        return pumped <= np.fmin(PUMPED_PER_TORQUE * torque, -3.0 * scatter)


def judge(
    on: State, found: Load, pressure: Floats, follows: Bools, sharp: Bools, armed: Bools, least: float,
    ctx: Context,
) -> tuple[Bools, State]:  # fmt: skip
    """Whether it holds, [n], and the state. pressure: as would be with a melt as warm as before; follows: it
    fell; sharp: torque did; least: the fall asked for elsewhere, ln torque."""
    torque, known = found.torque, np.isfinite(pressure)
    fall = np.fmax(SHARE * least * found.wider, SIGMAS * found.torque_scatter)
    with np.errstate(invalid="ignore"):
        by_the_side = any(feeder.side for feeder in ctx.line.feeder) & (
            pressure <= RISES * np.abs(torque) + found.pressure_scatter
        )
        per_torque = PER_CURRENT if found.raw_current else PRESSURE_PER_TORQUE
        fits = known & (pressure >= per_torque * torque) & (follows | by_the_side)
        begins = fits & sharp & (torque <= -fall)
        begins &= ~another_melt.goes_with_load(torque, found.melt_c, COLDER_PER_LN * np.abs(torque))
        goes_on = fits & (torque <= -STAYS_SHARE * fall)
    length, unclear = run_length(on["unclear"], ~goes_on[None, :])
    held, after = two_threshold(on["clear"], (begins & armed)[None, :], length >= ENDS_CELLS)
    return held[0] & (begins | goes_on), {"clear": after, "unclear": unclear}
