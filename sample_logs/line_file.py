"""Writes what a plant's line file says, as a dict ready for TOML or for `monitor.line.Line`."""

from __future__ import annotations

from typing import Any

from ingest.roles import ROLES, split_key

RANGES: dict[str, tuple[float, float]] = {
    "zone_temperature": (0.0, 400.0), "melt_temperature": (0.0, 400.0), "zone_output": (-100.0, 100.0),
    "zone_cooling": (0.0, 100.0),
    "torque": (0.0, 150.0), "feeder_drive": (0.0, 100.0), "vacuum": (0.0, 1100.0), "hopper_level": (0.0, 100.0),
}  # fmt: skip
"""What the transmitters can show, in the role's fixed unit."""

SHORT = {
    "zone_temperature": "temp", "zone_setpoint": "set", "zone_output": "out", "zone_current": "amps",
    "melt_pressure": "pressure", "melt_temperature": "temp", "feeder_rate": "rate", "feeder_setpoint": "rate_set",
    "feeder_drive": "drive", "feeder_weight": "weight", "feeder_refill": "refill", "feeder_gravimetric": "grav",
    "stuffer_load": "stuffer", "vacuum": "vacuum",
}  # fmt: skip


def default_tag(key: str) -> str:
    """Tag name used where a plant has no style of its own."""
    role, at = split_key(key)
    return f"{at}.{SHORT.get(role, role)}" if at else role


def line_file(
    *,
    name: str,
    title: str,
    kind: str,
    cadence_s: float,
    geometry: dict[str, float],
    drive: dict[str, float],
    limits: dict[str, float],
    zones: list[dict[str, Any]],
    feeders: list[dict[str, Any]],
    vents: list[dict[str, Any]],
    channels: tuple[str, ...],
    hold_s: dict[str, float],
    time_zone: str = "UTC",
    positions: dict[str, str] | None = None,
) -> dict[str, Any]:
    """The whole line file. hold_s: role -> how long a reading stands, where it is not the role's own.
    positions: channel key of a melt pressure -> where it stands in the stream."""
    sensors: list[dict[str, Any]] = []
    for key in channels:
        role, at = split_key(key)
        sensor: dict[str, Any] = {"tag": default_tag(key), "role": role}
        if at:
            sensor["at"] = at
        if ROLES[role].unit != "1":
            sensor["unit"] = ROLES[role].unit
        if role in RANGES:
            sensor["range"] = list(RANGES[role])
        elif role == "melt_pressure":
            sensor["range"] = [-5.0, _range_above(limits["melt_pressure_bar"])]
        if positions and key in positions:
            sensor["position"] = positions[key]
        if role in hold_s:
            sensor["hold_s"] = hold_s[role]
        sensors.append(sensor)
    content: dict[str, Any] = {
        "format": 1,
        "line": {"name": name, "title": title, "kind": kind, "feed": "starved" if kind == "twin-screw" else "flooded",
                 "time_zone": time_zone, "cadence_s": cadence_s},
        "geometry": geometry,
        "drive": drive,
        "limits": limits,
        "zone": zones,
    }  # fmt: skip
    if feeders:
        content["feeder"] = feeders
    if vents:
        content["vent"] = vents
    content["sensor"] = sensors
    return content


def _range_above(limit_bar: float) -> float:
    return next(full for full in (200.0, 350.0, 500.0, 700.0, 1000.0) if full >= 1.3 * limit_bar)
