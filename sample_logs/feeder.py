"""Loss-in-weight feeders: hopper, feed screw, load cell, gravimetric controller, refill."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets

DRIVE_LAG_S = 1.0
NEARLY_EMPTY = 0.03
"""Below this part of the hopper the flights no longer fill."""
SATURATED_S = 20.0
"""A controller that may fall back to volumetric does so after so long at its drive limit."""
IMPLAUSIBLE, NOISES = 3.0, 8.0
"""The controller cuts off a weight loss beyond so many times what the screw can give, and beyond so many times the
noise of its scale: cut closer, the noise left would be lopsided and the rate with it."""
STORED_S = 600.0
RESUME_S = 90.0
HOLE_PERIOD_S, HOLE_PART = 75.0, 0.4
"""A rat-holing hopper gives less for this part of every period; own choice."""


@dataclass
class FeederParameters:
    """Shapes [feeder]. present: 1 if the slot is used. side: 1 for a side feeder.

    factor_kg_h: rate at 100 % drive with a full hopper. fill_effect: part of it lost toward empty.
    filter_s: each of two stages of the controller's weight-loss filter. adapt_s: feed-factor correction.
    settle_s: time in volumetric after a refill. weight_noise_kg: white, per reading.
    lag_s: fall through the chute. refill_limit_s: refill alarm, the controller goes back to gravimetric.
    """

    present: np.ndarray
    side: np.ndarray
    factor_kg_h: np.ndarray
    fill_effect: np.ndarray
    capacity_kg: np.ndarray
    refill_low_kg: np.ndarray
    refill_high_kg: np.ndarray
    refill_s: np.ndarray
    refill_limit_s: np.ndarray
    drive_limit_pct: np.ndarray
    filter_s: np.ndarray
    adapt_s: np.ndarray
    settle_s: np.ndarray
    weight_noise_kg: np.ndarray
    rate_noise: np.ndarray
    lag_s: np.ndarray


@dataclass
class FeederState:
    """Shapes [feeder, run]. Rates in kg/h, factor_est in kg/h per % drive. span, span_offset_kg: gain of the load cell
    and what keeps its reading from a jump where the gain changes (gone when it is mended)."""

    hopper_kg: np.ndarray
    weight_kg: np.ndarray
    drive_pct: np.ndarray
    factor_est: np.ndarray
    slope1: np.ndarray
    slope2: np.ndarray
    drive1: np.ndarray
    drive2: np.ndarray
    stored_pct: np.ndarray
    refilling: np.ndarray
    refill_s: np.ndarray
    hold_s: np.ndarray
    saturated_s: np.ndarray
    volumetric_s: np.ndarray
    rate_kg_h: np.ndarray
    setpoint_kg_h: np.ndarray
    delivered_kg: np.ndarray
    refilled_kg: np.ndarray
    span: np.ndarray
    span_offset_kg: np.ndarray


def settled(p: FeederParameters, setpoint_kg_h: np.ndarray, hopper_part: float = 0.7) -> FeederState:
    """Feeders that have run on their set-point for long; shapes as the parameters'."""
    hopper = p.refill_low_kg + hopper_part * (p.refill_high_kg - p.refill_low_kg)
    factor = p.factor_kg_h / 100.0 * (1.0 - p.fill_effect * (1.0 - hopper / p.capacity_kg))
    drive = setpoint_kg_h / factor
    zero = np.zeros_like(hopper)
    return FeederState(
        hopper.copy(), hopper.copy(), drive.copy(), factor.copy(), setpoint_kg_h.copy(), setpoint_kg_h.copy(),
        drive.copy(), drive.copy(), drive.copy(), zero.copy(), zero.copy(), zero.copy(), zero.copy(), zero.copy(),
        setpoint_kg_h.copy(), setpoint_kg_h.copy(), zero.copy(), zero.copy(), zero + 1.0, zero.copy(),
    )  # fmt: skip


def advance(
    state: FeederState,
    p: FeederParameters,
    upset: Upsets,
    wanted_kg_h: np.ndarray,
    running: np.ndarray,
    packed: np.ndarray,
    noise: tuple[np.ndarray, np.ndarray],
    step_s: float,
) -> np.ndarray:
    """Kilograms each feeder lets go in this step, [feeder, run]; moves the state one step on.

    running: drives allowed. packed: 0..1, part of the outlet still free when the chute backs up.
    noise: relative feed noise and white load-cell noise (unit variance) of this step.
    """
    s = state
    s.setpoint_kg_h = wanted_kg_h * upset.setpoint_gain * upset.rate_gain
    active = running & (upset.tripped < 0.5) & (s.setpoint_kg_h > 0) & (p.present > 0)
    holding = s.hold_s > 0
    volumetric = s.volumetric_s > 0
    aimed = np.where(volumetric, s.stored_pct, s.setpoint_kg_h / np.maximum(s.factor_est, 1e-9))
    aimed = np.where(holding & active, s.drive_pct, np.clip(aimed, 0.0, p.drive_limit_pct)) * active
    s.drive_pct = s.drive_pct + (aimed - s.drive_pct) * (1.0 - np.exp(-step_s / DRIVE_LAG_S))
    _deliver(s, p, upset, packed, noise[0], step_s)
    _refill(s, p, upset, step_s)
    _weigh(s, p, upset, noise[1], active, step_s)
    return s.delivered_kg


