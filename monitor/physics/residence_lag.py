"""From an upset at a feeder to the kilograms it touches at the die: plug flow, then mixing.

What is fed comes out after a plug-flow delay, smeared by one mixing time constant. A rectangular error
therefore rises, peaks when its end comes out, and dies away exponentially. Delay and time constant follow
rate and fill: take them at the time of the upset.
"""

from __future__ import annotations

import numpy as np

from monitor.physics.values import Values, ratio

PLUG_FLOW_SHARE = 0.4
"""Share of the mean residence time before the first touched melt comes out; common practice, no source."""

LAST_TOUCHED_RESIDENCES = 4.0
"""Mean residence times after the end of an upset until its last is out; common practice, no source. With the
share above 0.25 % of an error is left then."""


def plug_flow_and_mixing_s(mean_residence_s: Values) -> tuple[Values, Values]:
    """Plug-flow delay and mixing time constant of an extruder with this mean residence time."""
    return PLUG_FLOW_SHARE * mean_residence_s, (1 - PLUG_FLOW_SHARE) * mean_residence_s


def response(
    *, elapsed_s: Values, amplitude: Values, duration_s: Values, plug_flow_s: Values, mixing_s: Values
) -> Values:
    """Error of the melt at the die, in the unit of `amplitude`, for a rectangular error at the feeder.

    elapsed_s: since the error began at the feeder. mixing_s: > 0.
    """
    since_first = elapsed_s - plug_flow_s
    since_last = since_first - duration_s
    risen = -np.expm1(-np.maximum(since_first, 0) / mixing_s)
    fallen = -np.expm1(-np.maximum(since_last, 0) / mixing_s)
    return amplitude * (risen - fallen)


def peak(*, amplitude: Values, duration_s: Values, mixing_s: Values) -> Values:
    """Largest error at the die, in the unit of `amplitude`: a short upset is mixed out."""
    return amplitude * -np.expm1(-duration_s / mixing_s)


def peak_time_s(*, duration_s: Values, plug_flow_s: Values) -> Values:
    """When the largest error comes out, after the error began at the feeder."""
    return plug_flow_s + duration_s


def settled_s(
    *,
    amplitude: Values,
    duration_s: Values,
    plug_flow_s: Values,
    mixing_s: Values,
    tolerance: Values = 0.01,
) -> Values:
    """When the error at the die is back within `tolerance`, after the error began at the feeder.

    tolerance: > 0, in the unit of `amplitude` (0.01 of a relative error is 1 % of set).
    Equals `plug_flow_s` for an upset too short or small to ever come outside.
    """
    times_tolerance = np.abs(peak(amplitude=amplitude, duration_s=duration_s, mixing_s=mixing_s)) / tolerance
    outside = np.greater(times_tolerance, 1)
    # The logarithm is taken of 1 where the error stays inside, so that nothing is added there.
    decay_s = mixing_s * np.log(np.where(outside | np.isnan(times_tolerance), times_tolerance, 1.0))
    return plug_flow_s + np.where(outside, duration_s, 0.0) + decay_s


def touched_kg(*, rate_kg_h: Values, plug_flow_s: Values, settled_s: Values) -> Values:
    """Kilograms that leave from the first touched melt until the error is back within tolerance."""
    return rate_kg_h * np.maximum(settled_s - plug_flow_s, 0) / 3600


def touched_interval_s(
    *, duration_s: Values, mean_residence_s: Values, full_volume_kg: Values, rate_kg_h: Values
) -> tuple[Values, Values]:
    """First and last touched melt at the die, after the upset reached the screw, by the rule of thumb above.

    full_volume_kg: melt in what is always full between screw and die: adapter, screen changer, die.
    """
    pushed_through_s = ratio(full_volume_kg, rate_kg_h) * 3600
    first = PLUG_FLOW_SHARE * mean_residence_s + pushed_through_s
    last = duration_s + LAST_TOUCHED_RESIDENCES * mean_residence_s + pushed_through_s
    return first, last
