"""Draws the numbers of an invented twin-screw line: geometry, melt, dissipation, die, feeders, zones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sample_logs import draw_zones
from sample_logs.auxiliaries import AuxiliaryParameters
from sample_logs.barrel import BarrelParameters
from sample_logs.die import DieParameters
from sample_logs.draw_feeders import draw_feeders
from sample_logs.drive import DriveParameters
from sample_logs.materials import ADDITIVES, FILLER, FILLER_CP_J_KG_K, FILLER_DENSITY, POLYMERS, STABILISERS, Polymer
from sample_logs.melt import MeltParameters
from sample_logs.plant import Nominal
from sample_logs.screw_geometry import free_area_m2
from sample_logs.sensor_noise import SensorNoise
from sample_logs.throat import ThroatParameters
from sample_logs.twin_screw import TwinParameters
from sample_logs.vent import VentParameters

ELEMENTS = {
    8: ("conveying", "conveying", "kneading", "conveying", "kneading", "reverse", "conveying", "conveying"),
    10: ("conveying", "conveying", "kneading", "kneading", "conveying", "kneading", "conveying", "reverse",
         "conveying", "conveying"),
}  # fmt: skip
"""Screw set-up by number of barrel zones; the last zone builds the pressure, a vent stands over the one before."""
SIDE_ZONE = {8: 3, 10: 4}
CONVEYS = {"conveying": 0.5, "kneading": 0.27, "reverse": 0.40}
"""Part of the displaced volume an element moves (FACTS C3: about 0.5 for two-lobed conveying)."""
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


def draw_parameters(rng: np.random.Generator, design: TwinDesign) -> tuple[TwinParameters, Nominal, dict[str, Any]]:
    """Every part of the line, sized to the design; the nominal set-points; and facts for the line file."""
    d = design
    sections = d.barrel_zones + 3
    feeder_kg_h = d.shares * d.rate_kg_h
    zone_c = draw_zones.setpoints(rng, d.barrel_zones, d.barrel_c, d.polymer)
    barrel_, die_bar, march = _barrel(rng, d, zone_c)
    screen_part = float(rng.uniform(0.12, 0.35))
    limit_bar = float(np.round(max(die_bar * rng.uniform(2.0, 3.0), 140.0), -1))
    torque = float(rng.uniform(0.5, 0.78))
    no_load = float(rng.uniform(0.05, 0.10))
    top = float(np.round(d.speed_rpm / rng.uniform(0.55, 0.85), -1))
    shaft_w = march["screw_w"]
    omega = d.speed_rpm * np.pi / 30.0
    rated_nm = shaft_w / omega / (torque - no_load * (0.6 + 0.4 * d.speed_rpm / top))
    zone, control, heater_a = draw_zones.draw_zones(
        rng, d.outer_mm, zone_c, barrel_.wall_w_k * march["wet"], march["temperature_c"], d.barrel_zones
    )
    rate_s = d.rate_kg_h / 3600.0
    feeder = draw_feeders(rng, feeder_kg_h)
    turns = d.speed_rpm / 60.0
    main_s, side_s = rate_s * (1.0 - d.shares[3]), rate_s * d.shares[3]
    intake_fill = float(rng.uniform(0.45, 0.8))
    f = np.array
    rated_kw = rated_nm * top * np.pi / 30e3
    parameters = TwinParameters(
        feeder=feeder,
        throat=ThroatParameters(
            f(main_s / intake_fill / turns), f(max(side_s, 0.01) / 0.5 / turns), f(main_s * rng.uniform(40, 120)),
            f(max(side_s, 0.005) * rng.uniform(30, 90)),
        ),
        barrel=barrel_,
        melt=MeltParameters(
            f(d.index), f(rng.uniform(*d.polymer.activation_j_mol)), f(d.polymer.soften_c - 12.0),
            np.array([0.0, rng.uniform(-3.0, -0.5), rng.uniform(-2.0, 0.0), rng.uniform(1.2, 2.2)]),
        ),
        die=DieParameters(
            f(die_bar * (1 - screen_part)), f(die_bar * screen_part), f(rate_s),
            f(rng.uniform(0.002, 0.012) / d.rate_kg_h), f(limit_bar * 1.1),
        ),
        zone=zone,
        control=control,
        drive=DriveParameters(f(rated_nm), f(top), f(no_load), f(1.0), f(top / rng.uniform(15, 40))),
        vent=VentParameters(f(float(rng.choice([40.0, 60.0, 80.0, 120.0]))), f(float(rng.integers(2)))),
        auxiliary=AuxiliaryParameters(
            f(rated_kw * 2.05), f(rng.uniform(0.25, 0.38)), heater_a, f(rng.uniform(0.03, 0.08)),
            f(rng.uniform(0, 3)), f(side_s * 3600.0), f(rng.uniform(6, 25)), f(rng.uniform(-6, 4)),
        ),
        noise=draw_noise(rng),
    )  # fmt: skip
    facts = {
        "rated_kw": rated_kw, "no_load_pct": no_load * 100.0, "limit_bar": limit_bar, "design": d,
        "sme_kwh_kg": shaft_w / d.rate_kg_h / 1000.0, "intake_fill": intake_fill, "sections": sections,
        "feeder_materials": (
            d.polymer.name, ADDITIVES[int(rng.integers(3))], STABILISERS[int(rng.integers(2))], FILLER
        ),
    }  # fmt: skip
    return parameters, Nominal(feeder_kg_h, zone_c, d.speed_rpm), facts


def draw_noise(rng: np.random.Generator) -> SensorNoise:
    """Scatter of the transmitters, industrial grade."""
    u, f = rng.uniform, np.array
    return SensorNoise(
        melt_ln=f(u(0.002, 0.007)), torque_rel=f(u(0.006, 0.02)), speed_rel=f(u(0.0003, 0.0015)),
        pressure_rel=f(u(0.004, 0.015)), pressure_bar=f(u(0.05, 0.3)), melt_temperature_c=f(u(0.15, 0.5)),
        vacuum_mbar=f(u(1.0, 4.0)), current_rel=f(u(0.005, 0.02)), stuffer_rel=f(u(0.02, 0.05)),
        level_pct=f(u(0.2, 0.8)), hall_c=f(u(0.3, 1.0)),
    )  # fmt: skip


def _barrel(
    rng: np.random.Generator, d: TwinDesign, zone_c: np.ndarray
) -> tuple[BarrelParameters, float, dict[str, Any]]:
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
    wall[b:] = rng.uniform(100, 200) * np.cbrt(downstream_l / 1000.0) ** 2 * 5.0
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
    )  # fmt: skip
    parts, march = _fit_power(parts, d, zone_c, flow, wet, plastic_part, target)
    die_bar = float(rng.uniform(35, 95))
    parts = replace(parts, pump_bar_per_kg=np.array(die_bar / nominal[b - 1]))
    return parts, die_bar, {**march, "wet": wet}


def _local_shares(d: TwinDesign, sections: int) -> np.ndarray:
    shares = np.repeat(d.shares[None], sections, axis=0)
    before = d.shares.copy()
    before[3] = 0.0
    shares[: d.side_zone] = before / before.sum()
    return shares


def _fit_power(
    parts: BarrelParameters,
    d: TwinDesign,
    zone_c: np.ndarray,
    flow: np.ndarray,
    wet: np.ndarray,
    plastic_part: float,
    target: float,
) -> tuple[BarrelParameters, dict[str, Any]]:
    """Scales dissipation so that the melt leaves at `target` in the recipe's steady state (energy march)."""
    low, high = 0.05 * 3.6e6, 0.45 * 3.6e6
    weights = parts.power_w / parts.power_w.sum()
    total = flow[-1]
    temperature = np.zeros_like(flow)
    for _ in range(60):
        middle = 0.5 * (low + high)
        power = weights * middle * (1.0 - plastic_part) * total
        plastic = middle * plastic_part * total / (parts.melts * flow).sum()
        before, moving = 26.0, 0.0
        for s in range(len(flow)):
            fed = flow[s] - moving
            melted = parts.melts[s] * flow[s]
            exchange = parts.wall_w_k[s] * wet[s]
            heat = power[s] + (plastic - d.fusion) * melted + exchange * zone_c[s]
            heat += d.cp * (moving * before + fed * 26.0)
            before = heat / (d.cp * flow[s] + exchange)
            moving = flow[s]
            temperature[s] = before
        low, high = (middle, high) if before < target else (low, middle)
    march = {"temperature_c": temperature.copy(), "screw_w": middle * total}
    nominal_c = temperature.copy()
    return replace(parts, power_w=power, plastic_j_kg=np.array(plastic), nominal_c=nominal_c), march