def _deliver(
    s: FeederState, p: FeederParameters, upset: Upsets, packed: np.ndarray, noise: np.ndarray, step_s: float
) -> None:
    fill = s.hopper_kg / p.capacity_kg
    factor = p.factor_kg_h * upset.factor_gain * (1.0 - p.fill_effect * (1.0 - fill))
    factor = factor * np.minimum(fill / NEARLY_EMPTY, 1.0)
    flush = 1.0 + upset.flush * (s.refilling > 0.5)
    rate = factor * s.drive_pct / 100.0 * flush * np.maximum(1.0 + p.rate_noise * noise, 0.0)
    dips = upset.clock_s % HOLE_PERIOD_S < HOLE_PART * HOLE_PERIOD_S
    rate = rate * (1.0 - upset.holes * dips) + upset.through * s.setpoint_kg_h
    s.delivered_kg = np.minimum(rate * upset.outlet * packed * (step_s / 3600.0), s.hopper_kg)
    s.hopper_kg = s.hopper_kg - s.delivered_kg + upset.inflow * s.setpoint_kg_h * (step_s / 3600.0)


def _refill(s: FeederState, p: FeederParameters, upset: Upsets, step_s: float) -> None:
    called = (upset.recall > 0.5) & (s.weight_kg < 0.97 * p.refill_high_kg)
    starts = ((s.weight_kg < p.refill_low_kg) | called) & (s.refilling < 0.5) & (p.present > 0)
    s.refilling = np.where(starts, 1.0, s.refilling)
    on = s.refilling > 0.5
    s.refill_s = np.where(on, s.refill_s + step_s, 0.0)
    flow = (p.refill_high_kg - p.refill_low_kg) / p.refill_s * step_s
    s.refilled_kg = np.minimum(flow * upset.supply, p.capacity_kg - s.hopper_kg) * on
    s.hopper_kg = s.hopper_kg + s.refilled_kg
    s.refilling = np.where(on & (s.weight_kg > p.refill_high_kg), 0.0, s.refilling)
    waits = on & ((s.refill_s < p.refill_limit_s) | (upset.by_hand > 0.5))
    s.hold_s = np.where(waits, p.settle_s, np.maximum(s.hold_s - step_s, 0.0))


def _weigh(
    s: FeederState, p: FeederParameters, upset: Upsets, noise: np.ndarray, active: np.ndarray, step_s: float
) -> None:
    changed = upset.span != s.span
    s.span_offset_kg = np.where(changed, s.hopper_kg * (s.span - upset.span) + s.span_offset_kg, s.span_offset_kg)
    s.span_offset_kg = s.span_offset_kg * (upset.span != 1.0)
    s.span = upset.span.copy()
    weight = s.hopper_kg * upset.span + s.span_offset_kg + upset.touched_kg + p.weight_noise_kg * noise
    holding = s.hold_s > 0
    most = np.maximum(IMPLAUSIBLE * p.factor_kg_h, NOISES * p.weight_noise_kg * (3600.0 / step_s))
    loss = np.clip((s.weight_kg - weight) * (3600.0 / step_s), -most, most)
    s.weight_kg = weight
    a = 1.0 - np.exp(-step_s / p.filter_s)
    held_rate = s.factor_est * s.drive_pct
    s.slope1 = np.where(holding, held_rate, s.slope1 + a * (loss - s.slope1))
    s.slope2 = np.where(holding, held_rate, s.slope2 + a * (s.slope1 - s.slope2))
    s.drive1 = np.where(holding, s.drive_pct, s.drive1 + a * (s.drive_pct - s.drive1))
    s.drive2 = np.where(holding, s.drive_pct, s.drive2 + a * (s.drive1 - s.drive2))
    learns = ~holding & active & (s.drive2 > 0.5) & (s.volumetric_s <= 0)
    seen = s.slope2 / np.maximum(s.drive2, 0.5)
    b = (1.0 - np.exp(-step_s / p.adapt_s)) * learns
    nominal = p.factor_kg_h / 100.0
    s.factor_est = np.clip(s.factor_est + b * (seen - s.factor_est), 0.15 * nominal, 3.0 * nominal)
    _fall_back(s, p, upset, learns, step_s)
    s.rate_kg_h = np.where(
        s.volumetric_s > 0, s.stored_pct / np.maximum(s.stored_pct, 1e-9) * s.setpoint_kg_h, s.slope2
    )
    s.rate_kg_h = np.where(active | (s.drive_pct > 1.0) | (s.slope2 > 0.002 * nominal * 100), s.rate_kg_h, 0.0)
    s.rate_kg_h = np.where((upset.rate_echo > 0.5) & active, s.setpoint_kg_h, s.rate_kg_h)


def _fall_back(s: FeederState, p: FeederParameters, upset: Upsets, learns: np.ndarray, step_s: float) -> None:
    at_limit = s.drive_pct > p.drive_limit_pct - 1.0
    good = learns & (np.abs(s.slope2 - s.setpoint_kg_h) < 0.05 * s.setpoint_kg_h) & ~at_limit
    c = (1.0 - np.exp(-step_s / STORED_S)) * good
    s.stored_pct = s.stored_pct + c * (s.drive_pct - s.stored_pct)
    s.saturated_s = np.where(at_limit & (s.volumetric_s <= 0), s.saturated_s + step_s, 0.0)
    left = upset.volumetric > 0.5
    falls = (upset.falls_back > 0.5) & (s.saturated_s > SATURATED_S) | left
    resumes = (s.volumetric_s > RESUME_S) & (upset.falls_back < 0.5) & ~left
    s.volumetric_s = np.where(falls | (s.volumetric_s > 0), s.volumetric_s + step_s, 0.0) * ~resumes
    nominal = s.setpoint_kg_h / np.maximum(s.stored_pct, 1e-9)
    s.factor_est = np.where(s.volumetric_s > 0, nominal, s.factor_est)
