"""Unit names and factors.

Outside sources: NIST Special Publication 811 (2008), appendix B; BIPM SI Brochure, 9th edition; and the
independent unit tables of pint and scipy.constants.
"""

import functools
import math

import numpy as np
import pint
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from ingest.unit_table import UNITS
from ingest.units import RELATIVE, UnitError, quantity_of, to_unit, unit_names

# (from, to, factor). NIST SP 811 (2008), appendix B.8 and B.9, to the digits of the exact definitions.
SP_811_FACTORS = [
    ("psi", "Pa", 6894.757293168361),
    ("psi", "bar", 0.06894757293168361),
    ("bar", "psi", 14.503773773020923),
    ("MPa", "psi", 145.03773773020922),
    ("bar", "Pa", 100_000),
    ("MPa", "bar", 10),
    ("atm", "Pa", 101_325),
    ("kgf/cm2", "Pa", 98_066.5),
    ("lb", "kg", 0.45359237),
    ("lb/h", "kg/h", 0.45359237),
    ("kg/h", "lb/h", 2.2046226218487757),
    ("kg/h", "kg/s", 1 / 3600),
    ("short ton/h", "kg/h", 907.18474),
    ("oz", "g", 28.349523125),
    ("hp", "W", 745.6998715822702),
    ("metric hp", "W", 735.49875),
    ("lbf ft", "N m", 1.3558179483314004),
    ("lbf in", "N m", 0.1129848290276167),
    ("kgf m", "N m", 9.80665),
    ("kWh/kg", "kJ/kg", 3600),
    ("kWh/kg", "MJ/kg", 3.6),
    ("kWh/kg", "kWh/t", 1000),
    ("Btu/lb", "kJ/kg", 2.326),
    ("Btu/(lb F)", "kJ/(kg K)", 4.1868),
    ("in", "mm", 25.4),
    ("ft/min", "m/s", 0.00508),
    ("g/cm3", "kg/m3", 1000),
    ("P", "Pa s", 0.1),
]

# (from, to, factor, digits after the point as printed). Derived from the same definitions.
ROUNDED_FACTORS = [
    ("hp h/lb", "kWh/kg", 1.643986806, 9),
    ("kWh/kg", "hp h/lb", 0.6082773878, 10),
    ("kWh/kg", "Btu/lb", 1547.7214101, 7),
    ("rpm", "rad/s", 0.10471975512, 11),
    ("lb/ft3", "kg/m3", 16.018463374, 9),
    ("lb/in3", "g/cm3", 27.679904710, 9),
    ("mmHg abs", "Pa", 133.3224, 4),  # SP 811: millimetre of mercury, conventional, 1.333224 E+02
    ("inHg abs", "Pa", 3386.389, 3),  # SP 811: inch of mercury, conventional, 3.386389 E+03
    ("Torr", "Pa", 133.3224, 4),
]


@pytest.mark.parametrize(("name_from", "name_to", "factor"), SP_811_FACTORS)
def test_factors_of_sp_811(name_from: str, name_to: str, factor: float) -> None:
    conversion = to_unit(name_from, name_to)

    assert conversion.offset == 0
    assert conversion.scale == pytest.approx(factor, rel=2e-16)


@pytest.mark.parametrize(("name_from", "name_to", "factor", "digits"), ROUNDED_FACTORS)
def test_factors_at_their_printed_digits(name_from: str, name_to: str, factor: float, digits: int) -> None:
    assert round(to_unit(name_from, name_to).scale, digits) == factor


def test_temperatures() -> None:
    """SI Brochure: t/C = T/K - 273.15; SP 811 B.8: t/C = (t/F - 32)/1.8."""
    assert to_unit("°C", "F").apply(220.0) == pytest.approx(428.0, abs=1e-12)
    assert to_unit("°F", "C").apply(428.0) == pytest.approx(220.0, abs=1e-12)
    assert to_unit("C", "K").apply(0.0) == 273.15
    assert to_unit("C", "F").apply(-40.0) == pytest.approx(-40.0, abs=1e-12)


def test_a_difference_of_temperature_has_no_32_in_it() -> None:
    assert to_unit("C", "F").apply_to_difference(10.0) == 18.0
    assert to_unit("F", "K").apply_to_difference(1.0) == pytest.approx(0.5555555556, abs=5e-11)


def test_anchors() -> None:
    """Everyday values, recomputed from the definitions and cross-read in SP 811."""
    assert round(to_unit("psi", "bar").apply(5000.0), 3) == 344.738
    assert to_unit("lb/h", "kg/h").apply(1000.0) == pytest.approx(453.59237, rel=1e-15)
    assert round(to_unit("hp", "kW").apply(100.0), 3) == 74.570
    assert round(to_unit("kWh/kg", "hp h/lb").apply(0.2), 6) == 0.121655
    assert to_unit("kWh/kg", "kJ/kg").apply(0.2) == pytest.approx(720, rel=1e-15)


