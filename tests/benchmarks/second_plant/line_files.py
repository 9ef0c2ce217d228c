"""Line, recipe and schedule files as the plant's engineer would write them from the documents, before any judging."""

from __future__ import annotations

from pathlib import Path

from tests.benchmarks.second_plant.lines import LINES
from tests.benchmarks.second_plant.sensing import Signal
from tests.benchmarks.second_plant.signals import SIGNALS
from tests.benchmarks.second_plant.spec import LineSpec

START = "2026-02-10T06:00:00Z"

MATERIAL = {
    "north": "PP-mineral", "sued": "PA6", "ouest": "PE-LD", "colle": "PP-mineral", "norte": "PE-HD", "wschod": "PS-I",
    "hav": "TPU",
}  # fmt: skip
PRESSURE_LIMIT = {"north": 200, "sued": 150, "ouest": 250, "colle": 250, "norte": 400, "wschod": 300, "hav": 250}
MELT_TARGET = {"north": 256, "sued": 280, "ouest": 203, "norte": 240, "wschod": 246, "hav": 214}
TWIN = {"north": (58, 44), "sued": (70, 40), "ouest": (58, 36), "hav": (70, 40)}
SINGLE = {"norte": (75, 30, 9.0), "wschod": (90, 33, 7.0)}


def write_files(name: str, folder: Path, change_at_s: int = 0) -> tuple[Path, list[Path], Path]:
    """The line file, its recipe files and the schedule, written into `folder`."""
    spec = LINES[name]
    line = folder / "line.toml"
    line.write_text(_line(spec))
    recipes = [folder / "recipe_1.toml"]
    recipes[0].write_text(_recipe(spec, 1))
    rows = ["start,lot,recipe", f"{START},{name}-101,{name} 1"]
    if change_at_s:
        recipes.append(folder / "recipe_2.toml")
        recipes[1].write_text(_recipe(spec, 2))
        hours, rest = divmod(change_at_s, 3600)
        rows.append(f"2026-02-10T{6 + hours:02d}:{rest // 60:02d}:{rest % 60:02d}Z,{name}-102,{name} 2")
    schedule = folder / "schedule.csv"
    schedule.write_text("\n".join(rows) + "\n")
    return line, recipes, schedule


def _line(spec: LineSpec) -> str:
    name, twin = spec.name, spec.screw == "twin"
    kind = "twin-screw" if twin else "single-screw"
    zone = 'time_zone = "Europe/Berlin"\n' if name == "sued" else ""
    text = f'format = 1\n\n[line]\nname = "{name}"\nkind = "{kind}"\ncadence_s = {spec.cadence_s}\n{zone}'
    if not twin:
        text += 'feed = "flooded"\n'
    if name in TWIN:
        text += "\n[geometry]\nscrew_diameter_mm = {}\nlength_over_diameter = {}\n".format(*TWIN[name])
        text += "diameter_ratio = 1.55\ndownstream_volume_l = 0.8\n"
    elif name in SINGLE:
        text += "\n[geometry]\nscrew_diameter_mm = {}\nlength_over_diameter = {}\n".format(*SINGLE[name][:2])
        text += f"channel_depth_mm = {SINGLE[name][2]}\n"
    text += f"\n[drive]\nrated_power_kw = {spec.rated_kw}\nrated_speed_rpm = {spec.rpm_max}\n"
    if name == "norte":
        text += f"rated_current_a = {1.9 * spec.rated_kw:.0f}\nmagnetising_current_a = {0.63 * spec.rated_kw:.0f}\n"
    text += f"\n[limits]\nmelt_pressure_bar = {PRESSURE_LIMIT[name]}\nscrew_speed_rpm = {spec.rpm_max}\n"
    if name == "sued":
        text += '\n[log]\ntime_columns = ["Zeit"]\ntime_format = "%d.%m.%Y %H:%M:%S"\n'
    text += "".join(map(_zone, _elements(spec))) if name != "colle" else ""
    text += "".join(_feeder(spec, i) for i in range(len(spec.feeders))) if name != "colle" else ""
    if name == "north":
        text += '\n[[vent]]\nname = "V6"\nat = "B7"\ngauge = "dome"\n'
    return text + "".join(map(_sensor, SIGNALS[name]))


