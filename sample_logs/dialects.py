"""How different plants name and measure the same channel: tags, units, and what the log looks like."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from ingest.roles import ROLES, split_key

Form = Literal["wide csv", "long csv", "parquet"]


@dataclass(frozen=True)
class Dialect:
    """One way to write a log.

    tag: channel key -> name in the log. units: fixed unit -> unit written. digits: unit written -> decimals.
    stamp: strftime format. local: stamps in the plant's local time without offset. unit_row: units below names.
    """

    name: str
    form: Form
    tag: Callable[[str], str]
    time_column: str
    stamp: str
    local: bool
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    unit_row: bool = False
    us_units: bool = False

    def unit(self, role: str) -> str:
        """Unit written for a role."""
        fixed = ROLES[role].unit
        return US_UNITS.get(fixed, fixed) if self.us_units else fixed

    def convert(self, role: str, value: float) -> float:
        """From the role's fixed unit to the unit written."""
        scale, offset = TO_US[self.unit(role)] if self.us_units and self.unit(role) in TO_US else (1.0, 0.0)
        return value * scale + offset


US_UNITS = {"C": "degF", "bar": "psi", "kg/h": "lb/h", "kg": "lb", "kW": "hp", "mbar": "inHg abs"}
TO_US: dict[str, tuple[float, float]] = {
    "degF": (1.8, 32.0),
    "psi": (1.0 / 0.06894757293168361, 0.0),
    "lb/h": (1.0 / 0.45359237, 0.0),
    "lb": (1.0 / 0.45359237, 0.0),
    "hp": (1000.0 / 745.6998715822702, 0.0),
    "inHg abs": (1.0 / 33.863886403, 0.0),
}
"""Scale and offset from the fixed unit (NIST SP 811 (2008), appendix B; inch of mercury at 0 C)."""
US_DIGITS = {"degF": 1, "psi": 1, "lb/h": 3, "lb": 3, "hp": 2, "inHg abs": 2}

_GERMAN_ZONES = {"ADAPTER": "Adapter", "SCREEN": "Siebwechsler", "DIE": "Düse"}
_GERMAN = {
    "zone_temperature": "{at} Ist °C", "zone_setpoint": "{at} Soll °C", "zone_output": "{at} Stellgrad %",
    "zone_current": "{at} Heizstrom A", "screw_speed": "Drehzahl 1/min", "screw_speed_setpoint": "Drehzahl Soll 1/min",
    "torque": "Drehmoment %", "motor_current": "Motorstrom A", "drive_power": "Antriebsleistung kW",
    "melt_pressure": "Massedruck {at} bar", "melt_temperature": "Massetemperatur °C",
    "feeder_rate": "{at} Durchsatz kg/h", "feeder_setpoint": "{at} Durchsatz Soll kg/h",
    "feeder_drive": "{at} Antrieb %", "feeder_weight": "{at} Gewicht kg", "feeder_refill": "{at} Nachfüllen",
    "feeder_gravimetric": "{at} gravimetrisch", "stuffer_load": "{at} Stopfwerk %", "vacuum": "Entgasung mbar",
    "line_rate": "Durchsatz kg/h", "line_rate_setpoint": "Durchsatz Soll kg/h", "throat_temperature": "Einzug °C",
    "gearbox_oil_temperature": "Getriebeöl °C", "ambient_temperature": "Halle °C", "hopper_level": "Füllstand %",
}  # fmt: skip
_ENGLISH = {
    "zone_temperature": "{at}_TEMP", "zone_setpoint": "{at}_TEMP_SP", "zone_output": "{at}_HEAT_COOL",
    "zone_current": "{at}_AMPS", "screw_speed": "SCREW_SPEED", "screw_speed_setpoint": "SCREW_SPEED_SP",
    "torque": "TORQUE", "motor_current": "MOTOR_AMPS", "drive_power": "MOTOR_KW", "melt_pressure": "MELT_PRESS_{at}",
    "melt_temperature": "MELT_TEMP", "feeder_rate": "{at}_RATE", "feeder_setpoint": "{at}_RATE_SP",
    "feeder_drive": "{at}_DRIVE", "feeder_weight": "{at}_WEIGHT", "feeder_refill": "{at}_REFILL",
    "feeder_gravimetric": "{at}_GRAV", "stuffer_load": "{at}_STUFFER", "vacuum": "VENT_PRESS",
    "line_rate": "LINE_RATE", "line_rate_setpoint": "LINE_RATE_SP", "throat_temperature": "THROAT_TEMP",
    "gearbox_oil_temperature": "OIL_TEMP", "ambient_temperature": "HALL_TEMP", "hopper_level": "HOPPER_LEVEL",
}  # fmt: skip


def _german(key: str) -> str:
    role, at = split_key(key)
    if role == "melt_pressure":
        return _GERMAN[role].format(at={"P1": "vor Sieb", "P2": "vor Düse"}[at])
    if role.startswith("zone_"):
        return _GERMAN[role].format(at=_GERMAN_ZONES.get(at, f"Zone {at[1:]}"))
    return _GERMAN[role].format(at=f"Dosierer {at[1:]}" if at else "")


def _english(key: str) -> str:
    role, at = split_key(key)
    return _ENGLISH[role].format(at=at)


def _path(key: str) -> str:
    role, at = split_key(key)
    ending = {"zone_temperature": "pv", "zone_setpoint": "sp", "zone_output": "out", "zone_current": "amps"}
    return f"line/{at.lower()}/{ending.get(role, role)}" if at else f"line/{role}"


def _snake(key: str) -> str:
    return _english(key).lower()


GERMAN = Dialect("german", "wide csv", _german, "Zeit", "%d.%m.%Y %H:%M:%S", True, ";", ",", "cp1252")
ENGLISH = Dialect("english", "wide csv", _english, "TIME", "%Y-%m-%dT%H:%M:%SZ", False, unit_row=True)
LONG = Dialect("long", "long csv", _path, "time", "%Y-%m-%dT%H:%M:%S.000Z", False)
AMERICAN = Dialect("american", "parquet", _snake, "time", "", False, us_units=True)

DIALECTS: dict[str, Dialect] = {d.name: d for d in (GERMAN, ENGLISH, LONG, AMERICAN)}
"""Every dialect by name."""
