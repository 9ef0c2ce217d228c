"""A scripted world for the soak: heated from cold as the log sees it, and started in haste."""

from __future__ import annotations

from tests.monitor.scripted_world import TARGETS, Script, World, scripted_line, scripted_recipe

COLD_C, HOT_S, START_S = 30.0, 3000.0, 3600.0
"""All zones at their set-points 50 min after the log began; ten minutes later somebody started."""


def started_in_haste(seed: int = 41) -> World:
    """Heated from 30 C within 40 min, started after ten of 25 min of soak."""
    s = Script(scripted_line(), 5400, seed)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, START_S, 0.0)
    for zone, target in TARGETS.items():
        s.put(f"zone_temperature:{zone}", 0, 600, COLD_C)
        s.put(f"zone_temperature:{zone}", 600, HOT_S, COLD_C, slope_s=(target - COLD_C) / (HOT_S - 600))
        s.put(f"zone_temperature:{zone}", HOT_S, 5400, target)
    return s.world(scripted_recipe())
