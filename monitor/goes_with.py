"""With what exponents loads and pressures go with screw speed and rate, melt, recipe and machine being the same.

Torque of a starve-fed screw goes with what is in it, rate over speed, with an exponent of 0.25 (nearly full, or much
of it no load) to 1, and a little with speed, as a melt shears thinner and gets hotter; melt pressure with the rate by
the power law of the melt (0.35 for many, 0.7 with much oil) and down with the heat that more speed brings. The rate of
a flood-fed screw goes along with its speed. No melt's own figures are known here, so each is a span: what lies outside
of it does so by any of them. Common practice, no source; values from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.exact import Floats

Span = tuple[float, float]
"""Least and greatest exponent."""


@dataclass(frozen=True)
class GoesWith:
    """Exponents of screw speed, of the rate fed and of rate over speed."""

    speed: Span = (0.0, 0.0)
    rate: Span = (0.0, 0.0)
    specific: Span = (0.0, 0.0)


NOTHING = GoesWith()
SHEAR_THINS, HEATS = (-0.2, 0.35), (-0.35, 0.1)
GOES_WITH: dict[str, GoesWith] = {
    "melt_pressure": GoesWith(speed=HEATS, rate=(0.25, 0.7)),
    "net_torque": GoesWith(speed=SHEAR_THINS, specific=(0.25, 1.0)),
    "sme": GoesWith(speed=SHEAR_THINS, specific=(-0.75, 0.0)),
    "torque": GoesWith(speed=SHEAR_THINS, specific=(0.25, 1.0)),
    "motor_current": GoesWith(speed=SHEAR_THINS, specific=(0.1, 1.0)),
    "drive_power": GoesWith(speed=(0.8, 1.35), specific=(0.25, 1.0)),
    "melt_pump_speed": GoesWith(rate=(0.9, 1.1)),
    "melt_pump_load": GoesWith(speed=HEATS, rate=(0.2, 1.0)),
}
"""By role or name of the quantity; what is not here goes with neither."""


def span_of(exponents: Floats, speed: Floats, rate: Floats) -> tuple[Floats, Floats]:
    """Least and most by which quantities may move, natural logarithms, [quantity, n] each.

    exponents: [quantity, 3, 2], least and greatest of speed, rate, rate over speed, as `exponents_of` gives them.
    speed, rate: logarithm of now over then, [n] or [quantity, n]; NaN where one of them is not known.
    """
    low: Floats | float = 0.0
    high: Floats | float = 0.0
    for place, moved in enumerate((speed, rate, rate - speed)):
        least, most = exponents[:, place, :1] * moved, exponents[:, place, 1:] * moved
        low, high = low + np.minimum(least, most), high + np.maximum(least, most)
    return np.asarray(low), np.asarray(high)


def exponents_of(goes_with: list[GoesWith]) -> Floats:
    """As an array, [quantity, 3, 2]."""
    return np.array([(one.speed, one.rate, one.specific) for one in goes_with], float).reshape(-1, 3, 2)
