"""Which of its channels a plant logs: the plain set or a rich one, each with gaps as real plants have them."""

from __future__ import annotations

import numpy as np

from ingest.roles import split_key
from sample_logs.draw_plant import with_channels
from sample_logs.plant import Plant

PLAIN_ROLES: dict[str, float] = {
    "zone_temperature": 1.0, "zone_setpoint": 0.9, "zone_output": 0.8, "screw_speed": 1.0, "melt_pressure": 0.95,
    "melt_temperature": 0.9, "feeder_rate": 0.97, "feeder_setpoint": 0.9, "feeder_weight": 0.3, "line_rate": 1.0,
    "hopper_level": 0.7,
}  # fmt: skip
"""Role -> how likely a plain log holds it; own choice. Torque, motor current or both come on top."""
LOADS = (("torque",), ("torque",), ("motor_current",), ("torque", "motor_current"))
MISSING_OF_RICH = 0.12
"""How likely a rich log lacks a role it could do without."""
NEVER_MISSING = ("zone_temperature", "screw_speed", "melt_pressure", "feeder_rate")


def plain_log(rng: np.random.Generator, plant: Plant) -> Plant:
    """The plant with a plain log: zones, speed, load, one pressure, melt temperature, rates, perhaps weights."""
    roles = {role for role, likely in PLAIN_ROLES.items() if rng.random() < likely}
    roles |= set(LOADS[int(rng.integers(len(LOADS)))])
    kept = [
        key
        for key in plant.channels
        if split_key(key)[0] in roles and (not key.startswith("melt_pressure") or key.endswith(":P1"))
    ]
    return with_channels(plant, tuple(kept), plain=True)


def rich_log(rng: np.random.Generator, plant: Plant) -> Plant:
    """The plant with nearly everything it measures in its log."""
    roles = sorted({split_key(key)[0] for key in plant.channels} - set(NEVER_MISSING) - {"torque", "motor_current"})
    missing = {role for role in roles if rng.random() < MISSING_OF_RICH}
    missing |= {"torque"} if rng.random() < 0.15 else {"motor_current"} if rng.random() < 0.3 else set()
    return with_channels(plant, tuple(k for k in plant.channels if split_key(k)[0] not in missing), plain=False)
