"""How much a zone's controller heats against what it learned to need here, and whether the two may be compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.conditions.zone_minutes import ALL_OF_IT, Minutes, latched, left_right
from monitor.contract import State
from monitor.exact import Bools, Floats

DUTY_ROWS = ("temperature", "wanted", "heat", "cool", "output", "expected", "scatter", "set_age_s")
DUTY_LINE = ("steady", "unchanged_s", "torque", "torque_expected")
SETPOINT_MOVED_C = 2.0
LEAST_DUTY_PCT = 8.0
"""Below this a ratio of duties is a quotient of two small figures: a shear-heated zone."""


@dataclass(frozen=True)
class Duty:
    """Duties of zones, % [zone, m] each.

    mean: of the last minutes. expected: learned. off: mean less expected. slack: what scatter alone may do.
    valid: the two may be compared. calm: the line gives no reason for another duty [m].
    """

    mean: Floats
    expected: Floats
    off: Floats
    slack: Floats
    valid: Bools
    calm: Bools


def start(zones: int) -> State:
    """No reference seen yet. at_c: set-point at which it was learned."""
    return {"at_c": np.full(zones, np.nan)}


def duty(own: State, x: Minutes, minutes: int, settle_s: float, load_share: float = 0.08) -> tuple[State, Duty]:
    """Compare once speed, rate and set-points (the neighbours' too) have stood for `settle_s` and the load is usual.

    A reference belongs to the set-point it was learned at. load_share: how far net torque may be off its own
    expectation; a load that fell takes shear heat with it.
    """
    at_c, after = latched(own["at_c"], x.zone["expected"], x.zone["wanted"], x.m)
    expected = x.now("expected")
    with np.errstate(invalid="ignore"):
        same_set = (np.abs(x.now("wanted") - at_c) <= SETPOINT_MOVED_C) & (x.now("set_age_s") >= settle_s)
    moved = ~same_set & np.isfinite(x.now("wanted")) & np.isfinite(expected)
    before, behind = left_right(moved.astype(float))
    steady = x.held((x.line["steady"] >= ALL_OF_IT)[None, :], minutes)[0]
    steady &= x.line_now("unchanged_s") >= settle_s
    torque, usual = x.line["torque"][None, :], x.line_now("torque_expected")
    with np.errstate(invalid="ignore", divide="ignore"):
        load = np.abs(x.mean(torque, minutes)[0] / usual - 1.0)
    calm = steady & ~(load > load_share)
    mean = x.mean(x.zone["output"], minutes)
    valid = same_set & ~(before > 0) & ~(behind > 0) & np.isfinite(expected) & np.isfinite(mean) & calm
    return {"at_c": after}, Duty(mean, expected, mean - expected, 4.0 * x.now("scatter"), valid, calm)
