"""Lines whose barrel is run so cool that zones must take heat out: usual where the melt is to stay cold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sample_logs import thermal
from sample_logs.draw_plant import finished
from sample_logs.plant import Plant
from sample_logs.settle_twin import nominal_commands, settle
from sample_logs.single_screw import SingleScrew
from sample_logs.stacking import join, row, stack
from sample_logs.twin_screw import TwinScrew

COOLED_PART = 0.5
LOWER_C = (0.0, 20.0)
SHEARED, MOST_TO_WALL = 2, 0.45
COOLING_PCT = (8.0, 20.0)
"""Zones whose wall takes so much of the screw's work that it must be cooled by so much; own choice."""
ABOVE_SOFTENING_C = 12.0
FIRST_ZONE = 3
SETTLE_S = 7.0 * thermal.SLOTS
"""Whole turns of the dead-time lines, so that these plants stay in step with those that were not settled again."""


def cooled_barrels(rngs: Sequence[np.random.Generator], plants: Sequence[Plant]) -> list[Plant]:
    """The plants, some with their barrel zones behind the melting set lower, where the line can run so."""
    found = list(plants)
    groups: dict[tuple[str, int], list[int]] = {}
    lower: dict[int, Plant] = {}
    for i, (rng, plant) in enumerate(zip(rngs, plants, strict=True)):
        if rng.random() < COOLED_PART:
            zone_c, last = plant.nominal.zone_c.copy(), len(plant.zones) - 3
            wanted = zone_c[FIRST_ZONE:last] - np.round(rng.uniform(*LOWER_C) / 5.0) * 5.0
            zone_c[FIRST_ZONE:last] = np.maximum(wanted, plant.facts["soften_c"] + ABOVE_SOFTENING_C)
            warmed = _sheared(rng, plant)
            lower[i] = replace(warmed, nominal=replace(plant.nominal, zone_c=zone_c))
            groups.setdefault((plant.kind, len(plant.zones)), []).append(i)
    for (kind, _), members in groups.items():
        ours = [lower[i] for i in members]
        commands = join([nominal_commands(plant.nominal) for plant in ours])
        core = TwinScrew if kind == "twin-screw" else SingleScrew
        line = settle(stack([p.parameters for p in ours]), join([p.settled for p in ours]), commands, SETTLE_S, core)
        for run, (i, plant) in enumerate(zip(members, ours, strict=True)):
            own = core(stack([plant.parameters]), row(line.state, run), 1.0)
            done = finished(replace(plant, settled=own.state), own)
            found[i] = done or found[i]
    return found


def _sheared(rng: np.random.Generator, plant: Plant) -> Plant:
    """The plant with more of the work of its hardest-working barrel sections going straight into the wall."""
    twin = plant.kind == "twin-screw"
    p, zone = plant.parameters, plant.parameters.zone
    screw = p.barrel if twin else p.channel
    work = screw.power_w + screw.plastic_j_kg * screw.melts * float(p.die.rate_kg_s)
    last = len(plant.zones) - 3
    hardest = 2 + np.argsort(-work[2:last])[:SHEARED]
    to_wall = screw.to_wall.copy()
    for z in hardest:
        heated = plant.facts["steady"][f"zone_output:{plant.zones[z]}"]
        cooled = float(rng.uniform(*COOLING_PCT) * zone.cool_gain[z])
        wanted_w = (max(heated, 0.0) + cooled) * float(zone.gain_c_pct[z] * zone.loss_w_k[z])
        to_wall[z] = min(to_wall[z] + wanted_w / float(work[z]), MOST_TO_WALL)
    screw = replace(screw, to_wall=to_wall)
    return replace(plant, parameters=replace(p, barrel=screw) if twin else replace(p, channel=screw))
