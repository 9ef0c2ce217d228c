"""What the melt pressure transmitters show: scatter, ripple, zero, and a sensor that stands or follows late."""

from __future__ import annotations

import numpy as np

from sample_logs.sensor_noise import SensorNoise
from sample_logs.upsets import Upsets

STEAM_NOISE = 3.0
"""Moisture makes the pressure so much noisier at full upset; own choice."""


def pressure_shown(
    ahead_bar: np.ndarray,
    last_bar: np.ndarray,
    screw_rpm: np.ndarray,
    sd: SensorNoise,
    upset: Upsets,
    noise: dict[str, np.ndarray],
    step_s: float,
) -> np.ndarray:
    """Shown pressures ahead of and behind the screen, bar, [2, run]; faults sit on the first.

    ahead_bar: true pressures; last_bar: what was shown last.
    """
    turn = 2.0 * np.pi * upset.clock_s * screw_rpm / 60.0
    scatter = sd.pressure_rel * noise["pressure"] * (1.0 + STEAM_NOISE * upset.steam)
    shown = ahead_bar * (1.0 + scatter + upset.ripple * np.sin(turn))
    shown = shown + sd.pressure_bar * noise["pressure"][::-1]
    first = shown[0] + upset.pressure_offset_bar
    late = upset.pressure_lag_s > 0
    share = 1.0 - np.exp(-step_s / np.maximum(upset.pressure_lag_s, 1e-3))
    first = np.where(late, last_bar[0] + share * (first - last_bar[0]), first)
    shown[0] = np.where(upset.pressure_frozen > 0.5, last_bar[0], first)
    return shown
