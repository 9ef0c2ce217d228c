"""Scripted worlds for pressure path, drive, vent, downstream and data. No physics beyond what the rules need."""

from __future__ import annotations

import numpy as np

from ingest.block import FRESH, NONE, Block
from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.scripted_world import FEEDERS, NS, T0, Script, World, scripted_line, scripted_recipe

LEVELS = {
    "melt_pressure:P2": (40.0, 0.3),
    "vacuum:V1": (80.0, 1.0),
    "vacuum_setpoint:V1": (80.0, 0.0),
    "throat_temperature": (30.0, 0.2),
    "haul_off_speed": (60.0, 0.05),
    "haul_off_load": (50.0, 0.3),
    "cutter_speed": (800.0, 1.0),
    "bath_temperature": (60.0, 0.2),
    "diverter_to_product": (1.0, 0.0),
    "gearbox_oil_temperature": (60.0, 0.1),
    "gearbox_oil_pressure": (2.5, 0.02),
    "gearbox_filter_drop": (0.6, 0.02),
    "cooling_water_temperature": (20.0, 0.1),
    "ambient_temperature": (25.0, 0.05),
    "dew_point": (-42.0, 0.3),
}
POSITIONS = {"P1": "before_screen", "P2": "after_screen"}


def path_line(kind: str = "twin-screw", **positions: str) -> Line:
    """The scripted line with everything round it logged; positions: of the pressure sensors."""
    data = scripted_line(kind).model_dump()
    positions = positions or POSITIONS
    data["vent"] = [{"name": "V1", "at": "Z3"}]
    for key in LEVELS:
        role, _, at = key.partition(":")
        data["sensor"] = (*data["sensor"], {"tag": key, "role": role, "at": at})
    sensors = [s for s in data["sensor"] if s["role"] != "melt_pressure"]
    sensors += [{"tag": s, "role": "melt_pressure", "at": s, "position": at} for s, at in positions.items()]
    return Line.model_validate({**data, "sensor": sensors, "version": f"path-{kind}-{sorted(positions.items())}"})


def pump_line(**positions: str) -> Line:
    """A flood-fed line with a melt pump, between screen and die unless `positions` say otherwise."""
    positions = positions or {"P1": "before_screen", "PS": "pump_suction", "PD": "pump_discharge"}
    line = path_line("single-screw", **positions)
    data = line.model_dump()
    data["sensor"] = (*data["sensor"], {"tag": "pump", "role": "melt_pump_speed"})
    return Line.model_validate({**data, "version": f"{line.version}-pump"})


def path_recipe(kind: str = "twin-screw", material: str = "PA6") -> Recipe:
    """The scripted recipe for a polymer that has to be dry, without windows for what is learned here."""
    data = scripted_recipe(kind).model_dump()
    data["recipe"] |= {"materials": [material], "ceiling_c": 280}
    return Recipe.model_validate({**data, "version": f"path-{kind}-{material}"})


def path_script(seconds: int, line: Line | None = None, seed: int = 21) -> Script:
    """Undisturbed running of the line."""
    used = line or path_line()
    s = Script(used, seconds, seed)
    levels = {
        **LEVELS,
        "melt_pressure:PS": (40.0, 0.5),
        "melt_pressure:PD": (90.0, 0.5),
        "melt_pump_speed": (30.0, 0.02),
    }
    for key, (level, size) in levels.items():
        if key in s.x:
            s.x[key][:] = level + (s.noise(size) if size else 0)
    return s


def add(s: Script, key: str, start_s: float, end_s: float, by: float, to: float | None = None) -> None:
    """Raises a channel by so much, or along a straight line from `by` to `to`."""
    part = s.span(start_s, end_s)
    s.x[key][part] += by if to is None else np.linspace(by, to, len(s.x[key][part]))


def path_creep() -> World:
    """Screen filling and die plugging together, on one line, for three and a half hours."""
    s = path_script(12600)
    add(s, "melt_pressure:P1", 1200, 12600, 0, 14)
    add(s, "melt_pressure:P2", 1200, 12600, 0, 6)
    return s.world(path_recipe())


