"""How much a zone's controller heats against what it learned to need here, and whether the two may be compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.conditions.zone_minutes import ALL_OF_IT, Minutes, latched, left_right, others_median
from monitor.contract import State
from monitor.exact import Bools, Floats

DUTY_ROWS = ("temperature", "wanted", "heat", "cool", "output", "expected", "scatter", "set_age_s")
DUTY_LINE = ("steady", "unchanged_s", "torque", "torque_expected")
SETPOINT_MOVED_C = 2.0
LOAD_SHARE = 0.08
"""How far net torque may be off its own expectation."""

LEAST_DUTY_PCT = 8.0
"""Below this a ratio of duties is a quotient of two small figures: a shear-heated zone."""

ON_OFF_SQUARE, ON_OFF_PCT = 2.0, 10.0
"""Mean square of an output over its squared mean, and least root mean square, of one that is switched: at full heat
for half of the time or less it is 2 and more, at any steady level 1. Its minutes have no level, so that neither their
median nor a mean over part of a cycle is what its zone takes. Arithmetic; the least is common practice, no source."""


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


def beyond_the_others(off: Floats) -> Floats:
    """Outputs over usual with what the other zones take more, mains or hall, taken out, % [zone, m]."""
    return off - np.fmax(np.nan_to_num(others_median(off)), 0.0)


def start(zones: int) -> State:
    """No reference seen yet. at_c: set-point at which it was learned."""
    return {"at_c": np.full(zones, np.nan)}


def calm_line(x: Minutes, minutes: int, settle_s: float) -> Bools:
    """Minutes in which the line gives no reason for another duty, [m]: speed, rate and load as they were.

    A load that fell takes shear heat with it.
    """
    steady = x.held((x.line["steady"] >= ALL_OF_IT)[None, :], minutes)[0]
    steady &= x.line_now("unchanged_s") >= settle_s
    with np.errstate(invalid="ignore", divide="ignore"):
        load = np.abs(x.mean(x.line["torque"][None, :], minutes)[0] / x.line_now("torque_expected") - 1.0)
    return steady & ~(load > LOAD_SHARE)


def on_off(x: Minutes, rows: Floats, minutes: int) -> Bools:
    """Outputs switched between nothing and full heat over the last minutes, [zone, m]. rows: % [zone, past + m]."""
    square = x.mean(np.square(rows), minutes)
    with np.errstate(invalid="ignore"):
        switched: Bools = square >= np.fmax(ON_OFF_SQUARE * np.square(x.mean(rows, minutes)), ON_OFF_PCT**2)
    return switched


def learned_at(own: State, x: Minutes) -> State:
    """The state alone."""
    return {"at_c": latched(own["at_c"], x.zone["expected"], x.zone["wanted"], x.m)[1]}


def most_above(x: Minutes, minutes: int) -> Floats:
    """The most a zone's output can be above what it learned to need, over the last minutes, % [zone]."""
    expected = x.now("expected")
    least = np.fmin.reduce(np.where(np.isfinite(expected), expected, np.inf), axis=1, initial=np.inf)
    return x.most(x.zone["output"], minutes) - least


def duty(own: State, x: Minutes, minutes: int, settle_s: float) -> tuple[State, Duty]:
    """Compare once speed, rate and set-points (the neighbours' too) have stood for `settle_s` and the load is usual.

    A reference belongs to the set-point it was learned at.
    """
    at_c, after = latched(own["at_c"], x.zone["expected"], x.zone["wanted"], x.m)
    expected = x.now("expected")
    with np.errstate(invalid="ignore"):
        same_set = (np.abs(x.now("wanted") - at_c) <= SETPOINT_MOVED_C) & (x.now("set_age_s") >= settle_s)
    moved = ~same_set & np.isfinite(x.now("wanted")) & np.isfinite(expected)
    before, behind = left_right(moved.astype(float))
    calm = calm_line(x, minutes, settle_s)
    mean = x.mean(x.zone["output"], minutes)
    valid = same_set & ~(before > 0) & ~(behind > 0) & np.isfinite(expected) & np.isfinite(mean) & calm
    return {"at_c": after}, Duty(mean, expected, mean - expected, 4.0 * x.now("scatter"), valid, calm)