@pytest.mark.parametrize(
    ("name_from", "name_to", "same"),
    [
        ("psi", "Pa", scipy.constants.psi),
        ("bar", "Pa", scipy.constants.bar),
        ("atm", "Pa", scipy.constants.atm),
        ("Torr", "Pa", scipy.constants.torr),
        ("lb", "kg", scipy.constants.lb),
        ("short ton", "kg", scipy.constants.short_ton),
        ("long ton", "kg", scipy.constants.long_ton),
        ("oz", "kg", scipy.constants.oz),
        ("hp", "W", scipy.constants.hp),
        ("in", "m", scipy.constants.inch),
        ("ft", "m", scipy.constants.foot),
        ("kgf m", "N m", scipy.constants.kgf),
    ],
)
def test_agrees_with_scipy_constants(name_from: str, name_to: str, same: float) -> None:
    assert to_unit(name_from, name_to).scale == pytest.approx(same, rel=1e-15)


# Our name: pint's. Left out where pint has no such unit or another by the same name.
PINT_NAMES = {
    "bar": "bar", "mbar": "mbar", "Pa": "Pa", "kPa": "kPa", "MPa": "MPa", "psi": "psi", "ksi": "ksi",
    "kgf/cm2": "kgf/cm**2", "atm": "atm", "mmHg abs": "mmHg", "inHg abs": "inHg", "Torr": "torr",
    "rpm": "rpm", "rev/s": "turn/s", "rad/s": "rad/s",
    "kg/h": "kg/h", "lb/h": "lb/h", "lb/min": "lb/min", "t/h": "t/h", "g/h": "g/h", "g/min": "g/min",
    "g/s": "g/s", "kg/min": "kg/min", "kg/s": "kg/s", "short ton/h": "ton/h", "long ton/h": "long_ton/h",
    "kg": "kg", "lb": "lb", "g": "g", "t": "t", "oz": "oz", "short ton": "ton", "long ton": "long_ton",
    "%": "percent", "1": "dimensionless", "‰": "permille", "ppm": "ppm",
    "V": "V", "mV": "mV", "kV": "kV",
    "A": "A", "mA": "mA", "kA": "kA",
    "kW": "kW", "W": "W", "MW": "MW", "hp": "hp", "metric hp": "metric_horsepower",
    "N m": "N*m", "kN m": "kN*m", "lbf ft": "lbf*ft", "lbf in": "lbf*inch", "kgf m": "kgf*m",
    "m/min": "m/min", "m/s": "m/s", "mm/s": "mm/s", "mm/min": "mm/min", "ft/min": "ft/min", "ft/s": "ft/s",
    "in/min": "inch/min",
    "mm": "mm", "cm": "cm", "m": "m", "in": "inch", "ft": "ft",
    "kg/m3": "kg/m**3", "g/cm3": "g/cm**3", "lb/ft3": "lb/ft**3", "lb/in3": "lb/inch**3",
    "L/h": "L/h", "L/min": "L/min", "cm3/min": "cm**3/min", "cm3/s": "cm**3/s", "m3/h": "m**3/h",
    "Pa s": "Pa*s", "mPa s": "mPa*s", "P": "poise",
    "kWh/kg": "kWh/kg", "Wh/kg": "Wh/kg", "kJ/kg": "kJ/kg", "MJ/kg": "MJ/kg", "hp h/lb": "hp*h/lb",
    "Btu/lb": "Btu_it/lb",
    "kJ/(kg K)": "kJ/kg/K", "Btu/(lb F)": "Btu_it/lb/delta_degF",
    "C": "degC", "F": "degF", "K": "K",
}  # fmt: skip


def test_every_unit_is_checked_against_pint() -> None:
    checked = {name.removesuffix(" abs") for name in PINT_NAMES}

    assert checked == {unit.name for unit in UNITS}


@functools.cache
def pint_registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("name", PINT_NAMES)
def test_agrees_with_pint(name: str) -> None:
    first = unit_names(quantity_of(name))[0]

    by_pint = pint_registry().Quantity(7.5, PINT_NAMES[name]).to(PINT_NAMES[first]).magnitude

    wanted = "bara" if name.endswith("abs") else first
    # pint multiplies rounded factors one after another: a few units in the last place, and those of 273.15.
    assert to_unit(name, wanted).apply(7.5) == pytest.approx(by_pint, rel=1e-14, abs=2e-13)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("°C", "C"), ("degC", "C"), ("℃", "C"), ("ºC", "C"), ("Â°C", "C"), ("[°C]", "C"), ("c", "C"),
        ("Deg F", "F"), ("KG/HR", "kg/h"), ("kg / h", "kg/h"), ("kg/hr.", "kg/h"), ("LBS/HR", "lb/h"),
        ("pph", "lb/h"),
        ("U/min", "rpm"), ("1/min", "rpm"), ("min⁻¹", "rpm"), ("min^-1", "rpm"), ("RPM", "rpm"),
        ("rps", "rev/s"),
        ("kg/cm²", "kgf/cm2"), ("PSI", "psi"), ("(bar)", "bar"), ("hPa", "mbar"), ("MPA", "MPa"),
        ("Nm", "N m"), ("N·m", "N m"), ("N*m", "N m"), ("ft lbf", "lbf ft"),
        ("PS", "metric hp"), ("HP", "hp"), ("pct", "%"), ("Amps", "A"), ("tonne", "t"), ("fpm", "ft/min"),
    ],
)  # fmt: skip
def test_names_as_plants_write_them(written: str, meant: str) -> None:
    conversion = to_unit(written, meant)

    assert (conversion.scale, conversion.offset) == (1.0, 0.0)


