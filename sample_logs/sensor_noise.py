"""Scatter of the transmitters, one number per kind of reading; AR(1) with its own correlation time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

TAU_S: dict[str, float] = {
    "feed": 3.0, "weight": 0.0, "zone": 6.0, "melt": 150.0, "torque": 2.5, "speed": 2.0, "pressure": 1.5,
    "melt_temperature": 20.0, "vacuum": 8.0, "current": 10.0, "stuffer": 3.0, "level": 10.0, "hall": 1800.0,
    "throat": 40.0, "intake": 12.0,
}  # fmt: skip
"""Correlation time of each noise, s; 0 = white. Own choice, in the range of industrial transmitters."""


@dataclass
class SensorNoise:
    """Relative (rel) or absolute standard deviations. melt_ln: slow wander of the melt's consistency, real."""

    melt_ln: np.ndarray
    torque_rel: np.ndarray
    speed_rel: np.ndarray
    pressure_rel: np.ndarray
    pressure_bar: np.ndarray
    melt_temperature_c: np.ndarray
    vacuum_mbar: np.ndarray
    current_rel: np.ndarray
    stuffer_rel: np.ndarray
    level_pct: np.ndarray
    hall_c: np.ndarray
