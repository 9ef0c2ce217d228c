"""Draws size, material and speed of a single-screw line and sizes its channel sections to them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sample_logs.channel import ChannelParameters
from sample_logs.energy_march import MarchInput, MarchResult, fit
from sample_logs.materials import POLYMERS, Polymer
from sample_logs.screw_geometry import drag_flow_m3_s

ELEMENTS = {
    5: ("conveying", "compression", "compression", "metering", "metering"),
    6: ("conveying", "conveying", "compression", "compression", "metering", "metering"),
}
HELIX_DEG = 17.66
OVER_DRAG = 1.25
"""Feed and compression sections could drag so much more than metering takes."""


@dataclass(frozen=True)
class SingleDesign:
    """What was drawn first, and follows into every part."""

    diameter_mm: float
    length_over_diameter: float
    depth_mm: float
    barrel_zones: int
    speed_rpm: float
    polymer: Polymer
    index: float
    back_part: float
    rate_kg_h: float
    barrel_c: float


def draw_design(rng: np.random.Generator) -> SingleDesign:
    """Size, material, speed; rate from drag flow less the back flow."""
    diameter = float(rng.choice([45.0, 60.0, 75.0, 90.0]))
    zones = int(rng.choice([5, 6]))
    depth = float(rng.uniform(0.055, 0.08)) * diameter
    speed = float(np.round(rng.uniform(70, 150)))
    polymer = POLYMERS[int(rng.choice([0, 1, 4]))]
    back = float(rng.uniform(0.08, 0.25))
    drag = drag_flow_m3_s(diameter / 1000.0, depth / 1000.0, HELIX_DEG, speed / 60.0)
    rate = drag * polymer.melt_density * (1.0 - back) * 3600.0
    return SingleDesign(diameter, float(rng.choice([25.0, 28.0, 30.0])), depth, zones, speed, polymer,
                        float(rng.uniform(0.25, 0.6)), back, rate,
                        float(np.round(rng.uniform(*polymer.barrel_c) / 5.0) * 5.0))  # fmt: skip


def draw_channel(
    rng: np.random.Generator, d: SingleDesign, zone_c: np.ndarray, die_bar: float
) -> tuple[ChannelParameters, MarchInput, float]:
    """Sections sized to the design, their dissipation still to be set (`set_work`), what sets it, litres of pipe."""
    rate_s, turns = d.rate_kg_h / 3600.0, d.speed_rpm / 60.0
    b, sections = d.barrel_zones, d.barrel_zones + 3
    diameter, depth = d.diameter_mm / 1000.0, d.depth_mm / 1000.0
    length = d.length_over_diameter * diameter / b
    deeper = np.interp(np.arange(b), [0, b * 0.35, b * 0.65, b - 1], [2.6, 2.4, 1.0, 1.0])
    density = np.array([d.polymer.bulk_density if s < 2 else d.polymer.melt_density for s in range(b)])
    capacity = np.append(density * 0.9 * np.pi * diameter * depth * deeper * length, np.zeros(3))
    pipes_l = rng.uniform(0.3, 0.9) * (d.diameter_mm / 60.0) ** 3 * np.array([0.6, 0.8, 1.2])
    capacity[b:] = d.polymer.melt_density * pipes_l / 1000.0
    drag = np.full(sections, 1.0)
    metering_drag = rate_s / (1.0 - d.back_part) / turns
    drag[: b - 1] = metering_drag * OVER_DRAG
    drag[b - 1] = metering_drag
    weights = np.array([0.1, 0.4, 1.0, 1.2, 1.6, 1.8][6 - b :] + [0.0] * 3)
    weights[0] = 0.05
    melts = np.zeros(sections)
    melts[2 : b - 1] = 1.0 / (b - 3)
    wall = np.full(sections, rng.uniform(250, 400) * np.pi * diameter * length)
    wall[:2] *= 0.3
    wall[b:] = rng.uniform(200, 400) * np.cbrt(pipes_l / 1000.0) ** 2 * 5.0
    target = min(d.barrel_c + float(rng.uniform(4, 22)), d.polymer.ceiling_c - 12.0)
    cp, fusion = d.polymer.cp_j_kg_k, d.polymer.fusion_j_kg
    hydraulic = 1e5 / d.polymer.melt_density
    extra = np.zeros(sections)
    extra[b - 1] = hydraulic * die_bar * metering_drag * turns
    f, zero = np.array, np.zeros(sections)
    parameters = ChannelParameters(
        capacity, drag, f(d.back_part * metering_drag * turns / die_bar),
        f(metering_drag * turns / rng.uniform(8, 30)), wall, zero, zero, melts, f(0.0),
        f(fusion), f(cp), f(turns), f(hydraulic), zero,
    )  # fmt: skip
    march = MarchInput(weights, melts, np.full(sections, rate_s), wall, zone_c, extra, zero, cp, fusion,
                       float(rng.uniform(0.3, 0.45)), target)  # fmt: skip
    return parameters, march, float(pipes_l.sum())


def set_work(parts: ChannelParameters, march: MarchInput) -> tuple[ChannelParameters, MarchResult]:
    """The channel with the dissipation that brings the melt to its target."""
    result = fit(march)
    done = replace(
        parts,
        power_w=result.power_w,
        plastic_j_kg=np.array(result.plastic_j_kg),
        nominal_c=result.temperature_c,
        to_wall=march.to_wall,
    )
    return done, result
