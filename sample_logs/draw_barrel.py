"""Draws size, material and recipe of a twin-screw line and sizes its screw sections to them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sample_logs.barrel import BarrelParameters
from sample_logs.energy_march import MarchInput, fit
from sample_logs.materials import FILLER_CP_J_KG_K, FILLER_DENSITY, POLYMERS, Polymer
from sample_logs.screw_geometry import free_area_m2

ELEMENTS = {
    8: ("conveying", "conveying", "kneading", "conveying", "kneading", "reverse", "conveying", "conveying"),
    10: ("conveying", "conveying", "kneading", "kneading", "conveying", "kneading", "conveying", "reverse",
         "conveying", "conveying"),
}  # fmt: skip
"""Screw set-up by number of barrel zones; the last zone builds the pressure, a vent stands over the one before."""
SIDE_ZONE = {8: 3, 10: 4}
CONVEYS = {"conveying": 0.5, "kneading": 0.27, "reverse": 0.40}
"""Part of the displaced volume an element moves (about 0.5 for two-lobed conveying; value from memory)."""
WORK = {"conveying": 1.0, "kneading": 3.0, "reverse": 4.0}
SOLID_WALL = 0.1
"""Heat passed to the wall by pellets over that of melt; own choice."""
ZONE_DIAMETERS = 4.0


@dataclass(frozen=True)
class TwinDesign:
    """What was drawn first, and follows into every part."""

    outer_mm: float
    ratio: float
    barrel_zones: int
    speed_rpm: float
    polymer: Polymer
    rate_kg_h: float
    shares: np.ndarray
    index: float
    side_zone: int
    melt_density: float
    bulk_density: float
    cp: float
    fusion: float
    barrel_c: float


def draw_design(rng: np.random.Generator) -> TwinDesign:
    """Size, material, recipe and rate."""
    outer = float(rng.choice([27.0, 35.0, 40.0, 50.0, 58.0, 70.0]))
    ratio = float(rng.uniform(1.5, 1.66))
    zones = int(rng.choice([8, 10, 10]))
    speed = float(np.round(rng.uniform(260, 560) * (40.0 / outer) ** 0.25 / 10.0) * 10.0)
    polymer = POLYMERS[int(rng.integers(len(POLYMERS)))]
    filler = float(rng.choice([0.0, rng.uniform(0.08, 0.32)], p=[0.2, 0.8]))
    additive, stabiliser = float(rng.uniform(0.012, 0.05)), float(rng.uniform(0.004, 0.015))
    filler, additive, stabiliser = round(filler, 3), round(additive, 3), round(stabiliser, 4)
    shares = np.array([1.0 - filler - additive - stabiliser, additive, stabiliser, filler])
    density = 1.0 / ((1.0 - filler) / polymer.melt_density + filler / FILLER_DENSITY)
    area = free_area_m2(outer, ratio)
    fill = float(rng.uniform(0.24, 0.4))
    rate = fill * density * CONVEYS["conveying"] * speed / 60.0 * area * outer / 1000.0 * 3600.0
    rate = float(np.round(rate, -1 if rate > 100 else 0))
    cp = (1.0 - filler) * polymer.cp_j_kg_k + filler * FILLER_CP_J_KG_K
    return TwinDesign(
        outer, ratio, zones, speed, polymer, rate, shares, float(rng.uniform(0.25, 0.6)), SIDE_ZONE[zones],
        density, polymer.bulk_density, cp, polymer.fusion_j_kg * (1.0 - filler),
        float(np.round(rng.uniform(*polymer.barrel_c) / 5.0) * 5.0),
    )  # fmt: skip


def draw_barrel(rng: np.random.Generator, d: TwinDesign, zone_c: np.ndarray) -> tuple[BarrelParameters, MarchInput]:
    """Sections sized to the design, their dissipation still to be set (`set_work`), and what sets it."""
    elements = ELEMENTS[d.barrel_zones]
    b, sections = d.barrel_zones, d.barrel_zones + 3
    area, outer = free_area_m2(d.outer_mm, d.ratio), d.outer_mm / 1000.0
    length = ZONE_DIAMETERS * outer
    first_melt = 2
    rate = d.rate_kg_h / 3600.0
    side, filler = d.side_zone, float(d.shares[3])
    flow = np.array([rate * (1.0 - filler if s < side else 1.0) for s in range(sections)])
    density = np.array([d.bulk_density if s < first_melt else d.melt_density for s in range(sections)])
    capacity = density * area * length
    downstream_l = rng.uniform(0.25, 0.6) * (d.outer_mm / 40.0) ** 3 * np.array([0.5, 0.7, 1.0])
    capacity[b:] = d.melt_density * downstream_l / 1000.0
    lead = np.array([1.5 * outer if s < 1 else outer for s in range(b)])
    conveys = np.array([CONVEYS[e] for e in elements])
    transit = np.append(length / (conveys * lead), [1.0, 1.0, 1.0])
    hold = np.array([0.3 * capacity[s] if e == "reverse" else 0.0 for s, e in enumerate(elements)] + [0.0] * 3)
    drain = np.full(sections, 90.0)
    nominal = hold + flow * transit / (d.speed_rpm / 60.0)
    nominal[b:] = capacity[b:]
    nominal[b - 1] = capacity[b - 1] * rng.uniform(0.28, 0.5)
    melts = np.zeros(sections)
    melts[first_melt] = 0.7 if b == 10 else 0.8
    melts[first_melt + 1] = 1.0 - melts[first_melt]
    weights = np.array([WORK[e] * (0.03 if s < first_melt else 1.0) for s, e in enumerate(elements)] + [0.0] * 3)
    weights[b - 1] = 3.0
    weights = weights * nominal / d.melt_density
    wall = rng.uniform(280, 450) * 1.6 * np.pi * outer * length * np.ones(sections)
    wall[:first_melt] *= SOLID_WALL
    wall[b:] = rng.uniform(200, 400) * np.cbrt(downstream_l / 1000.0) ** 2 * 5.0
    wet = np.minimum(nominal / capacity, 1.0)
    plastic_part = float(rng.uniform(0.58, 0.72))
    target = min(d.barrel_c + float(rng.uniform(8, 36)), d.polymer.ceiling_c - 12.0)
    share = _local_shares(d, sections)
    enters = np.zeros((sections, 4))
    enters[0, :3] = 1.0
    enters[side, 3] = 1.0
    parts = BarrelParameters(
        capacity, transit, hold, drain, wall, weights, nominal, np.full(sections, target), melts, np.array(0.0),
        np.array(d.fusion), np.array(d.cp), share, enters, np.array(d.speed_rpm / 60.0), np.array(0.0),
        np.zeros(sections),
    )  # fmt: skip
    march = MarchInput(weights, melts, flow, wall * wet, zone_c, np.zeros(sections), np.zeros(sections), d.cp, d.fusion,
                       plastic_part, target)  # fmt: skip
    return parts, march


def set_work(parts: BarrelParameters, march: MarchInput, die_bar: float, pump: int) -> tuple[BarrelParameters, float]:
    """The barrel with the dissipation that brings the melt to its target, and the screws' power in W."""
    result = fit(march)
    done = replace(
        parts,
        power_w=result.power_w,
        plastic_j_kg=np.array(result.plastic_j_kg),
        nominal_c=result.temperature_c,
        to_wall=march.to_wall,
        pump_bar_per_kg=np.array(die_bar / parts.nominal_kg[pump]),
    )
    return done, float(result.work_w.sum())


def _local_shares(d: TwinDesign, sections: int) -> np.ndarray:
    shares = np.repeat(d.shares[None], sections, axis=0)
    before = d.shares.copy()
    before[3] = 0.0
    shares[: d.side_zone] = before / before.sum()
    return shares
