"""Main drive: speed control with ramp and torque limit, cut-outs for torque and pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets

STALL_PART, STALL_S = 0.35, 15.0
"""Below this part of its set speed for so long the limited drive trips."""
LIMIT_RATE = 0.6
"""How fast the limiter takes speed off, 1/s per unit of torque over the limit; own choice."""
RECOVER_S = 40.0
TRAMP_PERIOD_S, TRAMP_S = 97.0, 2.0
"""A piece of metal in the screws is caught so often, for so long; own choice."""


@dataclass
class DriveParameters:
    """rated_nm, rated_rpm of the motor at the screws; no_load: part of rated torque; limit: part of rated torque.
    trims_feed: 1 where the torque limiter takes back the feed with the speed."""

    rated_nm: np.ndarray
    rated_rpm: np.ndarray
    no_load: np.ndarray
    limit: np.ndarray
    ramp_rpm_s: np.ndarray
    trims_feed: np.ndarray


@dataclass
class DriveState:
    """Shapes [run]. motor_rpm shown; screw_rpm turning; torque as part of rated; limiter 0..1; tripped 0/1."""

    motor_rpm: np.ndarray
    screw_rpm: np.ndarray
    torque: np.ndarray
    setpoint_rpm: np.ndarray
    limiter: np.ndarray
    stalled_s: np.ndarray
    tripped: np.ndarray


def turning(rpm: np.ndarray, torque: np.ndarray) -> DriveState:
    """A drive that turns at `rpm`."""
    zero = np.zeros_like(rpm)
    return DriveState(rpm.copy(), rpm.copy(), torque.copy(), rpm.copy(), zero + 1.0, zero.copy(), zero.copy())


def advance(
    state: DriveState,
    p: DriveParameters,
    upset: Upsets,
    wanted_rpm: np.ndarray,
    screw_w: np.ndarray,
    pressure_bar: np.ndarray,
    trip_bar: np.ndarray,
    step_s: float,
) -> None:
    """Torque from the screws' dissipation of the last step, then speed for the next."""
    s = state
    omega = np.maximum(s.screw_rpm, 0.02 * p.rated_rpm) * (np.pi / 30.0)
    on = s.motor_rpm > 0.5
    net = screw_w / omega / p.rated_nm * (upset.uncoupled < 0.5)
    s.torque = (net + p.no_load * (0.6 + 0.4 * s.motor_rpm / p.rated_rpm) * (1.0 - 0.8 * upset.uncoupled)) * on
    hit = upset.tramp * (upset.clock_s % TRAMP_PERIOD_S < TRAMP_S) * on
    over = s.torque - p.limit
    s.torque = s.torque + hit
    recover = (1.0 - s.limiter) * (1.0 - np.exp(-step_s / RECOVER_S))
    s.limiter = np.clip(s.limiter + np.where(over > 0, -LIMIT_RATE * over * step_s, recover), 0.1, 1.0)
    s.setpoint_rpm = wanted_rpm * upset.speed_gain + upset.jog_rpm * (wanted_rpm > 1)
    limited = (s.limiter < STALL_PART) & (s.setpoint_rpm > 1)
    s.stalled_s = np.where(limited, s.stalled_s + step_s, 0.0)
    trips = (s.stalled_s > STALL_S) | (pressure_bar > trip_bar)
    s.tripped = np.maximum(s.tripped, trips.astype(float))
    runs = (s.tripped < 0.5) & (upset.screw_stopped < 0.5)
    swing = upset.swing * np.sin(2.0 * np.pi * upset.clock_s / upset.swing_period_s)
    aim = s.setpoint_rpm * s.limiter * runs * (1.0 + swing) * (1.0 - upset.slip) * (1.0 - 0.15 * hit)
    change = np.clip(aim - s.motor_rpm, -4.0 * p.ramp_rpm_s * step_s, p.ramp_rpm_s * step_s)
    s.motor_rpm = s.motor_rpm + change
    s.screw_rpm = s.motor_rpm * (upset.uncoupled < 0.5)
