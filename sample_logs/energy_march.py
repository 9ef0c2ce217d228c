"""The steady energy balance along the screw: how much dissipation makes the melt leave at a wanted temperature."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

FEED_C = 26.0


@dataclass(frozen=True)
class MarchInput:
    """Shapes [section]. weights: split of the viscous work. flow_kg_s through each section. exchange_w_k to the wall.

    extra_w: work beside the fitted one. to_wall: part of the work that goes straight into the barrel.
    plastic_part: part of the work that melts, shared out by `melts`.
    """

    weights: np.ndarray
    melts: np.ndarray
    flow_kg_s: np.ndarray
    exchange_w_k: np.ndarray
    zone_c: np.ndarray
    extra_w: np.ndarray
    to_wall: np.ndarray
    cp_j_kg_k: float
    fusion_j_kg: float
    plastic_part: float
    target_c: float


@dataclass(frozen=True)
class MarchResult:
    """power_w viscous work, plastic_j_kg, temperature_c of each section, work_w all work of each section."""

    power_w: np.ndarray
    plastic_j_kg: float
    temperature_c: np.ndarray
    work_w: np.ndarray


def fit(given: MarchInput) -> MarchResult:
    """Bisects the specific work between 0.02 and 0.6 kWh/kg until the melt leaves at `target_c`."""
    low, high = 0.02 * 3.6e6, 0.6 * 3.6e6
    for _ in range(60):
        middle = 0.5 * (low + high)
        result = _march(given, middle)
        low, high = (middle, high) if result.temperature_c[-2] < given.target_c else (low, middle)
    return _march(given, 0.5 * (low + high))


def _march(given: MarchInput, j_per_kg: float) -> MarchResult:
    flow = given.flow_kg_s
    power = given.weights / given.weights.sum() * j_per_kg * (1.0 - given.plastic_part) * flow[-1]
    plastic = j_per_kg * given.plastic_part * flow[-1] / float((given.melts * flow).sum())
    work = power + plastic * given.melts * flow + given.extra_w
    heat = work * (1.0 - given.to_wall) - given.fusion_j_kg * given.melts * flow + given.exchange_w_k * given.zone_c
    temperature = np.empty_like(flow)
    before, moving = FEED_C, 0.0
    for s, through in enumerate(flow):
        carried = given.cp_j_kg_k * (moving * before + (through - moving) * FEED_C)
        before = (heat[s] + carried) / (given.cp_j_kg_k * through + given.exchange_w_k[s])
        temperature[s], moving = before, through
    return MarchResult(power, plastic, temperature, work)


def with_wall_heat(given: MarchInput, to_wall: np.ndarray) -> MarchInput:
    """The same with part of the work going into the barrel."""
    return replace(given, to_wall=to_wall)
