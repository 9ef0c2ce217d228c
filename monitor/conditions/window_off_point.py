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
from monitor.goes_with import GOES_WITH, NOTHING, exponents_of, span_of
from monitor.view import CoarseView

OFF_POINT_SHARE = 0.05
"""A wanted speed or rate further from the recipe's than this is another operating point, chosen by somebody."""

FARTHEST = 2.0
"""Speed or rate more than this factor away: no power law reaches so far, only the upper outer limits are judged."""


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
    """Without a wanted speed the actual one counts. A flood-fed screw takes what its speed gives: rates follow it."""
    wanted_speed, speed = view.get("screw_speed_setpoint"), view.get("screw_speed")
    recipe = ctx.recipe.recipe if ctx.recipe else None
    pairs = (
        (np.where(np.isnan(wanted_speed), speed, wanted_speed), recipe and recipe.screw_speed_rpm),
        (view.quantity("total_setpoint"), recipe and recipe.rate_kg_h if ctx.starve_fed else None),
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
    if not point.off.any():
        return np.ones((len(subjects), len(point.off))), np.ones((len(subjects), len(point.off)))
    exponents = exponents_of([GOES_WITH.get(split_key(key)[0], NOTHING) for key in subjects])
    with np.errstate(invalid="ignore", divide="ignore"):
        speed, rate = (np.where(point.off & (r > 0), np.log(r), 0.0) for r in (point.speed, point.rate))
    least, most = span_of(exponents, speed, rate if ctx.starve_fed else speed)
    # Where nobody logs what rate is wanted, it may have gone with the speed.
    if ctx.starve_fed and not (ctx.has("feeder_setpoint") or ctx.has("line_rate_setpoint")):
        along = span_of(exponents, speed, speed)
        least, most = np.minimum(least, along[0]), np.maximum(most, along[1])
    return np.exp(least), np.exp(most)
