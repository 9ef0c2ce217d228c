"""Draws whole invented plants: numbers, steady state, log, line file and recipe file that fit together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from sample_logs import draw_barrel, draw_channel, draw_single, draw_twin
from sample_logs.channels import place, single_channels, twin_channels
from sample_logs.draw_logger import draw_logger, hold_times
from sample_logs.line_file import line_file
from sample_logs.plant import Kind, Logger, Nominal, Plant
from sample_logs.recipe_file import recipe_file, windows
from sample_logs.settle_single import first_guess as first_guess_single
from sample_logs.settle_twin import first_guess, nominal_commands, settle
from sample_logs.single_screw import SingleScrew
from sample_logs.stacking import join, row, stack
from sample_logs.twin_screw import TwinScrew
from sample_logs.upsets import no_upsets

CADENCES_S = (0.5, 1.0, 1.0, 1.0, 2.0, 5.0, 10.0)
SETTLE_S = 1200.0
SME_KWH_KG = (0.12, 0.30)
FEEDERS = ("F1", "F2", "F3", "F4")
TRIES = 40
PIPES = ("ADAPTER", "SCREEN", "DIE")


def draw_plant(
    rng: np.random.Generator,
    kind: Kind,
    *,
    plain: bool | None = None,
    cadence_s: float | None = None,
    name: str = "",
) -> Plant:
    """A random plant of one kind. plain: only the plain set of channels (None = one in two).

    Draws again when the drawn line could not run (zone at its limit, specific energy out of 0.12..0.30 kWh/kg).
    """
    plain = bool(rng.random() < 0.5) if plain is None else plain
    cadence = float(rng.choice(CADENCES_S)) if cadence_s is None else cadence_s
    return _until_it_runs([rng], kind, [plain], [cadence], [name])[0]


def draw_plants(rngs: Sequence[np.random.Generator], kind: Kind, *, plain: bool = False) -> list[Plant]:
    """One plant of a kind from each generator, the same as `draw_plant(rng, kind, plain=plain)` gives, brought to
    their steady states side by side: many cost little more than one."""
    return _until_it_runs(
        rngs, kind, [plain] * len(rngs), [float(rng.choice(CADENCES_S)) for rng in rngs], [""] * len(rngs)
    )


def _until_it_runs(
    rngs: Sequence[np.random.Generator],
    kind: Kind,
    plain: Sequence[bool],
    cadence_s: Sequence[float],
    names: Sequence[str],
) -> list[Plant]:
    found: list[Plant | None] = [None] * len(rngs)
    draw = _twin if kind == "twin-screw" else _single
    for _ in range(TRIES):
        drawn = {i: draw(rngs[i], plain[i], cadence_s[i], names[i]) for i, plant in enumerate(found) if plant is None}
        waiting = {i: plant for i, plant in drawn.items() if plant is not None}
        for i, line in _settled(waiting).items():
            plant = replace(waiting[i], settled=line.state)
            parts = _twin_parts if kind == "twin-screw" else _single_parts
            found[i] = _finish(plant, line, parts(plant, plant.facts["design"]))
        if all(plant is not None for plant in found):
            return [plant for plant in found if plant is not None]
    raise RuntimeError(f"no {kind} plant that can run in {TRIES} draws")


def _settled(plants: dict[int, Plant]) -> dict[int, Any]:
    """The plants' lines in their steady states, those of equal structure run side by side."""
    groups: dict[int, list[int]] = {}
    for i, plant in plants.items():
        groups.setdefault(len(plant.zones), []).append(i)
    lines: dict[int, Any] = {}
    for members in groups.values():
        stacked = [stack([plants[i].parameters]) for i in members]
        twin = plants[members[0]].kind == "twin-screw"
        guesses = [
            first_guess(p, plants[i].nominal)
            if twin
            else first_guess_single(p, plants[i].nominal, plants[i].facts["temperature_c"])
            for p, i in zip(stacked, members, strict=True)
        ]
        parameters: Any = stack([plants[i].parameters for i in members])
        commands = join([nominal_commands(plants[i].nominal) for i in members])
        line = settle(parameters, join(guesses), commands, SETTLE_S, core=TwinScrew if twin else SingleScrew)
        for run, i in enumerate(members):
            lines[i] = type(line)(stacked[run], row(line.state, run), 1.0)
    return lines


