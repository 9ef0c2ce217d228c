"""The units plants log in, each with its exact factor to the base unit of its quantity and its spellings.

Factors follow from exact definitions (inch, pound, standard gravity, calorie of the International Table) as
given in NIST SP 811 (2008), appendix B, and the SI Brochure. They are fractions, rounded once at the very
end, so that bar to psi and psi to bar are each the nearest float.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Unit:
    """`base = scale * reading + offset`, in the base unit of the quantity.

    spellings: every way to write it, `name` first.
    """

    name: str
    quantity: str
    scale: Fraction
    offset: Fraction
    spellings: tuple[str, ...]


_INCH_M = Fraction(254, 10_000)
_FOOT_M = 12 * _INCH_M
_POUND_KG = Fraction(45_359_237, 100_000_000)
_GRAVITY = Fraction(980_665, 100_000)
_POUND_FORCE_N = _POUND_KG * _GRAVITY
_HORSEPOWER_W = 550 * _FOOT_M * _POUND_FORCE_N
_METRIC_HORSEPOWER_W = 75 * _GRAVITY
_MMHG_PA = Fraction(135_951, 10_000) * _GRAVITY
_KJ_KG_PER_BTU_LB = Fraction(2326, 1000)
_KCAL_KJ = Fraction(41_868, 10_000)
_TURN_RAD = 2 * Fraction(math.pi)
_FREEZING_K = Fraction(27_315, 100)

# Quantity: its units, the best known first, each as (scale to the base unit, name, other spellings...).
_TABLE: dict[str, tuple[tuple[Fraction | int | str, ...], ...]] = {
    "pressure": (
        (100_000, "bar"),
        (100, "mbar", "mb", "hPa"),
        (1, "Pa"),
        (1_000, "kPa"),
        (1_000_000, "MPa", "N/mm2"),
        (_POUND_FORCE_N / _INCH_M**2, "psi", "lbf/in2", "lb/in2", "lbs/in2"),
        (1_000 * _POUND_FORCE_N / _INCH_M**2, "ksi", "kpsi"),
        (10_000 * _GRAVITY, "kgf/cm2", "kg/cm2", "kp/cm2", "at"),
        (101_325, "atm"),
        (_MMHG_PA, "mmHg"),
        (Fraction(254, 10) * _MMHG_PA, "inHg", '"Hg'),
        (Fraction(101_325, 760), "Torr"),
    ),
    "rotational speed": (
        (1, "rpm", "1/min", "U/min", "Upm", "r/min", "rev/min", "tr/min", "/min", "min-1"),
        (60, "rev/s", "1/s", "r/s", "rps", "s-1"),
        (60 / _TURN_RAD, "rad/s"),
    ),
    "mass rate": (
        (1, "kg/h", "kg/hr", "kg/hour", "kgph"),
        (_POUND_KG, "lb/h", "lb/hr", "lbs/h", "lbs/hr", "lb/hour", "pph"),
        (60 * _POUND_KG, "lb/min", "lbs/min"),
        (1_000, "t/h", "t/hr"),
        (Fraction(1, 1_000), "g/h", "g/hr"),
        (Fraction(60, 1_000), "g/min"),
        (Fraction(3_600, 1_000), "g/s"),
        (60, "kg/min"),
        (3_600, "kg/s"),
        (2_000 * _POUND_KG, "short ton/h", "short ton/hr"),
        (2_240 * _POUND_KG, "long ton/h", "long ton/hr"),
    ),
    "mass": (
        (1, "kg", "kgs"),
        (_POUND_KG, "lb", "lbs"),
        (Fraction(1, 1_000), "g"),
        (1_000, "t", "tonne"),
        (_POUND_KG / 16, "oz"),
        (2_000 * _POUND_KG, "short ton"),
        (2_240 * _POUND_KG, "long ton"),
    ),
    "share": (
        (1, "%", "pct", "percent"),
        (100, "1", "fraction", "0..1", "0/1", "bool", "on/off"),
        (Fraction(1, 10), "‰", "permille"),
        (Fraction(1, 10_000), "ppm"),
    ),
    "voltage": ((1, "V", "volt", "volts"), (Fraction(1, 1_000), "mV"), (1_000, "kV")),
    "electric current": ((1, "A", "amp", "amps"), (Fraction(1, 1_000), "mA"), (1_000, "kA")),
    "power": (
        (1, "kW"),
        (Fraction(1, 1_000), "W"),
        (1_000, "MW"),
        (_HORSEPOWER_W / 1_000, "hp", "bhp"),
        (_METRIC_HORSEPOWER_W / 1_000, "metric hp", "hp(metric)", "PS", "CV", "ch"),
    ),
    "torque": (
        (1, "N m"),
        (1_000, "kN m"),
        (_FOOT_M * _POUND_FORCE_N, "lbf ft", "ft lbf", "lb ft", "ft lb"),
        (_INCH_M * _POUND_FORCE_N, "lbf in", "in lbf", "lb in", "in lb"),
        (_GRAVITY, "kgf m", "m kgf", "kp m"),
    ),
    "speed": (
        (1, "m/min", "mpm"),
        (60, "m/s"),
        (Fraction(60, 1_000), "mm/s"),
        (Fraction(1, 1_000), "mm/min"),
        (_FOOT_M, "ft/min", "fpm"),
        (60 * _FOOT_M, "ft/s", "fps"),
        (_INCH_M, "in/min", "ipm"),
    ),
    "length": (
        (1, "mm"),
        (10, "cm"),
        (1_000, "m"),
        (1_000 * _INCH_M, "in", "inch"),
        (1_000 * _FOOT_M, "ft"),
    ),
    "density": (
        (1, "kg/m3", "g/L"),
        (1_000, "g/cm3", "g/cc", "kg/L"),
        (_POUND_KG / _FOOT_M**3, "lb/ft3", "lb/cuft"),
        (_POUND_KG / _INCH_M**3, "lb/in3"),
    ),
    "volume rate": (
        (1, "L/h", "L/hr"),
        (60, "L/min"),
        (Fraction(60, 1_000), "cm3/min", "cc/min", "mL/min"),
        (Fraction(3_600, 1_000), "cm3/s", "cc/s", "mL/s"),
        (1_000, "m3/h"),
    ),
    "viscosity": (
        (1, "Pa s"),
        (Fraction(1, 1_000), "mPa s", "cP"),
        (Fraction(1, 10), "P", "poise"),
    ),
    "specific energy": (
        (1, "kWh/kg"),
        (Fraction(1, 1_000), "Wh/kg", "kWh/t"),
        (Fraction(1, 3_600), "kJ/kg", "J/g"),
        (Fraction(1_000, 3_600), "MJ/kg"),
        (_HORSEPOWER_W / 1_000 / _POUND_KG, "hp h/lb", "hp hr/lb"),
        (_KJ_KG_PER_BTU_LB / 3_600, "Btu/lb"),
    ),
    "heat capacity": (
        (1, "kJ/(kg K)", "kJ/kg K", "J/g K", "kJ/(kg °C)", "kJ/kg °C"),
        (_KCAL_KJ, "Btu/(lb F)", "Btu/(lb °F)", "Btu/lb °F", "cal/(g °C)", "kcal/(kg °C)"),
    ),
}

# Temperatures alone have an offset: (scale to K, offset in K, name, other spellings...).
_TEMPERATURES: tuple[tuple[Fraction, Fraction, tuple[str, ...]], ...] = (
    (Fraction(1), _FREEZING_K, ("C", "°C", "degC", "deg.C", "celsius")),
    (Fraction(5, 9), _FREEZING_K - 32 * Fraction(5, 9), ("F", "°F", "degF", "deg.F", "fahrenheit")),
    (Fraction(1), Fraction(0), ("K", "°K", "degK", "kelvin")),
)


def _units() -> list[Unit]:
    units = [Unit(names[0], "temperature", scale, offset, names) for scale, offset, names in _TEMPERATURES]
    for quantity, rows in _TABLE.items():
        for scale, *names in rows:
            spelled = tuple(str(name) for name in names)
            units.append(Unit(spelled[0], quantity, Fraction(scale), Fraction(0), spelled))
    return units


UNITS: tuple[Unit, ...] = tuple(_units())
"""Every unit known."""
