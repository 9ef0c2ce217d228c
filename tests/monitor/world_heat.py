"""Scripted worlds for the conditions on heaters, cooling, couples and set-points: signals, no physics of a plant."""

from __future__ import annotations

import numpy as np

from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.scripted_world import FEEDERS, TARGETS, Script, World, scripted_line, scripted_recipe

HEAT_ZONES = ("Z1", "Z2", "Z3", "Z4", "Z5", "ADAPTER", "DIE")
HEAT_TARGETS = {**TARGETS, "Z4": 215.0, "Z5": 210.0}
DUTY_PCT = 25.0


def heat_line(cadence_s: float = 1.0) -> Line:
    """The scripted twin-screw with two more zones and all that a zone may log: Z5 logs its cooling apart."""
    data = scripted_line(cadence_s=cadence_s).model_dump(mode="json")
    kinds = {zone["name"]: zone["kind"] for zone in data["zone"]}
    data["zone"] = [{"name": zone, "kind": kinds.get(zone, "barrel")} for zone in HEAT_ZONES]
    data["vent"] = [{"name": "V1", "at": "Z4"}]
    for zone in ("Z4", "Z5"):
        for role in ("zone_temperature", "zone_setpoint", "zone_output"):
            data["sensor"].append({"tag": f"{role}.{zone}", "role": role, "at": zone})
    data["sensor"] += [
        {"tag": "zone_cooling.Z5", "role": "zone_cooling", "at": "Z5"},
        {"tag": "zone_auto.Z5", "role": "zone_auto", "at": "Z5"},
        {"tag": "zone_current.Z4", "role": "zone_current", "at": "Z4"},
        {"tag": "vacuum.V1", "role": "vacuum", "at": "V1"},
        {"tag": "vacuum_setpoint.V1", "role": "vacuum_setpoint", "at": "V1"},
        {"tag": "cooling_water", "role": "cooling_water_temperature"},
    ]
    return Line.model_validate({**data, "version": f"heat-{cadence_s}"})


def heat_recipe() -> Recipe:
    """The scripted recipe with the two zones and a vacuum."""
    data = scripted_recipe().model_dump(mode="json")
    data["zones"] = HEAT_TARGETS
    data["window"].append({"role": "vacuum", "at": "V1", "target": 80, "high": 130})
    return Recipe.model_validate({**data, "version": "heat"})


HEAT_LINE, HEAT_RECIPE = heat_line(), heat_recipe()


