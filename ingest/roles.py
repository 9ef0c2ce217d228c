"""What a channel can be, in the trade's words, each with one fixed unit.

Names follow OPC 40084 (plastics and rubber machinery, extrusion) in meaning where it has one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Cell = Literal["last", "mean", "max"]
Per = Literal["line", "zone", "feeder", "vent", "sensor"]


@dataclass(frozen=True)
class Role:
    """One role a plant tag can play.

    unit: the unit inside Evenmelt, always.
    per: what a channel of this role belongs to; all but 'line' need a subject (`at` in the line file).
    cell: what a cell takes when several readings fall in it: states the last, rates the mean, and the
        maximum where a limit is judged.
    hold_s: how long a reading stands for when the next has not come.
    """

    name: str
    unit: str
    per: Per
    cell: Cell
    hold_s: float
    meaning: str


_TABLE = (
    Role("zone_temperature", "C", "zone", "mean", 60, "temperature of a barrel, adapter, screen or die zone"),
    Role("zone_setpoint", "C", "zone", "last", 86400, "temperature the zone controller aims at"),
    Role("zone_output", "%", "zone", "mean", 60, "controller output, -100 full cooling to +100 full heating"),
    Role("zone_cooling", "%", "zone", "mean", 60, "cooling output of a zone where it is logged apart from the heating"),
    Role("zone_auto", "1", "zone", "last", 86400, "1 while the zone controller is in automatic, 0 in manual"),
    Role("zone_current", "A", "zone", "mean", 60, "heater current of a zone"),
    Role("screw_speed", "rpm", "line", "mean", 15, "screw speed"),
    Role("screw_speed_setpoint", "rpm", "line", "last", 86400, "screw speed wanted"),
    Role("torque", "%", "line", "mean", 15, "torque as shown, in percent of rated, no-load part included"),
    Role("motor_current", "A", "line", "mean", 15, "main drive current"),
    Role("drive_power", "kW", "line", "mean", 15, "main drive power"),
    Role(
        "melt_pressure",
        "bar",
        "sensor",
        "max",
        15,
        "melt pressure at a place along the barrel or ahead of the die",
    ),
    Role("melt_temperature", "C", "sensor", "mean", 60, "melt temperature, by probe or infrared"),
    Role("feeder_rate", "kg/h", "feeder", "mean", 30, "rate the feeder controller reports"),
    Role("feeder_setpoint", "kg/h", "feeder", "last", 86400, "rate the feeder is told"),
    Role("feeder_drive", "%", "feeder", "mean", 30, "feeder drive speed in percent of its maximum"),
    Role("feeder_weight", "kg", "feeder", "last", 30, "net weight in the feeder hopper"),
    Role("feeder_refill", "1", "feeder", "last", 3600, "1 while the feeder is being refilled"),
    Role("feeder_gravimetric", "1", "feeder", "last", 86400, "1 in gravimetric, 0 in volumetric mode"),
    Role("feeder_running", "1", "feeder", "last", 86400, "1 while the feeder is switched on"),
    Role("injection_pressure", "bar", "feeder", "mean", 30, "pressure ahead of the nozzle of a liquid feeder"),
    Role("stuffer_load", "%", "feeder", "mean", 30, "load of a side feeder's own drive"),
    Role("hopper_level", "%", "line", "mean", 120, "level in the hopper over a flood-fed throat"),
    Role("line_rate", "kg/h", "line", "mean", 60, "measured rate of the whole line"),
    Role("line_rate_setpoint", "kg/h", "line", "last", 86400, "rate wanted of the whole line"),
    Role("vacuum", "mbar", "vent", "mean", 60, "absolute pressure at a vent"),
    Role("vacuum_setpoint", "mbar", "vent", "last", 86400, "absolute pressure wanted at a vent"),
    Role("throat_temperature", "C", "line", "mean", 120, "feed throat jacket temperature"),
    Role("haul_off_speed", "m/min", "line", "mean", 60, "strand haul-off speed"),
    Role("haul_off_load", "%", "line", "mean", 60, "load of the haul-off drive"),
    Role("cutter_speed", "rpm", "line", "mean", 60, "pelletiser cutter speed"),
    Role("bath_temperature", "C", "line", "mean", 120, "water bath or pelletiser water temperature"),
    Role("diverter_to_product", "1", "line", "last", 86400, "1 while the diverter sends to product, 0 to scrap"),
    Role("packed_total", "kg", "line", "last", 3600, "running total of packed product"),
    Role("scrap_total", "kg", "line", "last", 3600, "running total of scrap"),
    Role("melt_pump_speed", "rpm", "line", "mean", 15, "melt pump speed"),
    Role("melt_pump_load", "%", "line", "mean", 15, "load of the melt pump drive"),
    Role("gearbox_oil_temperature", "C", "line", "mean", 300, "gearbox oil temperature"),
    Role("gearbox_oil_pressure", "bar", "line", "mean", 60, "gearbox oil pressure"),
    Role("gearbox_filter_drop", "bar", "line", "mean", 300, "pressure drop over the gearbox oil filter"),
    Role("cooling_water_temperature", "C", "line", "mean", 300, "temperature in the cooling water header"),
    Role("mains_voltage", "V", "line", "mean", 60, "mains voltage of the heaters"),
    Role("dew_point", "C", "line", "mean", 600, "dew point of the resin dryer's air"),
    Role("ambient_temperature", "C", "line", "mean", 3600, "temperature of the hall"),
)

ROLES: dict[str, Role] = {role.name: role for role in _TABLE}
"""Every role by name."""

RELATIVE = "relative"
"""Unit of a sensor whose real unit is not known: only tests relative to itself may use it."""


def channel_key(role: str, subject: str = "") -> str:
    """`role:subject`, or the bare role for what belongs to the line as a whole."""
    return f"{role}:{subject}" if subject else role


def split_key(key: str) -> tuple[str, str]:
    """The role and the subject ('' for the line) of a channel key."""
    role, _, subject = key.partition(":")
    return role, subject
