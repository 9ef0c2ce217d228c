"""Line, recipe and schedule files as the plant's engineer writes them from README and recipe sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.third_plant.channels import MAGNETISING, Channel, rated_current
from tests.benchmarks.third_plant.log_files import time_column, time_zone
from tests.benchmarks.third_plant.machine import Machine


@dataclass(frozen=True)
class Product:
    """A second product from a minute on: parts of the nominal rate and speed, C added to the zones."""

    minute: float
    rate: float
    speed: float
    zones_c: float


def write_files(
    machine: Machine, tags: Sequence[Channel], start: dt.datetime, second: Product | None, folder: Path
) -> tuple[Path, list[Path], Path]:
    """Line file, recipe files and schedule in `folder`."""
    line = folder / "line.toml"
    line.write_text(line_text(machine, tags))
    recipes = [folder / "recipe.toml"]
    recipes[0].write_text(recipe_text(machine, "P-1", Product(0, 1.0, 1.0, 0.0)))
    rows = ["start,lot,recipe", f"{start:%Y-%m-%dT%H:%M:%SZ},4711,P-1"]
    if second is not None:
        recipes.append(folder / "recipe_2.toml")
        recipes[1].write_text(recipe_text(machine, "P-2", second))
        rows.append(f"{start + dt.timedelta(minutes=second.minute):%Y-%m-%dT%H:%M:%SZ},4712,P-2")
    schedule = folder / "schedule.csv"
    schedule.write_text("\n".join(rows) + "\n")
    return line, recipes, schedule


def line_text(m: Machine, tags: Sequence[Channel]) -> str:
    """The line file."""
    kind = "twin-screw" if m.kind in ("twin", "pvc", "twin_flooded") else "single-screw"
    out = ["format = 1", "", "[line]", f'name = "{m.name}"', f'kind = "{kind}"']
    out += [f'feed = "{"starved" if m.starve_fed else "flooded"}"', f'time_zone = "{time_zone(m)}"']
    out += [f"cadence_s = {m.cadence_s}", "", "[geometry]", f"screw_diameter_mm = {m.diameter_mm}.0"]
    out += [f"length_over_diameter = {m.length_d}.0", "", "[drive]", f"rated_power_kw = {m.rated_kw}"]
    out += [f"rated_speed_rpm = {m.speed_max}", f"no_load_torque_pct = {m.idle_pct:.1f}"]
    if m.dialect.load == "A":
        out += [f"rated_current_a = {rated_current(m):.1f}"]
        out += [f"magnetising_current_a = {MAGNETISING * rated_current(m):.1f}"]
    out += ["", "[limits]", f"melt_pressure_bar = {m.limit_bar}", "", "[log]"]
    if m.dialect.shape == "long":
        out += ['layout = "long"', 'tag_column = "tag"', 'value_column = "value"']
    out += [f'time_columns = ["{time_column(m)}"]']
    if m.dialect.shape != "parquet" and m.dialect.time_format and not m.dialect.time_format.endswith(("Z", "000")):
        out += [f'time_format = "{m.dialect.time_format}"']
    for zone in m.zones:
        out += ["", "[[zone]]", f'name = "{zone.name}"', f'kind = "{zone.kind}"', f'element = "{zone.element}"']
        out += [f"cooled = {str(zone.cooled).lower()}", f"output_limit_pct = {m.output_limit}"]
    for feeder in m.feeders:
        out += ["", "[[feeder]]", f'name = "{feeder.name}"', f'material = "{feeder.material}"', f'at = "{feeder.zone}"']
        out += [f'kind = "{"liquid" if feeder.liquid else "loss-in-weight" if feeder.weighed else "volumetric"}"']
        out += ["side = true"] if feeder.side else []
        if m.logged.weights and feeder.weighed and not feeder.liquid:
            out += [f"hopper_kg = {feeder.hopper_kg}", f"refill_below_kg = {0.35 * feeder.hopper_kg:.3f}"]
    if m.hopper_kg > 0 and m.logged.weights:
        out += [
            "",
            "[[feeder]]",
            'name = "HOP"',
            'kind = "hopper"',
            f'at = "{m.zones[0].name}"',
            f"hopper_kg = {m.hopper_kg}",
        ]
    if m.vent:
        at = [z.name for z in m.zones if z.kind == "barrel"][-2]
        out += ["", "[[vent]]", 'name = "V1"', f'at = "{at}"', "vacuum = true"]
    for tag in tags:
        out += ["", "[[sensor]]", f'tag = "{tag.tag}"', f'role = "{tag.role}"']
        out += [f'at = "{tag.at}"'] if tag.at else []
        out += [f'unit = "{tag.unit}"'] if tag.unit else []
        out += [f'position = "{tag.position}"'] if tag.position else []
        out += ["range = [0.0, 400.0]"] if tag.role == "zone_temperature" else []
        out += ["hold_s = 720.0"] if m.dialect.shape == "long" and m.dialect.holds_said else []
        out += ["range = [-100.0, 100.0]"] if tag.role == "zone_output" else []
    return "\n".join(out) + "\n"


def recipe_text(m: Machine, name: str, product: Product) -> str:
    """A recipe file: targets from the sheet, a few percent off what the line really does."""
    off = 1 + m.target_error
    pressure = m.pressure_bar * off * (product.rate**m.index) * (1 - 0.5 * m.thins_per_c * product.zones_c)
    flows = "glass_transition_c" if m.amorphous else "melting_point_c"
    at = m.melting_c - 50 if m.amorphous else m.melting_c
    out = ["format = 1", "", "[recipe]", f'name = "{name}"', f'product = "{name}"']
    out += [
        f'feed = "{"starved" if m.starve_fed else "flooded"}"',
        f"{flows} = {at:.1f}",
        f"ceiling_c = {m.ceiling_c:.1f}",
    ]
    out += [
        f"hot_hold_min = {20.0 if m.kind == 'pvc' else 60.0}",
        f"screw_speed_rpm = {m.speed_rpm * product.speed:.2f}",
    ]
    # PVC degrades while it waits: soaked for ten minutes, no more.
    out += [f"soak_min = {10 if m.kind == 'pvc' else 20}"]
    out += [f"rate_kg_h = {m.rate_kg_h * product.rate:.3f}", "", "[zones]"]
    sets = [z.set_c + (product.zones_c if z.kind != "feed" else 0.0) for z in m.zones]
    out += [f"{z.name} = {s}" for z, s in zip(m.zones, sets, strict=True)]
    if m.feeders:
        out += ["", "[shares]", *(f"{f.name} = {f.share_pct}" for f in m.feeders)]
    wide = m.zone_tolerance_c
    for zone, set_c in zip(m.zones, sets, strict=True):
        out += _window("zone_temperature", zone.name, set_c, wide, 1.8 * wide)
    if m.logged.melt:
        out += _window("melt_temperature", "M1", round(m.melt_c + 0.5 * product.zones_c), 10, 15)
    for place, nominal in (("P1", pressure),):
        out += _window("melt_pressure", place, round(nominal, 1), round(0.2 * nominal, 1), round(0.32 * nominal, 1))
    if m.vent:
        out += ["", "[[window]]", 'role = "vacuum"', 'at = "V1"', "target = 60.0", "high = 95.0", "high_outer = 150.0"]
    return "\n".join(out) + "\n"


def _window(role: str, at: str, target: float, inner: float, outer: float) -> list[str]:
    rows = ["", "[[window]]", f'role = "{role}"', f'at = "{at}"', f"target = {target}"]
    rows += [f"low = {target - inner:.2f}", f"high = {target + inner:.2f}"]
    return [*rows, f"low_outer = {target - outer:.2f}", f"high_outer = {target + outer:.2f}"]
