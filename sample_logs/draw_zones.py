"""Draws the zones' thermal numbers and controllers so that every zone can hold its set-point in the recipe."""

from __future__ import annotations

import numpy as np

from sample_logs.materials import Polymer
from sample_logs.thermal import ZoneParameters
from sample_logs.zone_control import ControlParameters

HALL_C = 23.0
MOST_TO_WALL = 0.12
"""Most of a section's work that may go straight into the barrel; own choice."""


def setpoints(rng: np.random.Generator, barrel_zones: int, barrel_c: float, polymer: Polymer) -> np.ndarray:
    """Set-points throat to die: cooled feed zone, rise to the barrel level, adapter, screen and die."""
    level = barrel_c + np.round(rng.uniform(-5, 5, barrel_zones + 3) / 5.0) * 5.0
    level[0] = float(np.round(rng.uniform(0.25, 0.4) * barrel_c / 5.0) * 5.0)
    level[1] = barrel_c - float(rng.choice([15.0, 20.0, 30.0]))
    level[barrel_zones:] = barrel_c + float(rng.choice([0.0, 5.0, 10.0]))
    return np.minimum(level, polymer.ceiling_c - 15.0)


def draw_zones(
    rng: np.random.Generator,
    outer_mm: float,
    zone_c: np.ndarray,
    exchange_w_k: np.ndarray,
    melt_c: np.ndarray,
    barrel_zones: int,
    work_w: np.ndarray,
) -> tuple[ZoneParameters, ControlParameters, np.ndarray, np.ndarray]:
    """Zone and controller numbers, heater currents, and the part of each section's work that heats its wall.

    exchange_w_k, melt_c: melt side in the steady state; work_w: dissipation of each section.
    Hard-working sections heat their zone directly: some need hardly any heating, some must be cooled.
    """
    count = len(zone_c)
    pipe = np.arange(count) >= barrel_zones
    tau = np.where(pipe, rng.uniform(400, 1100, count), rng.uniform(900, 2400, count))
    # surface against the hall grows with about the square of the size; pipes are short and lagged
    loss = 2.5 * (outer_mm / 40.0) ** 1.8 * rng.uniform(0.8, 1.25, count) * np.where(pipe, 0.5, 1.0)
    gain = rng.uniform(2.5, 5.5, count)
    dead = np.where(pipe, rng.uniform(20, 70, count), rng.uniform(35, 130, count))
    coupling = rng.uniform(0.15, 0.45, count)
    limit = np.full(count, float(rng.choice([60.0, 80.0, 100.0, 100.0])))
    around = np.zeros(count)
    for i in range(count - 1):
        flow = 0.5 * (coupling[i] * loss[i] + coupling[i + 1] * loss[i + 1]) * (zone_c[i + 1] - zone_c[i])
        around[i] += flow
        around[i + 1] -= flow
    need = zone_c - HALL_C + (exchange_w_k * (zone_c - melt_c) - around) / loss
    hard = np.minimum(work_w / max(float(work_w.max()), 1.0) / 0.25, 1.0)
    wanted_w = rng.uniform(0.0, 1.25, count) * hard * np.maximum(need, 0.0) * loss
    to_wall = np.minimum(wanted_w / np.maximum(work_w, 1.0), MOST_TO_WALL)
    need = need - to_wall * work_w / loss
    most = rng.uniform(0.35, 0.6, count) * limit
    gain = np.where(need / gain > most, need / most, gain)
    cool_gain = rng.uniform(2.0, 4.0, count)
    cool_need = np.maximum(-need / gain, 0.0)
    cool_gain = np.maximum(cool_gain, cool_need / 50.0)
    probe = rng.uniform(4, 12, count)
    dead_all = dead + probe
    quick = rng.uniform(1.1, 2.2)
    closed = quick * dead_all
    kp = tau / (gain * (closed + dead_all))
    ti = np.minimum(tau, 2.8 * (closed + dead_all))
    control = ControlParameters(kp, ti, np.full(count, rng.uniform(0.03, 0.12)), np.full(count, 6.0),
                                rng.uniform(4, 18, count))  # fmt: skip
    power_w = gain * 100.0 * loss
    zone = ZoneParameters(gain, tau, dead, coupling, loss, cool_gain, limit, probe)
    return zone, control, power_w / 230.0, to_wall
