"""Draws the numbers of an invented single-screw line, flood-fed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from sample_logs import draw_zones
from sample_logs.auxiliaries import AuxiliaryParameters
from sample_logs.channel import ChannelParameters
from sample_logs.die import DieParameters
from sample_logs.draw_twin import draw_noise
from sample_logs.drive import DriveParameters
from sample_logs.hopper import HopperParameters
from sample_logs.materials import POLYMERS, Polymer
from sample_logs.melt import MeltParameters
from sample_logs.plant import Nominal
from sample_logs.single_screw import SingleParameters

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
    """Size, material, speed; rate from drag flow (FACTS C1) less the back flow."""
    diameter = float(rng.choice([45.0, 60.0, 75.0, 90.0]))
    zones = int(rng.choice([5, 6]))
    depth = float(rng.uniform(0.045, 0.06)) * diameter
    speed = float(np.round(rng.uniform(55, 110)))
    polymer = POLYMERS[int(rng.choice([0, 1, 4]))]
    back = float(rng.uniform(0.08, 0.25))
    phi = math.radians(HELIX_DEG)
    d, h = diameter / 1000.0, depth / 1000.0
    drag = 0.5 * math.pi**2 * d**2 * (speed / 60.0) * h * math.sin(phi) * math.cos(phi)
    rate = drag * polymer.melt_density * (1.0 - back) * 3600.0
    return SingleDesign(diameter, float(rng.choice([25.0, 28.0, 30.0])), depth, zones, speed, polymer,
                        float(rng.uniform(0.25, 0.6)), back, rate,
                        float(np.round(rng.uniform(*polymer.barrel_c) / 5.0) * 5.0))  # fmt: skip


def draw_parameters(rng: np.random.Generator, design: SingleDesign) -> tuple[SingleParameters, Nominal, dict[str, Any]]:
    """Every part of the line, the nominal set-points, and facts for the line file."""
    d = design
    b, sections = d.barrel_zones, d.barrel_zones + 3
    rate_s, turns = d.rate_kg_h / 3600.0, d.speed_rpm / 60.0
    die_bar = float(rng.uniform(90, 200))
    limit_bar = float(np.round(die_bar * rng.uniform(1.8, 2.4), -1))
    zone_c = draw_zones.setpoints(rng, b, d.barrel_c, d.polymer)
    channel, march, downstream_l = _channel(rng, d, zone_c, die_bar, rate_s, turns)
    torque, no_load = float(rng.uniform(0.5, 0.75)), float(rng.uniform(0.05, 0.1))
    top = float(np.round(d.speed_rpm / rng.uniform(0.6, 0.85)))
    omega = d.speed_rpm * np.pi / 30.0
    rated_nm = march["screw_w"] / omega / (torque - no_load * (0.6 + 0.4 * d.speed_rpm / top))
    zone, control, heater_a = draw_zones.draw_zones(
        rng, d.diameter_mm, zone_c, channel.wall_w_k, march["temperature_c"], b
    )
    screen_part = float(rng.uniform(0.12, 0.35))
    f = np.array
    capacity = d.rate_kg_h * float(rng.uniform(0.15, 0.5))
    rated_kw = rated_nm * top * np.pi / 30e3
    parameters = SingleParameters(
        hopper=HopperParameters(f(capacity), f(capacity * rng.uniform(0.4, 0.55)), f(capacity * rng.uniform(0.75, 0.9)),
                                f(rate_s * rng.uniform(6, 15)), f(rng.uniform(12, 25)),
                                f(capacity * rng.uniform(3e-5, 1.2e-4))),
        channel=channel,
        melt=MeltParameters(f(d.index), f(rng.uniform(*d.polymer.activation_j_mol)), f(d.polymer.soften_c - 12.0),
                            np.zeros(1)),
        die=DieParameters(f(die_bar * (1 - screen_part)), f(die_bar * screen_part), f(rate_s),
                          f(rng.uniform(0.002, 0.012) / d.rate_kg_h), f(limit_bar * 1.1)),
        zone=zone,
        control=control,
        drive=DriveParameters(f(rated_nm), f(top), f(no_load), f(1.0), f(top / rng.uniform(15, 40))),
        auxiliary=AuxiliaryParameters(f(rated_kw * 2.05), f(rng.uniform(0.25, 0.38)), heater_a,
                                      f(rng.uniform(0.03, 0.08)), f(rng.uniform(0, 3)), f(0.0), f(rng.uniform(6, 25)),
                                      f(rng.uniform(-6, 4))),
        noise=draw_noise(rng),
    )  # fmt: skip
    facts = {
        "rated_kw": rated_kw, "no_load_pct": no_load * 100.0, "limit_bar": limit_bar, "design": d,
        "measured": bool(rng.random() < 0.6), "downstream_l": downstream_l, "sections": sections, "intake_fill": 1.0,
        "temperature_c": march["temperature_c"],
    }  # fmt: skip
    return parameters, Nominal(np.array([d.rate_kg_h]), zone_c, d.speed_rpm), facts


def _channel(
    rng: np.random.Generator, d: SingleDesign, zone_c: np.ndarray, die_bar: float, rate_s: float, turns: float
) -> tuple[ChannelParameters, dict[str, Any], float]:
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
    wall[b:] = rng.uniform(100, 200) * np.cbrt(pipes_l / 1000.0) ** 2 * 5.0
    target = min(d.barrel_c + float(rng.uniform(4, 22)), d.polymer.ceiling_c - 12.0)
    cp, fusion = d.polymer.cp_j_kg_k, d.polymer.fusion_j_kg
    low, high, plastic_part = 0.03 * 3.6e6, 0.5 * 3.6e6, float(rng.uniform(0.3, 0.45))
    hydraulic = 1e5 / d.polymer.melt_density
    temperature, middle = np.zeros(sections), 0.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        power = weights / weights.sum() * middle * (1.0 - plastic_part) * rate_s
        before = 26.0
        for s in range(sections):
            extra = hydraulic * die_bar * metering_drag * turns if s == b - 1 else 0.0
            heat = power[s] + extra + (middle * plastic_part - fusion) * melts[s] * rate_s + wall[s] * zone_c[s]
            before = (heat + cp * rate_s * before) / (cp * rate_s + wall[s])
            temperature[s] = before
        low, high = (middle, high) if before < target else (low, middle)
    nominal_c = temperature.copy()
    f = np.array
    parameters = ChannelParameters(
        capacity, drag, f(d.back_part * metering_drag * turns / die_bar),
        f(metering_drag * turns / rng.uniform(8, 30)), wall, power, nominal_c, melts, f(middle * plastic_part),
        f(fusion), f(cp), f(turns), f(hydraulic),
    )  # fmt: skip
    screw_w = middle * rate_s + hydraulic * die_bar * metering_drag * turns
    return parameters, {"temperature_c": temperature, "screw_w": screw_w}, float(pipes_l.sum())