def _twin(rng: np.random.Generator, plain: bool, cadence_s: float, name: str) -> Plant | None:
    design = draw_barrel.draw_design(rng)
    parameters, nominal, facts = draw_twin.draw_parameters(rng, design)
    if not SME_KWH_KG[0] <= facts["sme_kwh_kg"] <= SME_KWH_KG[1]:
        return None
    zones = (*(f"Z{i + 1}" for i in range(design.barrel_zones)), *PIPES)
    slots = tuple(i for i in range(4) if nominal.feeder_kg_h[i] > 0)
    feeders = tuple(FEEDERS[i] for i in slots)
    side = "F4" if 3 in slots else ""
    channels = twin_channels(zones, feeders, side, plain, "V1")
    facts |= {"slots": slots, "soften_c": design.polymer.soften_c, "polymer": design.polymer}
    kinds = ("feed",) + ("barrel",) * (design.barrel_zones - 1) + ("adapter", "screen", "die")
    elements = draw_barrel.ELEMENTS[design.barrel_zones] + ("none",) * 3
    materials = tuple(facts["feeder_materials"][i] for i in slots)
    return Plant(
        name or f"twin {int(rng.integers(100, 999))}", "twin-screw", plain, cadence_s, zones, kinds, elements, feeders,
        materials, nominal, parameters, None, channels, draw_logger(rng), facts, {}, {},
    )  # fmt: skip


def _single(rng: np.random.Generator, plain: bool, cadence_s: float, name: str) -> Plant | None:
    design = draw_channel.draw_design(rng)
    parameters, nominal, facts = draw_single.draw_parameters(rng, design)
    if not SME_KWH_KG[0] <= facts["sme_kwh_kg"] <= SME_KWH_KG[1]:
        return None
    zones = (*(f"Z{i + 1}" for i in range(design.barrel_zones)), *PIPES)
    channels = single_channels(zones, plain, bool(facts["measured"]))
    kinds = ("feed",) + ("barrel",) * (design.barrel_zones - 1) + ("adapter", "screen", "die")
    elements = draw_channel.ELEMENTS[design.barrel_zones] + ("none",) * 3
    facts |= {"slots": (), "soften_c": design.polymer.soften_c, "polymer": design.polymer}
    return Plant(
        name or f"single {int(rng.integers(100, 999))}", "single-screw", plain, cadence_s, zones, kinds, elements, (),
        (design.polymer.name,), nominal, parameters, None, channels, draw_logger(rng), facts, {}, {},
    )  # fmt: skip


def _finish(plant: Plant, line: Any, parts: dict[str, Any]) -> Plant | None:
    """Checks the settled line and writes its line and recipe files."""
    steady = steady_readings(plant, line)
    for zone, wanted in zip(plant.zones, plant.nominal.zone_c, strict=True):
        if abs(steady[f"zone_temperature:{zone}"] - wanted) > 2.0:
            return None
        if abs(steady[f"zone_output:{zone}"]) > 92.0:
            return None
    torque = steady["torque"]
    rate = float(line.state.barrel.passed_kg[-1, 0]) / line.step_s * 3600.0
    if rate <= 0.0:
        return None
    if plant.kind == "twin-screw":
        rate = float(plant.nominal.feeder_kg_h.sum())
    sme = torque / 100 * float(plant.parameters.drive.rated_nm) * steady["screw_speed"] * np.pi / 30e3 / rate
    if not (SME_KWH_KG[0] <= sme <= SME_KWH_KG[1] and 35.0 < torque < 92.0):
        return None
    plant.facts.update(steady=steady, sme_kwh_kg=float(sme), rate_kg_h=rate, parts=parts)
    return _with_files(plant)


def finished(plant: Plant, line: Any) -> Plant | None:
    """The plant with the steady state of `line` and files to match; None where it could not run so."""
    return _finish(replace(plant, facts=dict(plant.facts)), line, plant.facts["parts"])


