"""How far a new thermocouple may be off, after IEC 60584-1:2013, which took in the tolerances of 60584-2:1982.

The larger of a constant and a share of the temperature, for new wire only. Two sound class 2 couples may so differ by
5 °C at 250 °C: comparing zones needs a learned offset, not an absolute limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from monitor.physics.values import Values

CoupleType = Literal["K", "N", "J", "E", "T"]
CoupleClass = Literal[1, 2]


@dataclass(frozen=True)
class Tolerance:
    """Constant part in °C, part proportional to the temperature, and the range in °C it holds in."""

    constant_c: float
    share: float
    low_c: float
    high_c: float


TOLERANCES: dict[tuple[CoupleType, CoupleClass], Tolerance] = {
    ("K", 1): Tolerance(1.5, 0.004, -40, 1000),
    ("K", 2): Tolerance(2.5, 0.0075, -40, 1200),
    ("N", 1): Tolerance(1.5, 0.004, -40, 1000),
    ("N", 2): Tolerance(2.5, 0.0075, -40, 1200),
    ("J", 1): Tolerance(1.5, 0.004, -40, 750),
    ("J", 2): Tolerance(2.5, 0.0075, -40, 750),
    ("E", 1): Tolerance(1.5, 0.004, -40, 800),
    ("E", 2): Tolerance(2.5, 0.0075, -40, 900),
    ("T", 1): Tolerance(0.5, 0.004, -40, 350),
    ("T", 2): Tolerance(1.0, 0.0075, -40, 350),
}
"""By type and class; the types an extruder uses (J and K) among them."""


def tolerance_c(couple: CoupleType, quality: CoupleClass, temperature_c: Values) -> Values:
    """Largest error of a new couple at a temperature, °C; NaN outside the range of its class."""
    found = TOLERANCES[couple, quality]
    inside = np.greater_equal(temperature_c, found.low_c) & np.less_equal(temperature_c, found.high_c)
    return np.where(inside, np.maximum(found.constant_c, found.share * np.abs(temperature_c)), np.nan)


def crossover_c(couple: CoupleType, quality: CoupleClass) -> float:
    """Temperature above which the proportional part is the larger one, °C."""
    found = TOLERANCES[couple, quality]
    return found.constant_c / found.share
