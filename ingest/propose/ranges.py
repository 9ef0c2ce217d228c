"""Which numbers a role can show, in the units plants write, wide enough to rule out only what cannot be.

Common practice, no source, but for what a percentage or a switch can be.
"""

from __future__ import annotations

from ingest.propose.tag_numbers import TagNumbers
from ingest.roles import ROLES
from ingest.units import UnitError, to_unit

LEVELS: dict[str, tuple[float, float]] = {
    "zone_temperature": (-20, 460), "zone_setpoint": (-1, 460), "zone_output": (-100.5, 100.5),
    "zone_cooling": (-0.5, 100.5), "zone_current": (-1, 300), "screw_speed": (-2, 2000),
    "screw_speed_setpoint": (-1, 2000), "torque": (-20, 220), "motor_current": (-5, 3000), "drive_power": (-5, 5000),
    "melt_pressure": (-30, 1200), "melt_temperature": (-20, 460), "feeder_rate": (-50, 30000),
    "feeder_setpoint": (-1, 30000), "feeder_drive": (-2, 150), "feeder_weight": (-50, 30000),
    "injection_pressure": (-2, 500), "stuffer_load": (-5, 250), "hopper_level": (-5, 110), "line_rate": (-50, 60000),
    "line_rate_setpoint": (-1, 60000), "vacuum": (-1100, 1200), "vacuum_setpoint": (-1100, 1200),
    "throat_temperature": (-10, 150), "haul_off_speed": (-2, 400), "haul_off_load": (-5, 220),
    "cutter_speed": (-2, 6000), "bath_temperature": (-5, 110), "packed_total": (-1, 1e9), "scrap_total": (-1, 1e9),
    "melt_pump_speed": (-2, 500), "melt_pump_load": (-5, 220), "gearbox_oil_temperature": (-10, 130),
    "gearbox_oil_pressure": (-2, 60), "gearbox_filter_drop": (-2, 30), "cooling_water_temperature": (-10, 95),
    "mains_voltage": (0, 1000), "dew_point": (-90, 40), "ambient_temperature": (-30, 60),
}  # fmt: skip
"""Low and high in the fixed unit of the role, between which the 1st and 99th percentile of a running tag lie."""

UNITS_TRIED: dict[str, tuple[str, ...]] = {
    "C": ("C", "F"), "bar": ("bar", "psi", "MPa", "kPa"), "mbar": ("mbar", "inHg abs", "bar", "kPa", "Torr"),
    "kg/h": ("kg/h", "lb/h", "g/h"), "kg": ("kg", "lb", "g"), "kW": ("kW", "hp"), "m/min": ("m/min", "ft/min"),
}  # fmt: skip


_FLICKERS = 0.05
"""Share of changes from which noughts and ones are a noisy reading near nought and no switch."""


def can_be(role: str, numbers: TagNumbers, unit: str = "") -> bool:
    """Whether a tag with these numbers can play the role, in `unit` if it is given, else in any usual one."""
    if not numbers.count:
        return True
    fixed = ROLES[role].unit
    if fixed == "1":
        return numbers.switch
    if numbers.switch and not numbers.constant and numbers.changes < _FLICKERS and fixed != "%":
        return False
    low, high = LEVELS[role]
    tried = (unit,) if unit else UNITS_TRIED.get(fixed, (fixed,))
    if role == "feeder_drive" and unit:
        low, high, tried = -2, 3000, (fixed,)
    for one in tried:
        try:
            conversion = to_unit(one, fixed)
        except UnitError:
            return True  # what cannot be converted cannot be judged
        if low <= conversion.apply(numbers.low) and conversion.apply(numbers.high) <= high:
            return True
    return False
