"""Nuisances between the line and its log: silence, false samples, coarse or late or borrowed readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ingest.roles import split_key
from sample_logs.nuisance import Nuisance, held
from sample_logs.plant import Plant
from sample_logs.scenario import Event

Events = tuple[Event, ...]
GROUPS = ("zones", "feeders", "drive")
COARSE_ROLES = ("zone_temperature", "melt_temperature", "melt_pressure", "torque", "screw_speed", "zone_output",
                "motor_current", "vacuum", "hopper_level", "throat_temperature")  # fmt: skip
DEADBAND = {
    "zone_temperature": 0.5, "zone_output": 1.5, "melt_pressure": 1.0, "melt_temperature": 0.5, "torque": 1.0,
    "screw_speed": 1.0, "feeder_weight": 0.02, "vacuum": 3.0, "hopper_level": 1.0, "motor_current": 1.0,
}  # fmt: skip


def _group(rng: np.random.Generator, plant: Plant) -> str:
    return str(rng.choice(GROUPS if plant.feeders else ("zones", "drive")))


def _gap(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (Event(at, "gap", duration_s=float(rng.uniform(5, 150))),)


def _zeros(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (Event(at, "zeros", _group(rng, plant), duration_s=float(rng.uniform(2, 8))),)


def _stale(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (Event(at, "stale", _group(rng, plant), duration_s=float(rng.uniform(15, 90))),)


def _burst(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    return (Event(at, "burst", duration_s=float(rng.uniform(30, 300))),)


def _spike(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    key = str(rng.choice(plant.channels))
    top = float(plant.facts["steady"].get(key, 100.0)) * 2.0 + 50.0
    return (Event(at, "spike", key, float(rng.choice([0.0, top]))),)


def _alias(rng: np.random.Generator, plant: Plant, at: float) -> Events:
    """Ripple at the screw's turns, sampled too slowly, beats at any period."""
    return (held("ripple", float(rng.uniform(0.01, 0.03)), at, 10800.0),)


def _integers(rng: np.random.Generator, plant: Plant) -> Plant:
    coarse = {**plant.logger.resolution, **dict.fromkeys(COARSE_ROLES, 1.0), "feeder_weight": 0.1}
    return replace(plant, logger=replace(plant.logger, resolution=coarse))


def _deadband(rng: np.random.Generator, plant: Plant) -> Plant:
    logger = replace(plant.logger, deadband=DEADBAND)
    sensors = [
        {**s, "hold_s": max(s.get("hold_s", 0.0), logger.longest_s + 30.0)} if s["role"] in DEADBAND else s
        for s in plant.line["sensor"]
    ]
    return replace(plant, logger=logger, line={**plant.line, "sensor": sensors})


def _borrowed(rng: np.random.Generator, plant: Plant) -> Plant:
    able = [k for k in plant.channels if split_key(k)[0] in ("zone_temperature", "feeder_rate", "screw_speed")]
    return replace(plant, facts={**plant.facts, "set_point_as_actual": (str(rng.choice(able)),)})


def _clocks(rng: np.random.Generator, plant: Plant) -> Plant:
    late = {group: float(rng.uniform(5, 60)) for group in GROUPS if rng.random() < 0.6}
    return replace(plant, facts={**plant.facts, "clock_late_s": late})


LOG: tuple[Nuisance, ...] = (
    Nuisance("communication_gap", "communication gap ('no data', never zero)", 900.0, _gap),
    Nuisance("restart_zeros", "controller restart writing zeros", 900.0, _zeros),
    Nuisance("controller_stale", "one controller stale while others live", 900.0, _stale),
    Nuisance("store_and_forward", "store-and-forward burst", 900.0, _burst),
    Nuisance("one_sample_spike", "one-sample spike", 300.0, _spike),
    Nuisance("aliasing", "aliasing", 11000.0, _alias),
    Nuisance("integer_tags", "integer tags", 0.0, log=_integers),
    Nuisance("logger_deadband", "logger deadband", 0.0, log=_deadband),
    Nuisance("set_point_as_actual", "an 'actual' tag that is the set-point", 0.0, log=_borrowed),
    Nuisance("clocks_apart", "controller clocks 5 to 60 s apart", 0.0, log=_clocks),
)