class HeatScript(Script):
    """Undisturbed running of the heat line, changed event by event."""

    def __init__(self, seconds: int, seed: int = 21, line: Line = HEAT_LINE) -> None:
        super().__init__(line, seconds, seed)
        for zone in ("Z4", "Z5"):
            self.x[f"zone_setpoint:{zone}"][:] = HEAT_TARGETS[zone]
            self.x[f"zone_temperature:{zone}"][:] = np.round(HEAT_TARGETS[zone] + self.noise(0.15), 1)
            self.x[f"zone_output:{zone}"][:] = DUTY_PCT + self.noise(1.0)
        self.x["zone_auto:Z5"][:] = 1.0
        self.x["zone_current:Z4"][:] = 20.0 * (self.rng.random(self.n) < DUTY_PCT / 100)
        self.x["vacuum:V1"][:] = 80 + self.noise(2.0)
        self.x["vacuum_setpoint:V1"][:] = 80.0
        self.x["cooling_water_temperature"][:] = 18.0

    def draw(self, start_s: float, end_s: float, bands: float = 1.0) -> None:
        """The current of Z4 again, caught on or off with its output. bands: share of them that is alive."""
        part = self.span(start_s, end_s)
        on = self.rng.random(part.stop - part.start) < self.x["zone_output:Z4"][part] / 100
        self.x["zone_current:Z4"][part] = 20.0 * bands * on

    def add(self, key: str, start_s: float, end_s: float, by: float) -> None:
        """Raise a signal."""
        self.x[key][self.span(start_s, end_s)] += by

    def ramp(self, key: str, start_s: float, end_s: float, to: float) -> None:
        """From the value it has at the start to another, in a straight line."""
        part = self.span(start_s, end_s)
        self.x[key][part] = np.linspace(self.x[key][part.start], to, part.stop - part.start)

    def wave(self, key: str, start_s: float, end_s: float, height: float, period_s: float, fall: float = 0.5) -> None:
        """Add a wave, peak to peak `height`: a sine, or a saw-tooth that falls in the share `fall` of its period."""
        part = self.span(start_s, end_s)
        at = (np.arange(len(self.x[key][part])) * self.cadence % period_s) / period_s
        if fall == 0.5:
            self.x[key][part] += height / 2 * np.sin(2 * np.pi * at)
        else:
            self.x[key][part] += height * (np.where(at < 1 - fall, at / (1 - fall), (1 - at) / fall) - 0.5)

    def stop(self, start_s: float, end_s: float) -> None:
        """Screw and feed stand, zones stay as they are."""
        for key in ("screw_speed", "screw_speed_setpoint", "torque"):
            self.put(key, start_s, end_s, 0.0)
        for feeder in FEEDERS:
            for role in ("feeder_rate", "feeder_setpoint", "feeder_drive"):
                self.put(f"{role}:{feeder}", start_s, end_s, 0.0)
        self.put("melt_pressure:P1", start_s, end_s, 2.0)

    def round(self, step_c: float) -> None:
        """Temperatures as a display of that resolution gives them."""
        for zone in HEAT_ZONES:
            key = f"zone_temperature:{zone}"
            self.x[key] = np.round(self.x[key] / step_c) * step_c


def heat_running() -> World:
    """Three hours of running: most of what can befall a zone."""
    s = HeatScript(3 * 3600)
    s.add("zone_output:Z3", 3300, 5400, 14)
    s.add("zone_output:DIE", 3300, 5400, 16)
    s.add("zone_output:ADAPTER", 3300, 5400, -8)
    s.put("zone_cooling:Z5", 3300, 4500, 20)
    s.put("zone_auto:Z5", 6000, 7500, 0)
    s.put("zone_setpoint:DIE", 6000, 8000, 230)
    s.put("zone_temperature:DIE", 6000, 6600, 220, slope_s=10 / 600)
    s.put("zone_temperature:DIE", 6600, 8000, 230)
    s.add("zone_temperature:Z2", 6000, 8000, 6)
    s.put("zone_output:Z2", 6000, 8000, -30)
    s.add("zone_temperature:Z4", 6000, 8000, 6)
    s.put("zone_output:Z4", 6000, 8000, -100)
    s.wave("zone_temperature:Z1", 4500, 10800, 4, 480)
    s.wave("zone_temperature:Z2", 8400, 10800, 3, 150, fall=0.2)
    s.put("zone_output:Z2", 8400, 10800, -8)
    s.put("zone_output:Z4", 9000, 10600, 0)
    s.put("zone_current:Z4", 9000, 10600, 12)
    return s.world(HEAT_RECIPE)


def heat_stopping() -> World:
    """Three hours with a stop of twenty minutes: swapped couples in it, another couple type after it."""
    s = HeatScript(3 * 3600, seed=22)
    s.stop(4200, 5700)
    for zone, to_c, output in (("Z2", 208, 0), ("Z3", 205, 100)):
        s.ramp(f"zone_temperature:{zone}", 4300, 4600, to_c)
        s.put(f"zone_temperature:{zone}", 4600, 5500, to_c)
        s.ramp(f"zone_temperature:{zone}", 5500, 5800, HEAT_TARGETS[zone])
        s.put(f"zone_output:{zone}", 4300, 5500, output)
    s.add("zone_output:Z4", 5700, 10800, 15)
    for zone in ("Z3", "Z5"):
        s.add(f"zone_output:{zone}", 5700, 10800, -4)
    return s.world(HEAT_RECIPE)
