"""English texts of the pages."""

from __future__ import annotations

_ROLES = {
    "zone_temperature": "temperature", "zone_setpoint": "set-point", "zone_output": "heat and cool output",
    "zone_current": "heater current", "screw_speed": "screw speed", "screw_speed_setpoint": "screw speed set-point",
    "torque": "torque", "motor_current": "motor current", "drive_power": "drive power",
    "melt_pressure": "melt pressure", "melt_temperature": "temperature", "feeder_rate": "rate",
    "feeder_setpoint": "set rate", "feeder_drive": "drive", "feeder_weight": "weight", "feeder_refill": "refill",
    "feeder_gravimetric": "gravimetric mode", "stuffer_load": "stuffer load", "hopper_level": "hopper level",
    "line_rate": "line rate", "line_rate_setpoint": "line rate set-point", "vacuum": "vacuum",
    "throat_temperature": "throat temperature", "haul_off_speed": "haul-off speed", "melt_pump_speed": "melt pump speed",
    "gearbox_oil_temperature": "gearbox oil temperature", "ambient_temperature": "hall temperature",
    "total_feed": "rate, all feeders", "specific_throughput": "rate per speed", "net_torque": "net torque",
    "shaft_power": "shaft power", "sme": "specific mechanical energy", "fill": "fill", "residence_time": "residence time",
    "drag_flow": "drag flow", "share": "share",
}  # fmt: skip

_PHASES = {
    name: name
    for name in (
        "unknown", "stopped", "heating", "soaking", "ready", "idle", "starting", "settling", "steady", "changing",
        "purging", "stopping",
    )
}  # fmt: skip

_PLACES = {
    "far under": "far under its window", "under": "under its window", "inside": "inside its window",
    "over": "over its window", "far over": "far over its window", "no reading": "no reading", "no window": "no window",
}  # fmt: skip

_DRAWINGS = {
    "strip.name": "Barrel strip of {line}, throat to die", "strip.of": "of {wanted}", "strip.kg_h": "kg/h",
    "strip.refill": "refill", "strip.level": "hopper {percent} % full", "strip.torque": "torque",
    "strip.high": "high", "strip.target": "target", "strip.low": "low", "strip.set": "set {wanted}",
    "strip.want": "want {wanted}", "strip.heat": "heat {percent} %", "strip.cool": "cool {percent} %",
    "strip.no_output": "rests", "strip.melt": "melt", "strip.pressure": "pressure", "strip.limit": "machine limit {limit}",
    "strip.row_set": "set", "strip.row_output": "heat, cool %",
    "short.melt_pressure": "{subject} pressure", "short.melt_temperature": "{subject} temp.",
    "short.vacuum": "{subject} vacuum", "strip.scale": "{diameters} D",
    "map.name": "Window map of {line}, time across, channels from drive to die",
    "map.row": "{title}: outside its window for {minutes} min in this stretch",
    "ribbon.phase": "phase", "ribbon.lot": "lot", "lot.none": "no lot number",
    "findings.more": "{count} more in the list",
}  # fmt: skip

ENGLISH: dict[str, str] = {
    **{f"role.{key}": text for key, text in _ROLES.items()},
    **{f"phase.{key}": text for key, text in _PHASES.items()},
    **{f"place.{key}": text for key, text in _PLACES.items()},
    **_DRAWINGS,
}
