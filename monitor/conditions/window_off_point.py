"""What a recipe's window of load or pressure is worth at another speed or rate than the recipe's.

Die pressure goes with about Q^n, load with the melt in the screws and what each kilogram takes. Neither exponent is
known for a melt and a screw one has not measured, so a window becomes as much wider as the exponents may differ: what
is out of it then is out by any of them. The recipe's own outer limits say what line and product bear; no operating
point makes the upper ones higher.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.roles import split_key
from monitor.contract import Context
from monitor.exact import Floats
from monitor.view import CoarseView

OFF_POINT_SHARE = 0.05
"""A wanted speed or rate further from the recipe's than this is another operating point, chosen by somebody."""

FARTHEST = 2.0
"""Speed or rate more than this factor away: no power law reaches so far, only the upper outer limits are judged."""

Span = tuple[float, float]
"""Least and greatest exponent."""

NONE: Span = (0.0, 0.0)
STARVED: dict[str, tuple[Span, Span]] = {
    "melt_pressure": ((0.25, 0.6), (-0.3, 0.05)),
    "torque": ((0.4, 1.0), (-0.8, -0.1)),
    "motor_current": ((0.2, 1.0), (-0.8, 0.0)),
    "drive_power": ((0.4, 1.0), (0.0, 1.0)),
    "melt_pump_speed": ((0.9, 1.1), NONE),
    "melt_pump_load": ((0.2, 1.0), (-0.3, 0.05)),
}
"""Exponents of rate and of screw speed where the feeders set the rate: a melt's power-law index is 0.25 to 0.6; a
faster screw at the same rate is less full and makes hotter, thinner melt. Common practice, values from memory."""

FLOODED: dict[str, tuple[Span, Span]] = {
    "melt_pressure": (NONE, (0.25, 0.6)),
    "torque": (NONE, (-0.2, 0.5)),
    "motor_current": (NONE, (-0.2, 0.5)),
    "drive_power": (NONE, (0.8, 1.5)),
    "melt_pump_speed": (NONE, (0.8, 1.2)),
    "melt_pump_load": (NONE, (0.2, 1.0)),
}
"""The same where the screw sets the rate, which then goes with its speed. Common practice, values from memory."""


@dataclass(frozen=True)
class OffPoint:
    """How far the wanted speed and rate are from the recipe's, [n] each; NaN where one of the two is not known.

    off: either of them is another operating point. far: no window can be scaled so far.
    """

    speed: Floats
    rate: Floats
    off: np.ndarray
    far: np.ndarray


def off_point(view: CoarseView, ctx: Context) -> OffPoint:
    """Without a wanted speed the actual one counts."""
    wanted_speed, speed = view.get("screw_speed_setpoint"), view.get("screw_speed")
    recipe = ctx.recipe.recipe if ctx.recipe else None
    pairs = (
        (np.where(np.isnan(wanted_speed), speed, wanted_speed), recipe and recipe.screw_speed_rpm),
        (view.quantity("total_setpoint"), recipe and recipe.rate_kg_h),
    )
    ratios = [np.full(view.n, np.nan) if not target else wanted / target for wanted, target in pairs]
    off, far = np.zeros(view.n, bool), np.zeros(view.n, bool)
    with np.errstate(invalid="ignore"):
        for ratio in ratios:
            off |= np.abs(ratio - 1) > OFF_POINT_SHARE
            far |= (ratio > FARTHEST) | (ratio < 1 / FARTHEST)
    return OffPoint(ratios[0], ratios[1], off, far)


def factors(subjects: tuple[str, ...], point: OffPoint, ctx: Context) -> tuple[Floats, Floats]:
    """Least and greatest factor that the operating point may put on each reading, [subject, n]; 1 at the recipe's."""
    least, most = np.ones((len(subjects), len(point.off))), np.ones((len(subjects), len(point.off)))
    table = STARVED if ctx.starve_fed else FLOODED
    # Where nobody logs what rate is wanted, it may have gone with the speed.
    rate_told = ctx.has("feeder_setpoint") or ctx.has("line_rate_setpoint")
    if not point.off.any():
        return least, most
    for row, key in enumerate(subjects):
        role = split_key(key)[0]
        if role not in table:
            continue
        of_rate, of_speed = table[role]
        if ctx.starve_fed and not rate_told:
            along = FLOODED[role][1]
            of_speed = (min(of_speed[0], along[0]), max(of_speed[1], along[1]))
        for ratio, (low, high) in ((point.rate, of_rate), (point.speed, of_speed)):
            with np.errstate(invalid="ignore", divide="ignore"):
                log = np.where(point.off & (ratio > 0), np.log(ratio), 0.0)
            least[row] *= np.exp(np.fmin(low * log, high * log))
            most[row] *= np.exp(np.fmax(low * log, high * log))
    return least, most
