"""A small scripted line for the check-suite: simple signals in which every registered condition has cause to speak.

Not a plant: no physics beyond what makes the rules fire. It shares no code with the simulator.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.block import FRESH, NONE, Block, Note
from monitor.line import Line
from monitor.recipe import Recipe

T0 = 1_760_000_340_000_000_000
"""A whole number of 7, 10 and 60 s cells."""
NS = 1_000_000_000
ZONES = ("Z1", "Z2", "Z3", "ADAPTER", "DIE")
TARGETS = {"Z1": 60.0, "Z2": 200.0, "Z3": 215.0, "ADAPTER": 215.0, "DIE": 220.0}
FEEDERS = {"F1": 240.0, "F2": 57.0, "F3": 3.0}


@dataclass(frozen=True, eq=False)
class World:
    """A line, its recipe and a finished log of it in one block. Equal to itself only."""

    line: Line
    recipes: tuple[Recipe, ...]
    block: Block


def scripted_line(kind: str = "twin-screw", cadence_s: float = 1.0, time_zone: str = "UTC") -> Line:
    """A twin-screw line with everything the conditions can use, or a flood-fed single-screw line."""
    sensors = []
    for zone in ZONES:
        for role in ("zone_temperature", "zone_setpoint", "zone_output"):
            sensors.append({"tag": f"{role}.{zone}", "role": role, "at": zone})
    for feeder in FEEDERS if kind == "twin-screw" else ():
        for role in ("feeder_rate", "feeder_setpoint", "feeder_drive", "feeder_weight", "feeder_refill"):
            sensors.append({"tag": f"{role}.{feeder}", "role": role, "at": feeder})
    for role in ("screw_speed", "screw_speed_setpoint", "torque", *(("line_rate",) if kind != "twin-screw" else ())):
        sensors.append({"tag": role, "role": role})
    sensors += [
        {"tag": "P1", "role": "melt_pressure", "at": "P1"},
        {"tag": "MT1", "role": "melt_temperature", "at": "MT1"},
    ]
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": "scripted", "kind": kind, "cadence_s": cadence_s, "time_zone": time_zone},
            "geometry": {"screw_diameter_mm": 40, "diameter_ratio": 1.55, "length_over_diameter": 40}
            if kind == "twin-screw"
            else {"screw_diameter_mm": 75, "channel_depth_mm": 6, "length_over_diameter": 25},
            "drive": {"rated_power_kw": 75, "rated_speed_rpm": 600},
            "limits": {"melt_pressure_bar": 200},
            "zone": [
                {"name": zone, "kind": {"Z1": "feed", "ADAPTER": "adapter", "DIE": "die"}.get(zone, "barrel")}
                for zone in ZONES
            ],
            "feeder": [{"name": name, "at": "Z1", "hopper_kg": 60} for name in FEEDERS] if kind == "twin-screw" else [],
            "sensor": sensors,
            "version": f"scripted-{kind}-{cadence_s}",
        }
    )


def scripted_recipe(kind: str = "twin-screw") -> Recipe:
    """Windows round the scripted steady state."""
    return Recipe.model_validate(
        {
            "format": 1,
            "recipe": {
                "name": "R1",
                "materials": ["PP"],
                "ceiling_c": 280,
                "hot_hold_min": 10,
                "soak_min": 25,
                "rate_kg_h": 300,
                "screw_speed_rpm": 300,
            },
            "zones": TARGETS,
            "shares": {"F1": 80, "F2": 19, "F3": 1} if kind == "twin-screw" else {},
            "window": [
                {
                    "role": "melt_pressure",
                    "at": "P1",
                    "target": 60,
                    "low": 51,
                    "high": 69,
                    "low_outer": 45,
                    "high_outer": 80,
                },
                {
                    "role": "melt_temperature",
                    "at": "MT1",
                    "target": 228,
                    "low": 220,
                    "high": 236,
                    "low_outer": 216,
                    "high_outer": 240,
                },
                {"role": "torque", "target": 60, "low": 50, "high": 70, "low_outer": 45, "high_outer": 80},
            ],
            "version": "scripted",
        }
    )


class Script:
    """Signals of a scripted log, changed event by event."""

    def __init__(self, line: Line, seconds: int, seed: int) -> None:
        self.line, self.cadence = line, line.line.cadence_s
        self.n = int(seconds / self.cadence)
        self.rng = np.random.default_rng(seed)
        self.x = {key: np.zeros(self.n) for key in line.channels}
        self.notes: list[Note] = []
        self._steady()

    def noise(self, size: float) -> np.ndarray:
        white = self.rng.normal(0, size, self.n + 1)
        return 0.8 * white[1:] + 0.6 * white[:-1]

    def _steady(self) -> None:
        for zone, target in TARGETS.items():
            self.x[f"zone_setpoint:{zone}"][:] = target
            self.x[f"zone_temperature:{zone}"][:] = np.round(target + self.noise(0.15), 1)
            self.x[f"zone_output:{zone}"][:] = 25 + self.noise(1.0)
        for feeder, rate in FEEDERS.items() if "feeder_rate:F1" in self.x else ():
            self.x[f"feeder_setpoint:{feeder}"][:] = rate
            self.x[f"feeder_rate:{feeder}"][:] = rate * (1 + self.noise(0.01))
            self.x[f"feeder_drive:{feeder}"][:] = 45 + self.noise(0.5)
            fall = np.arange(self.n) * self.cadence * rate / 3600
            self.x[f"feeder_weight:{feeder}"][:] = 20 + (30 - fall) % 30 + self.noise(0.01)
            self.x[f"feeder_refill:{feeder}"][1:] = np.diff((30 - fall) % 30) > 5
        for key, level, size in (
            ("screw_speed_setpoint", 300, 0),
            ("screw_speed", 300, 0.3),
            ("torque", 60, 0.5),
            ("melt_pressure:P1", 60, 0.5),
            ("melt_temperature:MT1", 228, 0.2),
            ("line_rate", 300, 2),
        ):
            if key in self.x:
                self.x[key][:] = level + (self.noise(size) if size else 0)

    def span(self, start_s: float, end_s: float) -> slice:
        return slice(int(start_s / self.cadence), min(self.n, int(end_s / self.cadence)))

    def scale(self, key: str, start_s: float, end_s: float, factor: float) -> None:
        self.x[key][self.span(start_s, end_s)] *= factor

    def put(self, key: str, start_s: float, end_s: float, value: float, slope_s: float = 0.0) -> None:
        part = self.span(start_s, end_s)
        self.x[key][part] = value + slope_s * self.cadence * np.arange(len(self.x[key][part]))

    def world(self, recipe: Recipe) -> World:
        values = np.array([self.x[key] for key in self.line.channels])
        status = np.where(np.isnan(values), NONE, FRESH).astype(np.uint8)
        step = round(self.cadence * NS)
        block = Block(T0, step, self.line.channels, np.ascontiguousarray(values), status, tuple(self.notes))
        return World(self.line, (recipe,), block)


def eventful_twin(seed: int = 1, cadence_s: float = 1.0) -> World:
    """Seven hours of a twin-screw line with one event after the other; most conditions have cause to speak."""
    s = Script(scripted_line(cadence_s=cadence_s), 7 * 3600, seed)
    _production_events(s)
    _heating_events(s)
    _stop_and_start_events(s)
    s.notes += [Note(T0 + 100 * NS, "lot", "L-1"), Note(T0 + 9000 * NS, "lot", "L-2")]
    return s.world(scripted_recipe())


def _production_events(s: Script) -> None:
    s.scale("feeder_rate:F1", 1500, 1700, 0.4)
    s.put("feeder_drive:F1", 1500, 1700, 98)
    s.scale("torque", 1505, 1700, 0.5)
    s.scale("melt_pressure:P1", 1510, 1700, 0.7)
    s.put("feeder_rate:F2", 2400, 2550, 0.0)
    s.put("feeder_drive:F2", 2400, 2550, 0.0)
    s.x["feeder_weight:F1"][s.span(3000, 3400)] = 40 + s.noise(0.01)[s.span(3000, 3400)]
    s.scale("torque", 3900, 4300, 0.7)
    s.scale("melt_pressure:P1", 3905, 4300, 0.9)
    s.scale("feeder_rate:F2", 5000, 5500, 0.93)
    s.scale("feeder_setpoint:F2", 6000, 7000, 1.12)
    s.scale("feeder_rate:F2", 6000, 7000, 1.12)
    s.scale("torque", 7600, 8000, 1.35)
    s.scale("melt_pressure:P1", 7603, 8000, 1.08)
    s.put("melt_pressure:P1", 8600, 8660, 60, slope_s=4.0)
    s.put("torque", 9300, 9500, float("nan"))
    s.x["melt_pressure:P1"][s.span(10000, 15000)] += np.linspace(
        0, 8, len(s.x["melt_pressure:P1"][s.span(10000, 15000)])
    )
    s.x["melt_pressure:P1"][5] = 500


def _heating_events(s: Script) -> None:
    zone = "zone_temperature:Z3"
    s.x[zone][s.span(4500, 5400)] += 7
    s.x["melt_temperature:MT1"][s.span(5600, 6000)] += 10
    s.x["zone_temperature:Z2"][s.span(5600, 6400)] -= 6
    s.x["melt_temperature:MT1"][s.span(6400, 6800)] -= 10
    s.put("zone_output:ADAPTER", 9000, 10200, 100)
    s.put("zone_temperature:ADAPTER", 9000, 10200, 214, slope_s=-0.01)
    s.put("zone_temperature:DIE", 10500, 10700, 400)
    s.put("zone_temperature:DIE", 10900, 11000, 25)
    s.put("zone_temperature:Z2", 11200, 11500, float("nan"))
    s.put("zone_temperature:Z3", 12000, 15000, 215.0)
    s.put("zone_output:Z3", 12400, 15000, 60)


def _stop_and_start_events(s: Script) -> None:
    stop = 15600
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, stop, 20400, 0.0)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", stop + 20, 20400, 0.0)
        s.put(f"feeder_setpoint:{feeder}", stop + 20, 20400, 0.0)
    s.put("melt_pressure:P1", stop, 20400, 2.0)
    for zone, target in TARGETS.items():
        s.put(f"zone_temperature:{zone}", 17400, 18000, target, slope_s=-0.1 * target / 200)
        s.put(f"zone_temperature:{zone}", 18000, 19200, target - 60, slope_s=0.05)
        s.put(f"zone_temperature:{zone}", 19200, 20400, target - 0.5)
    s.put("zone_temperature:DIE", 18000, 20800, 140.0)
    s.put("screw_speed", 20400, 20800, 150.0)
    s.put("screw_speed_setpoint", 20400, 20800, 150.0)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", 20400, 20800, 0.0)
        s.put(f"feeder_setpoint:{feeder}", 20400, 20800, 0.0)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.put(key, 20800, 22000, 0.0)
    s.put("zone_temperature:DIE", 20800, 21000, 219.5)
    s.x["zone_temperature:Z2"][s.span(20800, 21000)] = 150.0
    s.x["zone_temperature:Z2"][s.span(21000, 25200)] = 200.0


def eventful_single(seed: int = 2) -> World:
    """Three hours of a flood-fed single-screw line: starved, restricted, thinner melt, zone trouble."""
    s = Script(scripted_line("single-screw"), 3 * 3600, seed)
    for key, factor in (("torque", 0.7), ("melt_pressure:P1", 0.75), ("line_rate", 0.6)):
        s.scale(key, 2000, 2600, factor)
    s.scale("melt_pressure:P1", 4000, 4600, 1.5)
    s.scale("line_rate", 4000, 4600, 0.9)
    s.scale("torque", 6000, 6600, 0.85)
    s.scale("melt_pressure:P1", 6000, 6600, 0.85)
    s.x["zone_temperature:Z3"][s.span(8000, 9000)] += 6
    return s.world(scripted_recipe("single-screw"))
