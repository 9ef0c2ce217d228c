"""Loss-in-weight feeding: mass flow from the weights, feed factor, repeatability.

The weight slope does not depend on what the feeder's controller reports, so it shows a rate that is frozen,
echoed or filtered. It comes from the same load cell, so it does not show a wrong scale.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.physics.values import Values, ratio


@dataclass(frozen=True)
class MassFlow:
    """Mass flow from the slope of the weights, with what it rests on; one value a window.

    standard_error_kg_h: from the scatter about the line, as if readings scattered independently. A filtered
        or coarsely stepped weight scatters less than it is wrong.
    readings: weights that were there.
    """

    rate_kg_h: np.ndarray
    standard_error_kg_h: np.ndarray
    readings: np.ndarray


def mass_flow(time_s: np.ndarray, weight_kg: np.ndarray) -> MassFlow:
    """Mass flow out of a hopper by least squares over weights between refills.

    time_s: shape (n,). weight_kg: net, shape (n,) or (..., n) for many windows at once; NaN is skipped.
    Leave out refill and settling. Choose the window so that the weight falls many times its resolution: 0.1
    kg steps at 2 kg/h need well over 5 min. NaN where fewer than three weights, or no two times, are there.
    """
    there = np.isfinite(weight_kg)
    readings = there.sum(axis=-1)
    count = np.where(readings >= 3, readings, np.nan)[..., np.newaxis]
    time = np.where(there, time_s, 0.0)
    weight = np.where(there, weight_kg, 0.0)
    from_mean_time = np.where(there, time - time.sum(axis=-1, keepdims=True) / count, 0.0)
    from_mean_weight = np.where(there, weight - weight.sum(axis=-1, keepdims=True) / count, 0.0)
    time_spread = np.square(from_mean_time).sum(axis=-1)
    slope = np.asarray(ratio((from_mean_time * from_mean_weight).sum(axis=-1), time_spread))
    residual = from_mean_weight - slope[..., np.newaxis] * from_mean_time
    variance = np.square(residual).sum(axis=-1) / (count[..., 0] - 2)
    error = np.sqrt(np.asarray(ratio(variance, time_spread)))
    return MassFlow(-3600 * slope, 3600 * error, readings)


def feed_factor_kg_h_rpm(*, rate_kg_h: Values, screw_speed_rpm: Values) -> Values:
    """What a turn of the feeder screw delivers; goes with bulk density and with how full its flights are."""
    return ratio(rate_kg_h, screw_speed_rpm)


def time_to_empty_s(*, weight_kg: Values, rate_kg_h: Values) -> Values:
    """Time until the hopper is empty at this rate; NaN while nothing flows."""
    return ratio(weight_kg, rate_kg_h) * 3600


def repeatability_2_sigma_pct(samples: np.ndarray) -> float:
    """Twice the standard deviation of timed catch samples, in percent of their mean.

    samples: shape (n,), n >= 2; 30 in a row, of a minute each, are customary. Shorter ones scatter more.
    """
    return float(200 * np.std(samples, ddof=1) / np.mean(samples))
