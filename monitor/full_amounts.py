"""What is 100 % of a role in percent that is logged as an amount: a torque in N m, a flood-fed hopper in kg."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ingest.roles import RELATIVE
from ingest.units import UnitError, quantity_of, to_unit
from monitor.physics.energy import rated_torque_nm

AMOUNT_OF = {"torque": "torque", "hopper_level": "mass"}
"""Quantity of such roles whose full amount the line file may say apart from the sensor."""

_FULL_IN = {"torque": "N m", "hopper_level": "kg"}
_NEEDED = {
    "torque": (
        "a torque in {unit} needs rated_power_kw and rated_speed_rpm, or rated_torque_nm, in [drive]; without them "
        'write unit = "relative"'
    ),
    "hopper_level": (
        "a hopper in {unit} needs full, what it holds when it is full, or hopper_kg of a [[feeder]] of kind = "
        '"hopper"; its weight alone is role = "feeder_weight", at = that feeder'
    ),
}


def is_amount(role: str, unit: str) -> bool:
    """Whether a unit measures the amount that such a role is a share of."""
    if role not in AMOUNT_OF or unit in ("", RELATIVE):
        return False
    try:
        return quantity_of(unit) == AMOUNT_OF[role]
    except UnitError:
        return False


def full_reading(role: str, unit: str, drive: Mapping[str, Any], feeders: Sequence[Mapping[str, Any]]) -> float | None:
    """The reading that is 100 %, in `unit`; None where [drive] and [[feeder]] do not tell it."""
    amount = _rated_nm(drive) if role == "torque" else _hopper_kg(feeders)
    return None if amount is None else amount / to_unit(unit, _FULL_IN[role]).scale


def full_is_missing(role: str, unit: str, drive: Mapping[str, Any], feeders: Sequence[Mapping[str, Any]]) -> str:
    """What to write where an amount is logged and nothing says what is full, '' where there is no need."""
    if not is_amount(role, unit) or full_reading(role, unit, drive, feeders) is not None:
        return ""
    return _NEEDED[role].format(unit=unit)


def _number(table: Mapping[str, Any], key: str) -> float | None:
    value = table.get(key)
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) and value > 0 else None


def _rated_nm(drive: Mapping[str, Any]) -> float | None:
    """As given, else rated power over rated speed: what the gearbox loses is no matter, as both are at the screws."""
    power, speed = _number(drive, "rated_power_kw"), _number(drive, "rated_speed_rpm")
    given = _number(drive, "rated_torque_nm")
    if given is not None or power is None or speed is None:
        return given
    return float(rated_torque_nm(rated_power_kw=power, rated_speed_rpm=speed))


def _hopper_kg(feeders: Sequence[Mapping[str, Any]]) -> float | None:
    sizes = [_number(one, "hopper_kg") for one in feeders if one.get("kind") == "hopper"]
    return sizes[0] if len(sizes) == 1 else None