def _elements(spec: LineSpec) -> list[tuple[str, str, str, bool]]:
    found = []
    for i, zone in enumerate(spec.zones):
        element = "none" if zone.kind in ("adapter", "screen", "die") else "conveying"
        if zone.kind == "barrel" and zone.shear > 2:
            element = "kneading" if spec.screw == "twin" else "compression"
        elif zone.kind == "barrel" and spec.screw != "twin" and i > 1:
            element = "metering"
        found.append((zone.name, zone.kind, element, zone.cool_w > 0))
    return found


def _zone(zone: tuple[str, str, str, bool]) -> str:
    name, kind, element, cooled = zone
    text = f'\n[[zone]]\nname = "{name}"\nkind = "{kind}"\nelement = "{element}"\n'
    return text if cooled else text + "cooled = false\n"


def _feeder(spec: LineSpec, i: int) -> str:
    feeder = spec.feeders[i]
    at = spec.zones[{0: 0, 1: 2, 2: 4, 3: 5}[feeder.tank]].name
    text = f'\n[[feeder]]\nname = "{feeder.name}"\nat = "{at}"\nhopper_kg = {feeder.hopper_kg}\n'
    text += f"refill_below_kg = {0.3 * feeder.hopper_kg:g}\n"
    text += 'kind = "liquid"\n' if feeder.liquid else ""
    text += "side = true\n" if feeder.tank > 1 else ""
    return text + ('effect_on_torque = "lowers"\n' if feeder.ln_visc < -1 else "")


def _sensor(signal: Signal) -> str:
    text = f'\n[[sensor]]\ntag = "{signal.tag}"\nrole = "{signal.role}"\n'
    text += f'at = "{signal.at}"\n' if signal.at else ""
    text += f'unit = "{signal.unit}"\n' if signal.unit else ""
    return text + (f'position = "{signal.position}"\n' if signal.position else "")


def _recipe(spec: LineSpec, number: int) -> str:
    name = spec.name
    text = f'format = 1\n\n[recipe]\nname = "{name} {number}"\nlines = ["{name}"]\nmaterials = ["{MATERIAL[name]}"]\n'
    rate = spec.rate_kg_h * (1.0 if number == 1 else 0.95)
    text += f"rate_kg_h = {rate:g}\nscrew_speed_rpm = {spec.rpm}\nsoak_min = 30\n"
    if name != "colle":
        move = 6.0 if number == 2 else 0.0
        text += "\n[zones]\n"
        text += "".join(f'"{z.name}" = {z.set_c + (move if i >= 3 else 0)}\n' for i, z in enumerate(spec.zones))
    if spec.feeders and name != "colle":
        raw = [f.share_pct * (1.25 if i and number == 2 else 1.0) for i, f in enumerate(spec.feeders)]
        text += "\n[shares]\n"
        text += "".join(f"{f.name} = {100 * s / sum(raw):.3f}\n" for f, s in zip(spec.feeders, raw, strict=True))
    for signal in SIGNALS[name]:
        text += _window(spec, signal, number)
    return text


def _window(spec: LineSpec, signal: Signal, number: int) -> str:
    if signal.role == "melt_pressure" and signal.position != "pump_suction":
        ahead = spec.pump_suction_bar if spec.pump else spec.die_bar
        nominal = spec.die_bar if signal.truth == "die" else ahead + spec.screen_bar
        low, high, outer = 0.65 * nominal, 1.5 * nominal, 1.8 * nominal
    elif signal.role == "torque":
        nominal, low, high, outer = spec.torque_pct, spec.torque_pct - 22, 88.0, 95.0
    elif signal.role == "melt_temperature":
        nominal = MELT_TARGET[spec.name] + (8.0 if number == 2 else 0.0)
        low, high, outer = nominal - 15, nominal + 12, nominal + 20
    else:
        return ""
    at = f'at = "{signal.at}"\n' if signal.at else ""
    return (
        f'\n[[window]]\nrole = "{signal.role}"\n{at}target = {nominal:.0f}\nlow = {low:.0f}\nhigh = {high:.0f}\n'
        f"high_outer = {outer:.0f}\n"
    )
