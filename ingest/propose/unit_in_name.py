"""The unit that a tag name carries: 'T1 [°C]', 'Durchsatz kg/h', 'SPEED_RPM', 'melt_press_bar'."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ingest.units import UnitError, quantity_of

CONCEPT_OF = {
    "temperature": "temperature", "pressure": "pressure", "rotational speed": "speed", "mass rate": "rate",
    "mass": "weight", "electric current": "current", "power": "power", "voltage": "voltage", "speed": "speed",
    "torque": "torque", "share": "share",
}  # fmt: skip
"""Quantity of a unit -> the concept that a name has by having the unit."""

_BRACKETED = re.compile(r"^(.*\S)\s*(?:\[([^\[\]]+)\]|\(((?:[^()]|\([^()]*\))+)\))\s*$")
_JOINED = {"kgh": "kg/h", "lbh": "lb/h", "lbhr": "lb/h", "kghr": "kg/h", "mmin": "m/min", "umin": "U/min"}
_LETTERS = {"a", "c", "f", "k", "v"}
# Also words of a control loop or of a language: units only in brackets or in a row of units.
_NOT_BARE = {"at", "ps", "cv", "ch", "in", "m", "p", "t", "g", "w", "v1", "mb", "1", "s-1", "fraction", "bool", "k"}


@dataclass(frozen=True)
class UnitFound:
    """rest: the name without it. firm: it can hardly be anything else."""

    rest: str
    unit: str
    firm: bool


def known_unit(text: str) -> str:
    """The quantity of a written unit that a role may have, '' for others and for what is no unit."""
    try:
        quantity = quantity_of(text)
    except UnitError:
        # A unit with more than one meaning is still a pressure or a rate.
        return {"inhg": "pressure", "mmhg": "pressure"}.get(text.strip().casefold(), "")
    return quantity if quantity in CONCEPT_OF else ""


def unit_behind(name: str) -> UnitFound:
    """The unit at the end of a name; `unit` is '' where there is none."""
    bracketed = _BRACKETED.match(name)
    if bracketed:
        inside = (bracketed[2] or bracketed[3]).strip()
        if known_unit(inside) and not inside.isdigit():
            return UnitFound(bracketed[1].strip(), inside, True)
    for separator in (" ", "_", ".", "-"):
        parts = name.split(separator)
        for count in (2, 1):
            if len(parts) <= count:
                continue
            written = parts[-count:]
            if separator != " " and count == 2:
                written = ["/".join(written)]
            found = _bare(" ".join(written))
            if found:
                return UnitFound(separator.join(parts[:-count]), found, len(found) > 1 or found == "%")
    if name.endswith("%") and len(name) > 1:
        return UnitFound(name[:-1].rstrip(), "%", True)
    return UnitFound(name, "", False)


def _bare(text: str) -> str:
    key = text.strip().casefold()
    if key in _JOINED:
        return _JOINED[key]
    if not key or key in _NOT_BARE or key.isdigit() or (len(key) == 1 and key not in _LETTERS and key != "%"):
        return ""
    if len(key) == 1 and key != "%" and not text.strip().isupper():
        return ""
    return text.strip() if known_unit(text) else ""
