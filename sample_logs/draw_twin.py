"""Draws the numbers of an invented twin-screw line: melt, dissipation, die, feeders, zones, drive, transmitters."""

from __future__ import annotations

from typing import Any

import numpy as np

from sample_logs import draw_zones
from sample_logs.auxiliaries import AuxiliaryParameters
from sample_logs.die import DieParameters
from sample_logs.draw_barrel import TwinDesign, draw_barrel, set_work
from sample_logs.draw_feeders import draw_feeders
from sample_logs.drive import DriveParameters
from sample_logs.energy_march import fit, with_wall_heat
from sample_logs.materials import ADDITIVES, FILLER, STABILISERS
from sample_logs.melt import MeltParameters
from sample_logs.plant import Nominal
from sample_logs.sensor_noise import SensorNoise
from sample_logs.throat import ThroatParameters
from sample_logs.twin_screw import TwinParameters
from sample_logs.vent import VentParameters


def draw_parameters(rng: np.random.Generator, design: TwinDesign) -> tuple[TwinParameters, Nominal, dict[str, Any]]:
    """Every part of the line, sized to the design; the nominal set-points; and facts for the line file."""
    d = design
    sections = d.barrel_zones + 3
    feeder_kg_h = d.shares * d.rate_kg_h
    zone_c = draw_zones.setpoints(rng, d.barrel_zones, d.barrel_c, d.polymer)
    barrel_, march = draw_barrel(rng, d, zone_c)
    die_bar = float(rng.uniform(35, 95))
    first = fit(march)
    zone, control, heater_a, to_wall = draw_zones.draw_zones(
        rng, d.outer_mm, zone_c, march.exchange_w_k, first.temperature_c, d.barrel_zones, first.work_w
    )
    barrel_, shaft_w = set_work(barrel_, with_wall_heat(march, to_wall), die_bar, d.barrel_zones - 1)
    screen_part = float(rng.uniform(0.12, 0.35))
    limit_bar = float(np.round(max(die_bar * rng.uniform(2.0, 3.0), 140.0), -1))
    torque = float(rng.uniform(0.52, 0.86))
    no_load = float(rng.uniform(0.05, 0.10))
    top = float(np.round(d.speed_rpm / rng.uniform(0.55, 0.85), -1))
    omega = d.speed_rpm * np.pi / 30.0
    rated_nm = shaft_w / omega / (torque - no_load * (0.6 + 0.4 * d.speed_rpm / top))
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
        drive=DriveParameters(
            f(rated_nm), f(top), f(no_load), f(1.0), f(top / rng.uniform(15, 40)), f(float(rng.integers(2)))
        ),
        vent=VentParameters(f(float(rng.choice([40.0, 60.0, 80.0, 120.0]))), f(float(rng.integers(2)))),
        auxiliary=AuxiliaryParameters(
            f(rated_kw * 2.05), f(rng.uniform(0.25, 0.38)), heater_a, f(rng.uniform(0.03, 0.08)),
            f(rng.uniform(0, 3)), f(side_s * 3600.0), f(rng.uniform(6, 25)), f(rng.uniform(-6, 4)),
        ),
        noise=draw_noise(rng),
    )  # fmt: skip
    facts = {
        "rated_kw": rated_kw, "no_load_pct": no_load * 100.0, "limit_bar": limit_bar, "design": d,
        "sme_kwh_kg": torque * rated_nm * omega / 1000.0 / d.rate_kg_h, "intake_fill": intake_fill,
        "sections": sections,
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