def test_no_two_units_differ_in_case_only() -> None:
    folded: dict[str, str] = {}
    for unit in UNITS:
        for spelling in unit.spellings:
            key = spelling.replace(" ", "").casefold()
            assert folded.setdefault(key, unit.name) == unit.name, spelling


@pytest.mark.parametrize(
    ("name_from", "name_to", "reading", "expected"),
    [
        ("psig", "bar", 1000.0, 68.94757293168361),
        ("barg", "bar", 80.0, 80.0),
        ("bar(g)", "bara", 80.0, 81.01325),
        ("bara", "bar", 81.01325, 80.0),
        ("psi abs", "psig", 14.695948775513449, 0.0),
        ("mbar(a)", "mbar", 50.0, 50.0),
        ("mbar gauge", "mbar", -900.0, 113.25),
        ("mbar vac", "mbar", 900.0, 113.25),
        ("barü", "bara", 0.0, 1.01325),
        ("inHg vac", "mbar", 29.92125, 0.0),  # 29.92125 inHg (conventional) = 1 atm, SP 811
        ("kPa vac", "kPag", 90.0, -90.0),
        ("mbar", "mbar vac", 113.25, 900.0),
        ("bar", "bar", 80.0, 80.0),
        ("mbar", "bar", 80_000.0, 80.0),
    ],
)
def test_pressure_references(name_from: str, name_to: str, reading: float, expected: float) -> None:
    # 29.92125 is a rounded figure: half a unit in its last place is 0.00017 mbar.
    tolerance = 2e-4 if "inHg" in name_from else 1e-12

    assert to_unit(name_from, name_to).apply(reading) == pytest.approx(expected, rel=1e-14, abs=tolerance)


def test_the_sites_own_air_pressure_is_used() -> None:
    assert to_unit("mbar vac", "mbar", atmosphere_mbar=943.0).apply(900.0) == pytest.approx(43.0)
    assert to_unit("mbar", "mbar", atmosphere_mbar=943.0).offset == 0


@pytest.mark.parametrize("name", ["Hz", "mPa", "ton", "TON/H", "inHg", "mmhg"])
def test_a_name_with_several_meanings_is_refused(name: str) -> None:
    with pytest.raises(UnitError, match=f"'{name}'.*write|'{name}'.*add"):
        quantity_of(name)


def test_an_unknown_name_says_what_is_possible() -> None:
    with pytest.raises(UnitError, match=r"'kg/hh' is not known \(did you mean 'kg/h'\?\); units of mass rate: kg/h, "):
        to_unit("kg/hh", "kg/h")


def test_another_quantity_is_refused() -> None:
    with pytest.raises(UnitError, match=r"'N m' measures torque and cannot become '%'; units of share: %, 1"):
        to_unit("N m", "%")


@pytest.mark.parametrize("name", ["", "  ", "[]"])
def test_a_blank_unit_is_refused(name: str) -> None:
    with pytest.raises(UnitError, match="no unit is given; units of temperature: C, F, K"):
        to_unit(name, "C")


def test_relative_readings_pass_unchanged() -> None:
    assert to_unit(RELATIVE, "bar").apply(3.7) == 3.7


def test_arrays_keep_shape_and_gaps() -> None:
    readings = np.array([[0.0, np.nan], [100.0, 50.0]])

    assert to_unit("F", "C").apply(to_unit("C", "F").apply(readings)) == pytest.approx(readings, nan_ok=True)


@given(
    st.sampled_from([(a.name, b.name) for a in UNITS for b in UNITS if a.quantity == b.quantity]),
    st.floats(-1e6, 1e6),
)
def test_there_and_back_again(names: tuple[str, str], reading: float) -> None:
    first, second = (f"{name} abs" if name in ("mmHg", "inHg") else name for name in names)

    there = to_unit(first, second).apply(reading)

    assert to_unit(second, first).apply(there) == pytest.approx(reading, rel=1e-12, abs=1e-9)
    assert math.isfinite(there)
