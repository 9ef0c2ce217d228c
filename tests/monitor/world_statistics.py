"""Worlds for the statistics: a line with a reference that stops running as it used to, with nothing out of a window."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

import numpy as np

from monitor.reference.model import Reference
from monitor.reference.runs import learn_from
from tests.monitor.scripted_world import Script, World, scripted_line, scripted_recipe

CADENCE_S = 10.0


@dataclass(frozen=True, eq=False)
class WorldWithReference(World):
    """A world whose monitor is given a reference."""

    reference: Reference


def waves(n: int, minutes: float, rng: np.random.Generator) -> np.ndarray:
    """A slow wander of spread 1 with this autocorrelation time, one value a cell."""
    phi = float(np.exp(-CADENCE_S / (60 * minutes)))
    now, out = float(rng.normal()), np.empty(n)
    for i, shock in enumerate(rng.normal(0, np.sqrt(1 - phi * phi), n)):
        now = phi * now + shock
        out[i] = now
    return out


def linked(seconds: int, seed: int) -> Script:
    """Torque, pressure and melt temperature swing together with the melt's viscosity; zone duties with the hall."""
    s = Script(scripted_line(cadence_s=CADENCE_S), seconds, seed)
    viscosity, hall = waves(s.n, 4, s.rng), waves(s.n, 6, s.rng)
    s.x["torque"] += 0.9 * viscosity
    s.x["melt_pressure:P1"] += 1.2 * viscosity
    s.x["melt_temperature:MT1"] -= 0.5 * viscosity
    for zone in ("Z2", "Z3", "ADAPTER", "DIE"):
        s.x[f"zone_output:{zone}"] -= 1.5 * hall
    return s


@functools.cache
def reference() -> Reference:
    """Learned from sixteen quiet hours."""
    world = linked(16 * 3600, 31).world(scripted_recipe())
    return learn_from([("quiet hours", [world.block])], world.line, world.recipes[0])


def out_of_pattern_twin() -> WorldWithReference:
    """Three hours: from 5400 s on pressure and torque part ways by amounts that are usual for each alone."""
    s = linked(3 * 3600, 32)
    part = s.span(5400, 9000)
    s.x["melt_pressure:P1"][part] += 3.5
    s.x["torque"][part] -= 2.2
    world = s.world(scripted_recipe())
    return WorldWithReference(world.line, world.recipes, replace(world.block, notes=()), reference())
