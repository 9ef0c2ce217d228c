"""Zone temperature controllers: thermocouple reading, PI with split heating and cooling output."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import TC_FROZEN, TC_OPEN, TC_SHORTED, Upsets

OPEN_READS_C = 400.0
"""Upscale burn-out: the input card shows the end of its range."""


@dataclass
class ControlParameters:
    """Shapes [zone]. kp_pct_c in % per C, ti_s integral time. noise_c: sd of the reading, noise_s its
    correlation time. short_c: temperature where a short lies (terminal box), over the hall."""

    kp_pct_c: np.ndarray
    ti_s: np.ndarray
    noise_c: np.ndarray
    noise_s: np.ndarray
    short_c: np.ndarray


@dataclass
class ControlState:
    """Shapes [zone, run]. integral_pct and output in % heating; reading_c as the controller sees it."""

    integral_pct: np.ndarray
    reading_c: np.ndarray
    output_pct: np.ndarray
    setpoint_c: np.ndarray


def advance(
    state: ControlState,
    p: ControlParameters,
    upset: Upsets,
    probe_c: np.ndarray,
    noise: np.ndarray,
    wanted_c: np.ndarray,
    heat_on: np.ndarray,
    hall_c: np.ndarray,
    cool_gain: np.ndarray,
    limit_pct: np.ndarray,
    step_s: float,
) -> None:
    """One scan: reads the couples, moves the outputs."""
    true = probe_c + p.noise_c * noise
    low = upset.couple_low_c * np.clip((probe_c - hall_c) / np.maximum(wanted_c - hall_c, 20.0), 0.0, 1.2)
    reading = hall_c + (true - low - hall_c) * upset.couple_gain if (upset.couple_gain != 1.0).any() else true - low
    if upset.swapped.any():
        next_one, last_one = np.roll(reading, -1, 0), np.roll(reading, 1, 0)
        reading = np.where(upset.swapped > 0, next_one, np.where(upset.swapped < 0, last_one, reading))
    reading = np.where(upset.couple == TC_OPEN, OPEN_READS_C, reading)
    reading = np.where(upset.couple == TC_SHORTED, hall_c + p.short_c + p.noise_c * noise, reading)
    state.reading_c = np.where(upset.couple == TC_FROZEN, state.reading_c, reading)
    state.setpoint_c = wanted_c + upset.setpoint_c * heat_on
    aim = np.minimum(state.setpoint_c, upset.setpoint_cap_c)
    error = aim - state.reading_c
    gain = p.kp_pct_c * upset.loop_gain
    least = -100.0 * cool_gain
    wish = gain * error + state.integral_pct
    pushes_out = ((wish > limit_pct) & (error > 0)) | ((wish < least) & (error < 0))
    hurried = np.maximum(upset.loop_gain, 1.0)
    state.integral_pct = state.integral_pct + np.where(pushes_out, 0.0, gain * hurried * error * step_s / p.ti_s)
    state.integral_pct = np.clip(state.integral_pct, least, limit_pct)
    heating = np.clip(gain * error + state.integral_pct, least, limit_pct)
    output = np.where(heating > 0, heating, heating / cool_gain)
    output = np.where(upset.manual > 0.5, upset.manual_pct, output)
    state.output_pct = output * heat_on
    state.integral_pct = state.integral_pct * heat_on
