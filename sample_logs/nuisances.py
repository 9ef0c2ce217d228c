"""Every nuisance by name, and shifts made of them, alone and combined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sample_logs.draw_scenario import start_up
from sample_logs.draw_zones import HALL_C
from sample_logs.nuisance import Nuisance
from sample_logs.nuisances_log import LOG
from sample_logs.nuisances_running import RUNNING
from sample_logs.plant import Plant
from sample_logs.scenario import Event, Scenario
from sample_logs.stacking import stack
from sample_logs.thermal import steady_heating

QUIET = Nuisance("nothing", "nothing but refills, loader cycles and noise", 0.0)
HEAT_UP = Nuisance("heat_up", "heat-up, ramp, soak and start", 14400.0, stops=True)
NUISANCES: dict[str, Nuisance] = {n.name: n for n in (QUIET, HEAT_UP, *RUNNING, *LOG)}
MOST_OF_LIMIT = 0.95
FIRST_S = 3600.0
"""The shift begins with an hour of nothing."""
LEAST_SOAK_S, SOAK_OF_HOLD = 900.0, 0.8
"""Soaked so long, and no longer than this part of what the material may stand hot, the creep of the last degrees in it:
the melt is hot then already."""


@dataclass(frozen=True)
class Happening:
    """One nuisance of a shift and when it began and was over."""

    name: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Shift:
    """plant: with what its nuisances make of its log. happenings: in time order; those of the log last all shift."""

    plant: Plant
    scenario: Scenario
    happenings: tuple[Happening, ...]


def able(plant: Plant, nuisance: Nuisance) -> bool:
    """Whether this plant can have it."""
    if plant.kind not in nuisance.lines:
        return False
    if nuisance.name == "refill_by_hand":
        return any(f in ("F2", "F3") and f != plant.facts.get("liquid", "") for f in plant.feeders)
    return nuisance.name != HEAT_UP.name or heats_by_itself(plant)


def heats_by_itself(plant: Plant) -> bool:
    """Whether every zone reaches its set-point with the screw standing, without the melt's heat."""
    zone: Any = stack([plant.parameters.zone])
    wanted = plant.nominal.zone_c[:, None]
    duty = steady_heating(zone, wanted, np.zeros_like(wanted), HALL_C)
    return bool((duty < MOST_OF_LIMIT * zone.limit_pct).all())


def draw_shift(
    rng: np.random.Generator, plant: Plant, names: Sequence[str], seconds: float, *, over_and_over: bool
) -> Shift:
    """A shift with these nuisances one after the other, at drawn times; over and over until the shift is full, or
    each once."""
    events: list[Event] = []
    happenings: list[Happening] = []
    logged = plant
    at = FIRST_S + float(rng.uniform(0, 1200))
    start = "steady"
    chosen = list(names)
    if HEAT_UP.name in chosen:
        events += start_up(rng, plant, cold=True, screw_at_s=soaked_s(plant))
        happenings.append(Happening(HEAT_UP.name, 0.0, HEAT_UP.lasts_s))
        start, at = "cold", HEAT_UP.lasts_s
        chosen.remove(HEAT_UP.name)
    for name in [n for n in chosen if NUISANCES[n].log is not None]:
        change = NUISANCES[name].log
        assert change is not None
        logged = change(rng, logged)
        happenings.append(Happening(name, 0.0, seconds))
    passing = [n for n in chosen if NUISANCES[n].log is None and n != QUIET.name]
    turn = 0
    while passing and (over_and_over or turn < len(passing)):
        nuisance = NUISANCES[passing[turn % len(passing)]]
        if at + nuisance.lasts_s > seconds:
            break
        events += nuisance.draw(rng, plant, at)
        happenings.append(Happening(nuisance.name, at, at + nuisance.lasts_s))
        at += nuisance.lasts_s + float(rng.uniform(300, 1800))
        turn += 1
    scenario = Scenario(events=tuple(sorted(events, key=lambda e: e.at_s)), start=start)  # type: ignore[arg-type]
    return Shift(logged, scenario, tuple(happenings))


def soaked_s(plant: Plant) -> float:
    """When a line heated from cold may turn: every zone at its set-point, and soaked."""
    zone = plant.parameters.zone
    rise = np.minimum((plant.nominal.zone_c - HALL_C) / (zone.gain_c_pct * zone.limit_pct), 0.95)
    hold_s = 60.0 * float(plant.recipe["recipe"]["hot_hold_min"])
    creeps_s = 1.5 * float(plant.parameters.control.ti_s.max())
    return float((-np.log1p(-rise) * zone.tau_s).max()) + max(creeps_s + LEAST_SOAK_S, SOAK_OF_HOLD * hold_s)


def second_recipe(plant: Plant, hotter_c: float, rate_part: float) -> dict:
    """The recipe that a planned change goes to: zones hotter, rate (or speed) lower, windows moved with them."""
    first = plant.recipe
    index = float(plant.parameters.melt.power_law_index)
    fed = bool(plant.feeders)
    moved = {"feeder_rate": rate_part, "line_rate": rate_part, "torque": rate_part**0.8 if fed else rate_part**index,
             "screw_speed": 1.0 if fed else rate_part, "melt_pressure": rate_part**index}  # fmt: skip
    table = dict(first["recipe"], name=first["recipe"]["name"] + " II", product=first["recipe"]["product"] + " II")
    table |= {"rate_kg_h": round(table["rate_kg_h"] * rate_part, 1)} if "rate_kg_h" in table else {}
    table |= {} if fed else {"screw_speed_rpm": table["screw_speed_rpm"] * rate_part}
    windows = []
    for window in first["window"]:
        part, add = moved.get(window["role"], 1.0), 0.0
        if window["role"] in ("zone_temperature", "melt_temperature") and window.get("at") != plant.zones[0]:
            add = hotter_c
        windows.append({k: v if isinstance(v, str) else round(v * part + add, 3) for k, v in window.items()})
    zones = {z: c + (hotter_c if z != plant.zones[0] else 0.0) for z, c in first["zones"].items()}
    return {**first, "recipe": table, "zones": zones, "window": windows}


__all__ = ["NUISANCES", "Happening", "Shift", "able", "draw_shift", "second_recipe"]
