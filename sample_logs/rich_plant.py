"""Makes a well-instrumented line of a drawn plant: liquid feeder, strand line, gearbox, water, mains, dryer."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np

from sample_logs.channels import place, rich_channels
from sample_logs.draw_plant import with_channels
from sample_logs.plant import Logger, Plant
from sample_logs.settle_twin import nominal_commands
from sample_logs.single_screw import SingleScrew
from sample_logs.stacking import stack
from sample_logs.surroundings import NOISE, Surroundings, draw_surroundings
from sample_logs.twin_screw import TwinScrew
from sample_logs.upsets import no_upsets

LIQUID_PART = 0.4
"""How many of the twin-screw lines dose their additive as a liquid; own choice."""
OIL_EFFECT = (0.35, 0.6)
"""ln of the consistency that the recipe's oil takes off: without it the melt is 1.4 to 1.8 times as stiff."""
RESOLUTION: dict[str, float] = {
    "zone_cooling": 0.1, "zone_auto": 1.0, "feeder_running": 1.0, "injection_pressure": 0.01, "vacuum_setpoint": 1.0,
    "haul_off_load": 0.1, "haul_off_speed": 0.1, "cutter_speed": 0.1, "bath_temperature": 0.1,
    "diverter_to_product": 1.0, "packed_total": 0.01, "scrap_total": 0.01, "gearbox_oil_pressure": 0.01,
    "gearbox_filter_drop": 0.01, "cooling_water_temperature": 0.1, "mains_voltage": 0.1, "dew_point": 0.1,
}  # fmt: skip


def enriched(rng: np.random.Generator, plant: Plant) -> Plant:
    """The plant with everything around it and all of its channels; a plain log is a part of them."""
    twin = plant.kind == "twin-screw"
    facts: dict[str, Any] = {**plant.facts, "parts": dict(plant.facts["parts"])}
    parameters = plant.parameters
    liquid = ""
    if twin and "F2" in plant.feeders and rng.random() < LIQUID_PART:
        liquid = "F2"
        effect = parameters.melt.share_effect.copy()
        effect[1] = -rng.uniform(*OIL_EFFECT) / float(facts["design"].shares[1])
        parameters = replace(parameters, melt=replace(parameters.melt, share_effect=effect))
        facts["parts"]["feeders"] = [
            {**f, "title": "oil O3", "material": "oil O3", "kind": "liquid", "effect_on_torque": "lowers"}
            if f["name"] == liquid
            else f
            for f in facts["parts"]["feeders"]
        ]
    if twin:
        gauge = "pump" if float(parameters.vent.gauge_on_pump) > 0.5 else "dome"
        facts["parts"]["vents"] = [{**v, "gauge": gauge} for v in facts["parts"]["vents"]]
    barrel_zones = len(plant.zones) - 3
    peak = plant.elements.index("reverse") if twin else barrel_zones - 2
    vent = plant.zones[barrel_zones - 2]
    barrel = (plant.zones[peak], vent) if twin else (vent,)
    positions = {"melt_pressure:P1": "before_screen", "melt_pressure:P2": "after_screen"}
    positions |= {f"melt_pressure:{zone}": "barrel" for zone in barrel}
    positions |= {f"melt_pressure:{vent}": "vent"} if twin else {}
    facts |= {
        "liquid": liquid, "positions": positions, "surroundings": draw_surroundings(rng, peak),
        "electrical_phases": tuple(f"L{i % 3 + 1}" for i in range(len(plant.zones))),
    }  # fmt: skip
    materials = plant.materials
    if liquid:
        materials = tuple("oil O3" if f == liquid else m for f, m in zip(plant.feeders, materials, strict=True))
    logger = Logger({**plant.logger.resolution, **RESOLUTION}, plant.logger.deadband, plant.logger.longest_s)
    channels = rich_channels(plant.channels, plant.zones, plant.feeders, liquid, barrel)
    whole = replace(plant, parameters=parameters, facts=facts, materials=materials, logger=logger)
    facts["steady"] = {**facts["steady"], **_steady(whole, channels)}
    return with_channels(whole, channels, plain=False)


def _steady(plant: Plant, channels: tuple[str, ...]) -> dict[str, float]:
    """What the added channels show in the steady state, free of noise."""
    core = TwinScrew if plant.kind == "twin-screw" else SingleScrew
    line = core(stack([plant.parameters]), copy.deepcopy(plant.settled), 1.0)
    command = nominal_commands(plant.nominal)
    upset = no_upsets(len(plant.nominal.feeder_kg_h), len(plant.zones), 1)
    around = Surroundings([plant.facts["surroundings"]], 1.0)
    quiet = {name: np.zeros((k, 1)) for name, (k, _) in NOISE.items()}
    readings = around.readings(line, command, upset, quiet)
    slots = dict(zip(plant.feeders, plant.facts["slots"], strict=True))
    found = {}
    for key in channels:
        name, index = place(key, plant.zones, slots)
        if name in readings:
            found[key] = float(np.atleast_2d(readings[name].T).T[index, 0])
    return found