def relogged(plant: Plant, *, plain: bool, cadence_s: float, name: str = "", product: str = "") -> Plant:
    """The same plant with another log: plain or all channels, another cadence; line and recipe files to match."""
    side = "F4" if "F4" in plant.feeders else ""
    if plant.kind == "twin-screw":
        channels = twin_channels(plant.zones, plant.feeders, side, plain, "V1")
    else:
        channels = single_channels(plant.zones, plain, bool(plant.facts["measured"]))
    facts = {**plant.facts, "parts": {**plant.facts["parts"], **({"product": product} if product else {})}}
    changed = replace(plant, plain=plain, cadence_s=cadence_s, channels=channels, name=name or plant.name, facts=facts)
    return _with_files(changed)


def with_cadence(plant: Plant, cadence_s: float) -> Plant:
    """The same plant and channels, logged at another cadence."""
    return _with_files(replace(plant, cadence_s=cadence_s))


def with_channels(plant: Plant, channels: tuple[str, ...], *, plain: bool) -> Plant:
    """The same plant whose log holds these channels, its files to match."""
    return _with_files(replace(plant, channels=channels, plain=plain))


def _with_files(plant: Plant) -> Plant:
    """The plant with its line and recipe files written from its facts."""
    steady, parts, rate = plant.facts["steady"], plant.facts["parts"], plant.facts["rate_kg_h"]
    polymer = plant.facts["polymer"]
    hold_s = hold_times(plant.logger, plant.cadence_s)
    outputs = plant.parameters.zone.limit_pct
    phases = plant.facts.get("electrical_phases", ())
    zone_tables: list[dict[str, Any]] = [
        {"name": z, "kind": k, "element": e, "output_limit_pct": float(limit), "cooled": True}
        for z, k, e, limit in zip(plant.zones, plant.zone_kinds, plant.elements, outputs, strict=True)
    ]  # fmt: skip
    for table, phase in zip(zone_tables, phases, strict=False):
        table["electrical_phase"] = phase
    line_dict = line_file(name=plant.name, title=parts["title"], kind=plant.kind, cadence_s=plant.cadence_s,
                          geometry=parts["geometry"], drive=parts["drive"], limits=parts["limits"], zones=zone_tables,
                          feeders=parts["feeders"], vents=parts["vents"], channels=plant.channels,
                          hold_s=hold_s, positions=plant.facts.get("positions"))  # fmt: skip
    wanted = dict(zip(plant.zones, (float(c) for c in plant.nominal.zone_c), strict=True))
    recipe_dict = recipe_file(
        name=parts["product"], product=parts["product"], materials=plant.materials, feed=parts["feed"],
        melting_point_c=polymer.soften_c, ceiling_c=polymer.ceiling_c, hot_hold_min=polymer.hot_hold_min,
        rate_kg_h=round(rate, 1), screw_speed_rpm=plant.nominal.speed_rpm, bulk_density=polymer.bulk_density,
        melt_density=parts["melt_density"], zones=wanted, shares=parts["shares"],
        window=windows(plant.channels, steady, wanted),
    )  # fmt: skip
    return replace(plant, line=line_dict, recipe=recipe_dict)


def steady_readings(plant: Plant, line: Any) -> dict[str, float]:
    """What each of the plant's transmitters shows in the steady state, free of noise, whether logged or not."""
    command = nominal_commands(plant.nominal)
    feeders, zones = len(plant.nominal.feeder_kg_h), len(plant.zones)
    groups = type(line).noise_groups(feeders, zones)
    quiet = {name: np.zeros((k, 1)) for name, k in groups.items()}
    readings = line.readings(command, no_upsets(feeders, zones, 1), quiet)
    side = "F4" if "F4" in plant.feeders else ""
    every = twin_channels(plant.zones, plant.feeders, side, False, "V1")
    keys = every if plant.kind == "twin-screw" else single_channels(plant.zones, False, True)
    slots = dict(zip(plant.feeders, plant.facts["slots"], strict=True))
    found: dict[str, float] = {}
    for key in keys:
        role, index = place(key, plant.zones, slots)
        # A refill may be going on as the line is read; a recipe states what is wanted of a feeder.
        if role == "feeder_rate":
            found[key] = float(plant.nominal.feeder_kg_h[index])
        else:
            found[key] = float(np.atleast_2d(readings[role].T).T[index, 0])
    return found