def path_upsets() -> World:
    """Three hours of a twin-screw line, one thing after the other, none of them a stop."""
    s = path_script(10800)
    s.put("torque", 2400, 2403, 85)
    s.put("screw_speed", 2400, 2403, 285)
    s.put("torque", 2700, 2800, 93)
    s.put("torque", 2820, 2826, 104)
    s.put("screw_speed", 3000, 3120, 270)
    s.scale("haul_off_load", 3300, 3500, 0.9)
    add(s, "vacuum:V1", 3600, 3900, 60)
    add(s, "throat_temperature", 3600, 4800, 14)
    s.put("diverter_to_product", 4000, 4600, 0)
    s.put("gearbox_oil_temperature", 4700, 5700, 88)
    s.put("gearbox_oil_pressure", 4700, 5400, 0.3)
    s.put("bath_temperature", 4900, 5300, 45)
    s.scale("melt_pressure:P2", 5000, 5300, 1.2)
    s.scale("melt_pressure:P1", 5600, 6200, 0.75)
    s.x["melt_pressure:P1"][s.span(6600, 7400)] = 60.25
    s.put("melt_pressure:P1", 7600, 7700, 0.5)
    s.scale("torque", 7900, 8800, 0.86)
    for key in ("feeder_rate:F1", "feeder_drive:F1", "feeder_weight:F1"):
        s.put(key, 9000, 9400, float(s.x[key][9000]))
    s.put("screw_speed_setpoint", 9600, 10800, 320)
    s.put("screw_speed_setpoint", 10600, 10800, 60)
    s.x["screw_speed"][s.span(9500, 10800)] = s.x["screw_speed_setpoint"][s.span(9500, 10800)]
    for key in s.x:
        s.put(key, 10300, 10420, float("nan"))
    return s.world(path_recipe())


def path_wet() -> World:
    """Wet resin: within ten minutes pressure is down by a fifth and torque by a twentieth, pressure restless."""
    s = path_script(7200)
    part = s.span(4200, 7200)
    way = np.minimum(np.arange(len(s.x["torque"][part])) / 600, 1.0)
    for key, share in (("melt_pressure:P1", 0.2), ("melt_pressure:P2", 0.2), ("torque", 0.05)):
        s.x[key][part] *= 1 - share * way
    s.x["melt_pressure:P1"][part] += s.noise(1.5)[part]
    add(s, "dew_point", 3600, 7200, 30)
    return s.world(path_recipe())


def line_without(*roles: str, kind: str = "twin-screw") -> Line:
    """The scripted line where nobody logs these."""
    data = scripted_line(kind).model_dump()
    sensors = [sensor for sensor in data["sensor"] if sensor["role"] not in roles]
    return Line.model_validate({**data, "sensor": sensors, "version": f"{kind} without {roles}"})


def path_slow() -> World:
    """The screw is set slower for half an hour, and nobody logs what it is set to."""
    s = Script(line_without("screw_speed_setpoint"), 3600, 21)
    s.scale("screw_speed", 1200, 3000, 0.85)
    return s.world(scripted_recipe())


def path_stops() -> World:
    """A stop that leaves pressure on one sensor and an offset on the other, a start that shows none, an empty screw."""
    s = path_script(10200)
    _stand(s, 1800, 5400)
    s.put("melt_pressure:P1", 1800, 5400, 45)
    s.put("melt_pressure:P2", 1800, 5400, 9)
    s.put("melt_pressure:P1", 5400, 6400, 0.4)
    _unfed(s, 8400, 10200)
    s.put("torque", 8400, 10200, 9)
    return s.world(path_recipe())


def path_pump() -> World:
    """A melt pump that runs short, and later delivers less a turn."""
    s = path_script(10800, pump_line())
    s.scale("melt_pressure:PS", 2400, 2700, 0.4)
    s.scale("screw_speed", 2400, 2700, 1.06)
    s.scale("line_rate", 5400, 10800, 0.94)
    return s.world(path_recipe("single-screw"))


def _stand(s: Script, start_s: float, end_s: float) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, start_s, end_s, 0.0)
    _unfed(s, start_s, end_s)


def _unfed(s: Script, start_s: float, end_s: float) -> None:
    for feeder in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint", "feeder_drive"):
            s.put(f"{role}:{feeder}", start_s, end_s, 0.0)


def block_of(s: Script) -> Block:
    """The script's log."""
    values = np.ascontiguousarray([s.x[key] for key in s.line.channels])
    status = np.where(np.isnan(values), NONE, FRESH).astype(np.uint8)
    return Block(T0, round(s.cadence * NS), s.line.channels, values, status, tuple(s.notes))
