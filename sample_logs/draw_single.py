"""Draws the numbers of an invented single-screw line: melt, dissipation, die, hopper, zones, drive."""

from __future__ import annotations

from typing import Any

import numpy as np

from sample_logs import draw_zones
from sample_logs.auxiliaries import AuxiliaryParameters
from sample_logs.die import DieParameters
from sample_logs.draw_channel import SingleDesign, draw_channel, set_work
from sample_logs.draw_twin import draw_noise
from sample_logs.drive import DriveParameters
from sample_logs.energy_march import fit, with_wall_heat
from sample_logs.hopper import HopperParameters
from sample_logs.melt import MeltParameters
from sample_logs.plant import Nominal
from sample_logs.single_screw import SingleParameters


def draw_parameters(rng: np.random.Generator, design: SingleDesign) -> tuple[SingleParameters, Nominal, dict[str, Any]]:
    """Every part of the line, the nominal set-points, and facts for the line file."""
    d = design
    b, sections = d.barrel_zones, d.barrel_zones + 3
    rate_s = d.rate_kg_h / 3600.0
    die_bar = float(rng.uniform(90, 200))
    limit_bar = float(np.round(die_bar * rng.uniform(1.8, 2.4), -1))
    zone_c = draw_zones.setpoints(rng, b, d.barrel_c, d.polymer)
    channel, march, downstream_l = draw_channel(rng, d, zone_c, die_bar)
    first = fit(march)
    zone, control, heater_a, to_wall = draw_zones.draw_zones(
        rng, d.diameter_mm, zone_c, channel.wall_w_k, first.temperature_c, b, first.work_w
    )
    channel, work = set_work(channel, with_wall_heat(march, to_wall))
    torque, no_load = float(rng.uniform(0.5, 0.75)), float(rng.uniform(0.05, 0.1))
    top = float(np.round(d.speed_rpm / rng.uniform(0.6, 0.85)))
    omega = d.speed_rpm * np.pi / 30.0
    rated_nm = float(work.work_w.sum()) / omega / (torque - no_load * (0.6 + 0.4 * d.speed_rpm / top))
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
        drive=DriveParameters(f(rated_nm), f(top), f(no_load), f(1.0), f(top / rng.uniform(15, 40)), f(0.0)),
        auxiliary=AuxiliaryParameters(f(rated_kw * 2.05), f(rng.uniform(0.25, 0.38)), heater_a,
                                      f(rng.uniform(0.03, 0.08)), f(rng.uniform(0, 3)), f(0.0), f(rng.uniform(6, 25)),
                                      f(rng.uniform(-6, 4))),
        noise=draw_noise(rng),
    )  # fmt: skip
    facts = {
        "sme_kwh_kg": torque * rated_nm * omega / 1000.0 / d.rate_kg_h,
        "rated_kw": rated_kw, "no_load_pct": no_load * 100.0, "limit_bar": limit_bar, "design": d,
        "measured": bool(rng.random() < 0.6), "downstream_l": downstream_l, "sections": sections, "intake_fill": 1.0,
        "temperature_c": work.temperature_c,
    }  # fmt: skip
    return parameters, Nominal(np.array([d.rate_kg_h]), zone_c, d.speed_rpm), facts
