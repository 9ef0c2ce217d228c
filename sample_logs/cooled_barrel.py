"""Lines whose barrel is run so cool that zones must take heat out: usual where the melt is to stay cold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sample_logs.draw_plant import finished
from sample_logs.plant import Plant
from sample_logs.settle_twin import nominal_commands, settle
from sample_logs.single_screw import SingleScrew
from sample_logs.stacking import join, row, stack
from sample_logs.twin_screw import TwinScrew

COOLED_PART = 0.5
LOWER_C = (35.0, 75.0)
ABOVE_SOFTENING_C = 12.0
FIRST_ZONE = 3
SETTLE_S = 3600.0


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
            lower[i] = replace(plant, nominal=replace(plant.nominal, zone_c=zone_c))
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
