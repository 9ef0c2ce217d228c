"""The unit of every tag whose role is told: from the log where it says so, else by level, and then a guess."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ingest.propose.names import TagName
from ingest.propose.proposal import Sure
from ingest.propose.tag_numbers import TagNumbers
from ingest.roles import RELATIVE, ROLES
from ingest.units import UnitError, to_unit

# Zones of thermoplastics run at about 150 to 300 C, which is 300 to 570 F; a hall has 5 to 45 C, which is 40 to 113 F
# (common practice, no source). Between the levels nothing is said but 'a guess'.
_ZONES_F_FROM, _ZONES_C_TO = 330.0, 290.0
_HALL_F_FROM = 48.0
_CUSTOMARY = {"C": "F", "bar": "psi", "kg/h": "lb/h", "kg": "lb", "kW": "hp", "m/min": "ft/min"}
_METRIC = frozenset({"bar", "mbar", "kw", "kg", "kg/h", "kgh", "c", "degc"})
_PSI_FROM, _MPA_TO = 1000.0, 60.0


@dataclass(frozen=True)
class UnitChosen:
    """unit: as the line file takes it, '' for a role without one."""

    unit: str
    sure: Sure
    why: str = ""


def choose_units(
    roles: Mapping[str, str], names: Sequence[TagName], numbers: Mapping[str, TagNumbers]
) -> dict[str, UnitChosen]:
    """The unit of every tag in `roles` (tag -> role)."""
    by_tag = {name.tag: name for name in names}
    customary, how = customary_units(roles, by_tag, numbers)
    return {tag: _choose(role, by_tag[tag], numbers.get(tag), customary, how) for tag, role in roles.items()}


def customary_units(
    roles: Mapping[str, str], names: Mapping[str, TagName], numbers: Mapping[str, TagNumbers]
) -> tuple[bool, str]:
    """Whether the plant writes Fahrenheit, psi and pounds, and what tells. roles, names: by tag."""
    written = [names[tag].unit.casefold() for tag in roles if names[tag].unit]
    if any("f" in one.replace("ft", "") and names_f(one) for one in written):
        return True, "other tags are in F"
    if any(names[tag].quantity == "temperature" for tag in roles if names[tag].unit):
        return False, ""
    zones = [
        numbers[tag].high for tag, role in roles.items()
        if role in ("zone_setpoint", "zone_temperature", "melt_temperature") and tag in numbers and numbers[tag].count
    ]  # fmt: skip
    halls = [numbers[tag].middle for tag, role in roles.items() if role == "ambient_temperature" and tag in numbers]
    level = float(np.median(zones)) if zones else 0.0
    if halls and np.isfinite(halls[0]):
        return bool(halls[0] > _HALL_F_FROM), f"the hall has {halls[0]:.0f}"
    if level >= _ZONES_F_FROM:
        return True, f"zones are at {level:.0f}"
    return False, f"zones are at {level:.0f}" if level and level <= _ZONES_C_TO else ""


def names_f(unit: str) -> bool:
    """Whether a written unit is degrees Fahrenheit."""
    try:
        return to_unit(unit, "C").scale < 0.6
    except UnitError:
        return False


def _choose(role: str, name: TagName, numbers: TagNumbers | None, customary: bool, how: str) -> UnitChosen:
    fixed = ROLES[role].unit
    if fixed == "1":
        return UnitChosen("", "sure")
    if name.unit:
        try:
            to_unit(name.unit, fixed)
            plain = name.unit_given or not customary or name.unit.casefold() not in _METRIC
            return UnitChosen(name.unit, "sure" if plain and name.unit_firm else "likely", "the name says it")
        except UnitError as error:
            if name.quantity == "pressure" and fixed == "mbar":
                return UnitChosen(f"{name.unit} abs", "a guess", "absolute or below atmosphere is not said")
            why = str(error)
            if role == "torque" and name.quantity == "torque":
                why = f"with rated power and speed in [drive] write '{name.unit}', which is then read as percent"
            elif fixed == "%":
                why = f"write '{name.unit}' and full, the reading that is 100 %, to have it in percent"
            return UnitChosen(RELATIVE, "sure" if name.unit_firm else "a guess", why)
    if fixed in ("rpm", "%", "A", "V"):
        return UnitChosen(fixed, "likely", "as usual")
    if fixed == "mbar":
        return _vacuum(numbers, customary)
    unit = _CUSTOMARY.get(fixed, fixed) if customary else fixed
    if role == "dew_point" and not customary:
        return UnitChosen("C", "a guess", "as usual")
    if fixed == "bar" and role == "melt_pressure" and numbers is not None and numbers.count:
        if numbers.high > _PSI_FROM:
            unit = "psi"
        elif numbers.high < _MPA_TO and numbers.high > 0 and not customary:
            return UnitChosen("bar", "a guess", f"not given; at most {numbers.high:.3g}, which may also be MPa")
    sure: Sure = "likely" if fixed == "C" and how else "a guess"
    return UnitChosen(unit, sure, f"not given; {how}" if how else "not given")


def _vacuum(numbers: TagNumbers | None, customary: bool) -> UnitChosen:
    if numbers is None or not numbers.count:
        return UnitChosen("mbar", "a guess", "not given")
    if customary and numbers.low >= 0 and numbers.high <= 31:
        return UnitChosen("inHg abs", "a guess", "not given; it may also be below atmosphere")
    if numbers.low >= -1.1 and numbers.high <= 1.2:
        return UnitChosen("barg" if numbers.middle < 0 else "bara", "a guess", "not given")
    if numbers.middle < 0:
        return UnitChosen("mbarg", "a guess", "not given; it is below nought, so against atmosphere")
    return UnitChosen("mbar", "a guess", "not given")
