"""What each normal value is a function of: what was asked for, never what came of it.

Wanted speed, wanted rate, zone set-points: a feed that fails must not lower what torque is expected to be. The filling
of a hopper is the one measured feature, of that feeder's feed factor. Which depends on what is physics in its plainest
form: torque, pressure and energy go with powers of speed and rate and exponentially with temperature (power-law melts).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ingest.roles import ROLES, channel_key, split_key
from monitor.exact import Floats
from monitor.quantities.registry import UNITS
from monitor.view import Readings

SPEED, RATE, BOTH, ZONES = "speed_wanted", "rate_wanted", "rate_over_speed", "zones_wanted"
RATIOS = (SPEED, RATE, BOTH, "feeder_setpoint")
"""These enter as logarithms."""

NOT_FOR_A_REFERENCE = ("screw_speed",)
POWER = (
    "net_torque", "sme", "specific_throughput", "pumped_per_turn", "melt_pressure", "feed_factor", "feeder_drive",
)  # fmt: skip


@dataclass(frozen=True)
class Spread:
    """enough: range below which a feature's coefficient cannot be learned. margin: how far beyond it may be used."""

    enough: float
    margin: float


SPREADS = {
    SPEED: Spread(0.05, 0.03),
    RATE: Spread(0.05, 0.03),
    BOTH: Spread(0.05, 0.03),
    "feeder_setpoint": Spread(0.05, 0.03),
    ZONES: Spread(3.0, 2.0),
    "zone_setpoint": Spread(3.0, 2.0),
    "feeder_weight": Spread(2.0, 1.0),
}
"""Shares of the value for ratios, C, kg. Common practice, no source."""


def spread_of(feature: str) -> Spread:
    """How a feature is treated."""
    return SPREADS[split_key(feature)[0]]


def is_ratio(feature: str) -> bool:
    """Whether it enters as a logarithm."""
    return split_key(feature)[0] in RATIOS


def features_of(name: str, there: Collection[str]) -> tuple[str, ...]:
    """Features of a quantity, of those that are there."""
    role, at = split_key(name)
    point = (SPEED, RATE, BOTH)
    if role in ("zone_output", "zone_cooling", "zone_deviation"):
        wanted: tuple[str, ...] = (channel_key("zone_setpoint", at), *point)
    elif role == "feed_factor":
        wanted = (channel_key("feeder_weight", at),)
    elif role == "feeder_drive":
        wanted = (channel_key("feeder_setpoint", at),)
    elif role == "vacuum":
        wanted = ()
    else:
        wanted = (*point, ZONES)
    return tuple(feature for feature in wanted if feature in there)


def feature_names(channels: Sequence[str], derived: Collection[str]) -> tuple[str, ...]:
    """Features that a line with these channels and quantities can give."""
    there = []
    if "screw_speed" in channels or "screw_speed_setpoint" in channels:
        there.append(SPEED)
    if "total_setpoint" in derived:
        there.append(RATE)
    if len(there) == 2:
        there.append(BOTH)
    roles = [split_key(key)[0] for key in channels]
    if "zone_setpoint" in roles:
        there.append(ZONES)
    wanted = ("zone_setpoint", "feeder_weight", "feeder_setpoint")
    return (*there, *(key for key, role in zip(channels, roles, strict=True) if role in wanted))


def feature_cells(names: Sequence[str], readings: Readings, derived: Mapping[str, Floats]) -> dict[str, Floats]:
    """Their cells, [n] each; NaN where not known."""
    speed = readings.get("screw_speed_setpoint")
    speed = np.where(np.isnan(speed), readings.get("screw_speed"), speed)
    made: dict[str, Floats] = {SPEED: speed}
    if "total_setpoint" in derived:
        made[RATE] = derived["total_setpoint"]
        with np.errstate(invalid="ignore", divide="ignore"):
            made[BOTH] = made[RATE] / np.where(speed > 0, speed, np.nan)
    if ZONES in names:
        made[ZONES] = _mean_setpoint(readings)
    return {name: made[name] if name in made else readings.get(name) for name in names}


def _mean_setpoint(readings: Readings) -> Floats:
    total, count = np.zeros(readings.n), 0
    for key in readings.index:
        if split_key(key)[0] == "zone_setpoint":
            total, count = total + readings.get(key), count + 1
    return total / max(count, 1)


def unit_of(name: str) -> str:
    """Unit of a learned quantity."""
    role = split_key(name)[0]
    made = {"zone_deviation": "C", "feed_factor": "kg/h per %"}
    return made.get(role) or UNITS.get(name) or (ROLES[role].unit if role in ROLES else "")
