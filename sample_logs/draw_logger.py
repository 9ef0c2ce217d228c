"""Draws how a plant's logger shows and stores readings."""

from __future__ import annotations

import numpy as np

from sample_logs.plant import Logger

LONGEST_S = 240.0


def draw_logger(rng: np.random.Generator) -> Logger:
    """Resolution per role; one plant in five has integer zone temperatures, one in six stores on change only."""
    whole = rng.random() < 0.2
    resolution = {
        "zone_temperature": 1.0 if whole else 0.1, "zone_setpoint": 1.0, "zone_output": 1.0 if whole else 0.1,
        "zone_current": 0.1, "screw_speed": float(rng.choice([0.1, 1.0])), "screw_speed_setpoint": 1.0,
        "torque": float(rng.choice([0.1, 0.1, 1.0])), "motor_current": 0.1, "drive_power": 0.1,
        "melt_pressure": float(rng.choice([0.1, 0.1, 1.0])), "melt_temperature": float(rng.choice([0.1, 0.1, 1.0])),
        "feeder_rate": 0.01, "feeder_setpoint": 0.001, "feeder_drive": 0.1, "feeder_weight": 0.001,
        "stuffer_load": 0.1, "vacuum": 1.0, "line_rate_setpoint": 0.1, "throat_temperature": 0.1,
        "gearbox_oil_temperature": 0.1, "ambient_temperature": 0.1, "hopper_level": 0.1, "line_rate": 0.1,
    }  # fmt: skip
    deadband: dict[str, float] = {}
    if rng.random() < 1 / 6:
        deadband = {
            "zone_temperature": 0.3, "zone_output": 1.0, "melt_pressure": 0.5, "melt_temperature": 0.3,
            "torque": 0.5, "screw_speed": 0.5, "feeder_weight": 0.01, "vacuum": 2.0, "hopper_level": 0.5,
        }  # fmt: skip
    return Logger(resolution, deadband, LONGEST_S)


def hold_times(logger: Logger, cadence_s: float) -> dict[str, float]:
    """Role -> hold in s for roles stored on change, and everything where the cadence is slow."""
    held = dict.fromkeys(logger.deadband, logger.longest_s + 30.0)
    if cadence_s >= 5.0:
        for role in ("screw_speed", "torque", "melt_pressure", "motor_current", "drive_power"):
            held[role] = max(held.get(role, 0.0), 4.0 * cadence_s)
    return held
