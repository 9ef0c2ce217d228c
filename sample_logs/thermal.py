"""Barrel zones: metal that is heated, cooled, coupled to its neighbours, the melt and the hall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets

SLOTS = 512
"""Length of the dead-time line, steps."""
FLASH_PART = 0.15
"""Part of its period in which a steam flash cools; own choice."""
COOLING_OVER_C = 160.0
"""Usual difference of wall and cooling water: warmer water cools by so much less."""
FADES_BELOW_C = 12.0
"""Cooling water cannot cool below itself: so near to the hall's temperature it fades; own choice."""


@dataclass
class ZoneParameters:
    """Shapes [zone] (first order plus dead time, as control handbooks have it).

    gain_c_pct: steady rise over the hall per % heating, zone alone. tau_s: time constant.
    dead_s: dead time of heating and cooling. coupling: heat path to each neighbour over the loss to the hall.
    loss_w_k: loss to the hall (thermal capacity = loss_w_k * tau_s).
    cool_gain: full cooling over full heating. limit_pct: heating output limit.
    probe_s: lag of the thermocouple.
    """

    gain_c_pct: np.ndarray
    tau_s: np.ndarray
    dead_s: np.ndarray
    coupling: np.ndarray
    loss_w_k: np.ndarray
    cool_gain: np.ndarray
    limit_pct: np.ndarray
    probe_s: np.ndarray


@dataclass
class ZoneState:
    """metal_c, probe_c [zone, run]; line_pct [slot, zone, run]: heating under way; slot."""

    metal_c: np.ndarray
    probe_c: np.ndarray
    line_pct: np.ndarray
    slot: int


def at_temperature(metal_c: np.ndarray, heating_pct: np.ndarray) -> ZoneState:
    """Zones at `metal_c` whose heating (in % heating, cooling negative) has been constant; [zone, run]."""
    return ZoneState(metal_c.copy(), metal_c.copy(), np.repeat(heating_pct[None], SLOTS, axis=0), 0)


def advance(
    state: ZoneState,
    p: ZoneParameters,
    upset: Upsets,
    output_pct: np.ndarray,
    melt_w: np.ndarray,
    hall_c: np.ndarray,
    dead_steps: np.ndarray,
    step_s: float,
) -> None:
    """One step on. output_pct: controller output, -100..100. melt_w: heat from the melt into each zone."""
    heat = np.maximum(np.maximum(output_pct, 0.0) * upset.heater, upset.stuck_pct)
    heat = heat * upset.mains**2 + upset.shear_pct
    flash = upset.flash_pct * (upset.clock_s % upset.flash_period_s < FLASH_PART * upset.flash_period_s)
    cool = np.maximum(np.maximum(-output_pct, 0.0) * upset.cooler, upset.cooling_pct) + flash
    cool = cool * p.cool_gain * np.clip(1.0 - upset.water_c / COOLING_OVER_C, 0.0, 1.0)
    cool = cool * np.clip((state.metal_c - hall_c) / FADES_BELOW_C, 0.0, 1.0)
    zones, runs = output_pct.shape
    z, r = np.arange(zones)[:, None], np.arange(runs)
    state.line_pct[state.slot] = heat - cool
    late = state.line_pct[(state.slot - dead_steps) % SLOTS, z, r]
    state.slot = (state.slot + 1) % SLOTS
    metal = state.metal_c
    rise = metal - hall_c
    change = p.gain_c_pct * late - rise * upset.draught + melt_w / p.loss_w_k
    change += _from_neighbours(p, metal)
    # exact for a constant drive over the step: an isolated dead zone decays as exp(-t/tau)
    weight = 1.0 - np.exp(-step_s / p.tau_s)
    state.metal_c = metal + weight * change
    state.probe_c = state.probe_c + (1.0 - np.exp(-step_s / p.probe_s)) * (state.metal_c - state.probe_c)


def steady_heating(p: ZoneParameters, metal_c: np.ndarray, melt_w: np.ndarray, hall_c: float) -> np.ndarray:
    """Heating in % (cooling negative) that keeps every zone at `metal_c`, [zone, run]."""
    around = _from_neighbours(p, metal_c)
    return (metal_c - hall_c - around - melt_w / p.loss_w_k) / p.gain_c_pct


def _from_neighbours(p: ZoneParameters, metal_c: np.ndarray) -> np.ndarray:
    """Heat that comes from the neighbours, as a steady temperature rise of each zone, C."""
    pull = 0.5 * (p.coupling[:-1] * p.loss_w_k[:-1] + p.coupling[1:] * p.loss_w_k[1:]) * np.diff(metal_c, axis=0)
    rise = np.zeros_like(metal_c)
    rise[:-1] += pull / p.loss_w_k[:-1]
    rise[1:] -= pull / p.loss_w_k[1:]
    return rise