def _twin_parts(plant: Plant, d: draw_barrel.TwinDesign) -> dict[str, Any]:
    p, facts = plant.parameters, plant.facts
    downstream = float(p.barrel.capacity_kg[-3:].sum()) / d.melt_density * 1000.0
    feeders: list[dict[str, Any]] = []
    for feeder, slot, material in zip(plant.feeders, facts["slots"], plant.materials, strict=True):
        effect = float(p.melt.share_effect[slot])
        table: dict[str, Any] = {
            "name": feeder,
            "title": material,
            "material": material,
            "kind": "loss-in-weight",
            "at": plant.zones[d.side_zone if slot == 3 else 0],
        }
        table |= {"side": True} if slot == 3 else {}
        table |= {
            "hopper_kg": round(float(p.feeder.capacity_kg[slot]), 2),
            "refill_below_kg": round(float(p.feeder.refill_low_kg[slot]), 2),
            "drive_limit_pct": float(p.feeder.drive_limit_pct[slot]),
            "effect_on_torque": "raises" if slot in (0, 3) else "none" if abs(effect) < 2.5 else "lowers",
        }
        feeders.append(table)
    held = float(plant.settled.barrel.mass_kg[: d.barrel_zones].sum())
    free = float(p.barrel.capacity_kg[: d.barrel_zones].sum())
    return {
        "title": f"twin-screw {d.outer_mm:g} mm, {d.barrel_zones} barrel zones",
        "geometry": {"screw_diameter_mm": d.outer_mm, "length_over_diameter": 4.0 * d.barrel_zones,
                     "diameter_ratio": round(d.ratio, 3), "lead_mm": d.outer_mm,
                     "mean_fill": round(min(held / free, 0.95), 2), "downstream_volume_l": round(downstream, 2)},
        "drive": _drive(plant),
        "limits": {"melt_pressure_bar": facts["limit_bar"], "screw_speed_rpm": float(p.drive.rated_rpm)},
        "feeders": feeders,
        "vents": [{"name": "V1", "at": plant.zones[d.barrel_zones - 2], "vacuum": True}],
        "feed": "starved",
        "product": f"product {plant.name.split()[-1]}",
        "melt_density": d.melt_density,
        "shares": {f: round(100.0 * float(d.shares[s]), 3) for f, s in zip(plant.feeders, facts["slots"], strict=True)},
    }  # fmt: skip


def _single_parts(plant: Plant, d: draw_channel.SingleDesign) -> dict[str, Any]:
    facts = plant.facts
    return {
        "title": f"single-screw {d.diameter_mm:g} mm, {d.barrel_zones} barrel zones",
        "geometry": {"screw_diameter_mm": d.diameter_mm, "length_over_diameter": d.length_over_diameter,
                     "channel_depth_mm": round(d.depth_mm, 2), "helix_angle_deg": 17.66,
                     "metering_length_mm": round(d.diameter_mm * d.length_over_diameter * 0.35),
                     "mean_fill": 1.0, "downstream_volume_l": round(facts["downstream_l"], 2)},
        "drive": _drive(plant),
        "limits": {"melt_pressure_bar": facts["limit_bar"], "screw_speed_rpm": float(plant.parameters.drive.rated_rpm)},
        "feeders": [], "vents": [], "feed": "flooded", "product": f"product {plant.name.split()[-1]}",
        "melt_density": d.polymer.melt_density, "shares": {},
    }  # fmt: skip


def _drive(plant: Plant) -> dict[str, float]:
    p = plant.parameters
    return {
        "rated_power_kw": round(plant.facts["rated_kw"], 1), "rated_speed_rpm": float(p.drive.rated_rpm),
        "efficiency": 0.97, "no_load_torque_pct": round(plant.facts["no_load_pct"], 1), "torque_limit_pct": 100.0,
        "rated_current_a": round(float(p.auxiliary.rated_a), 1),
        "magnetising_current_a": round(float(p.auxiliary.rated_a * p.auxiliary.magnetising), 1),
    }  # fmt: skip


__all__ = ["Logger", "Nominal", "draw_plant", "draw_plants", "steady_readings"]
