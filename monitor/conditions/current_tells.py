"""What a heater's current says of a zone that takes more heat: less for its output, and bands are missing; as much as
ever, and they are whole, so that something takes the heat away or the couple reads low.

Held against what it drew for its output while that was usual, means of a quarter of an hour: a current that is caught
on or off with its contactor tells in the mean only, and only where it is read several times in each turn of that.
"""

from __future__ import annotations

import numpy as np

from monitor.conditions.duty_against_reference import Duty
from monitor.conditions.zone_minutes import Minutes
from monitor.contract import Context
from monitor.exact import Bools, Floats, last_known

MEAN_MIN = 15
PAST_MIN = 2 * MEAN_MIN
LEAST_OUTPUT_PCT, LEAST_A = 10.0, 0.5
USUAL_PCT, USUAL_SHARE = 3.0, 0.1
"""So near the output a zone learned to need, what it draws is usual; its noise and load move it by less."""

MISSING, WHOLE = 0.85, 0.92
"""Of what it drew for its output: less, and bands are missing (one of four is 0.75); more, and none is. Between the two
mains voltage moves it, by a twentieth each way at most (EN 50160: within 10 %). Common practice, no source."""

READ_EVERY_S = 2.0
"""Contactors turn every 10 s and more (value from memory): read more rarely, on and off beat with the reading."""


def start(zones: int) -> Floats:
    """Nothing drawn yet: A at full output while that was usual, [zone]."""
    return np.full(zones, np.nan)


def share(before: Floats, x: Minutes, duty: Duty, ctx: Context) -> tuple[Floats, Floats]:
    """What each zone draws for its output, as a share of what it drew while that was usual, [zone, m], NaN where that
    is not known; and the state, as `start` makes it."""
    if not np.isfinite(x.zone["current"]).any():
        return np.full(x.now("current").shape, np.nan), before
    current, output = x.zone["current"], x.zone["output"]
    drawn = _at_full(x.mean(current, MEAN_MIN), x.mean(output, MEAN_MIN))
    was = _at_full(x.mean(x.ago_rows(current, MEAN_MIN), MEAN_MIN), x.mean(x.ago_rows(output, MEAN_MIN), MEAN_MIN))
    with np.errstate(invalid="ignore"):
        near = np.abs(x.mean(output, MEAN_MIN) - duty.expected) <= np.fmax(USUAL_PCT, USUAL_SHARE * duty.expected)
        usual, after = last_known(before, np.where(near & duty.valid, was, np.nan))
        told = drawn / usual
    return np.where(_beats(x, ctx), np.nan, told), after


def _at_full(current: Floats, output: Floats) -> Floats:
    """A at full output."""
    with np.errstate(invalid="ignore", divide="ignore"):
        told = (output >= LEAST_OUTPUT_PCT) & (current >= LEAST_A)
        return np.where(told, 100.0 * current / output, np.nan)


def _beats(x: Minutes, ctx: Context) -> Bools:
    """Zones whose current is caught on or off, and too rarely to tell, [zone, m]."""
    if ctx.line.line.cadence_s <= READ_EVERY_S:
        return np.zeros(x.now("current").shape, bool)
    return x.extremes(x.zone["pauses"], PAST_MIN)[1] > 0.0
