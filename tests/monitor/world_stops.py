"""A scripted line that stops: planned, at its pressure limit, by its drive, and in a gap."""

from __future__ import annotations

from tests.monitor.scripted_world import FEEDERS, Script, World, scripted_line, scripted_recipe

TRIP_S, DRIVE_S, PLANNED_S = 1500, 4500, 7500


def stop(s: Script, start_s: float, end_s: float, feed_first_s: float, ramp_s: float) -> None:
    """The screw slows over `ramp_s` to a stand at `start_s`; feeds end `feed_first_s` before it (negative: after)."""
    for feeder in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint"):
            s.put(f"{role}:{feeder}", start_s - feed_first_s, end_s, 0.0)
    s.put("screw_speed", start_s - ramp_s, start_s, 300.0, slope_s=-300.0 / ramp_s)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, start_s, end_s, 0.0)
    s.put("melt_pressure:P1", start_s, end_s, 3.0)


def stopping_twin(seed: int = 5) -> World:
    """Three stops in three hours: at the pressure limit, by the drive with feeds on, and a planned one."""
    s = Script(scripted_line(), 3 * 3600, seed)
    s.put("melt_pressure:P1", TRIP_S - 30, TRIP_S, 60.0, slope_s=4.8)
    stop(s, TRIP_S, TRIP_S + 900, 1, 3)
    stop(s, DRIVE_S, DRIVE_S + 900, -2, 3)
    s.scale("torque", PLANNED_S - 120, PLANNED_S, 0.2)
    stop(s, PLANNED_S, PLANNED_S + 900, 120, 20)
    return s.world(scripted_recipe())
