"""Scripted worlds for the conditions on how full the screws are: signals, no physics of a plant."""

from __future__ import annotations

import numpy as np

from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.scripted_world import Script, World, scripted_line, scripted_recipe


def fill_line(cadence_s: float = 1.0) -> Line:
    """The scripted twin-screw with pressures on both sides of the screen and in the barrel, two vents, a throat."""
    data = scripted_line(cadence_s=cadence_s).model_dump(mode="json")
    data["vent"] = [{"name": "V1", "at": "Z3"}, {"name": "V2", "at": "Z3", "gauge": "pump"}]
    for sensor in data["sensor"]:
        if sensor["tag"] == "P1":
            sensor["position"] = "before_screen"
    data["sensor"] += [
        {"tag": "P2", "role": "melt_pressure", "at": "P2", "position": "after_screen"},
        {"tag": "PB", "role": "melt_pressure", "at": "Z2", "position": "barrel"},
        {"tag": "PV", "role": "melt_pressure", "at": "V1", "position": "vent"},
        {"tag": "throat", "role": "throat_temperature"},
    ]
    for vent in ("V1", "V2"):
        data["sensor"] += [
            {"tag": f"vacuum.{vent}", "role": "vacuum", "at": vent},
            {"tag": f"vacuum_setpoint.{vent}", "role": "vacuum_setpoint", "at": vent},
        ]
    return Line.model_validate({**data, "version": f"fill-{cadence_s}"})


FILL_LINE = fill_line()


class FillScript(Script):
    """Undisturbed running of the fill line, changed event by event."""

    def __init__(self, seconds: int, seed: int = 31, line: Line = FILL_LINE) -> None:
        super().__init__(line, seconds, seed)
        self.x["melt_pressure:P2"][:] = 40 + self.noise(0.4)
        self.x["melt_pressure:Z2"][:] = 2.0 + self.noise(0.05)
        self.x["melt_pressure:V1"][:] = 1.5 + self.noise(0.05)
        self.x["throat_temperature"][:] = 35 + self.noise(0.1)
        for vent in ("V1", "V2"):
            self.x[f"vacuum:{vent}"][:] = 80 + self.noise(2.0)
            self.x[f"vacuum_setpoint:{vent}"][:] = 80.0

    def back_up(self, key: str, start_s: float, end_s: float, bar: float = 9.0) -> None:
        """Melt stands at a sensor, restless."""
        part = self.span(start_s, end_s)
        self.x[key][part] = bar + self.noise(1.2)[part]


def fill_recipe() -> Recipe:
    """The scripted one."""
    return scripted_recipe()


def fill_twin() -> World:
    """Three hours: vents flood, melt backs up, screen and lot, path and intake, and at last the coupling goes."""
    s = FillScript(3 * 3600)
    s.x["vacuum:V1"][s.span(1200, 1500)] += 120
    s.scale("torque", 1190, 1500, 1.07)
    s.back_up("melt_pressure:Z2", 2000, 2300)
    s.scale("melt_pressure:P1", 2800, 3400, 1.3)
    s.scale("torque", 2800, 3400, 1.03)
    for key in ("melt_pressure:P1", "melt_pressure:P2", "torque"):
        s.scale(key, 4200, 4900, 1.2)
    s.put("torque", 5600, 5800, 9.5)
    s.scale("melt_pressure:P1", 5605, 5800, 0.5)
    s.scale("feeder_drive:F1", 6600, 7200, 1.2)
    s.scale("torque", 6660, 7200, 0.85)
    s.scale("melt_pressure:P1", 6670, 7200, 0.95)
    part = s.span(8000, 8400)
    s.x["vacuum:V2"][part] = 60 + s.noise(0.2)[part]
    s.scale("torque", 7990, 8400, 1.08)
    s.put("torque", 9600, 9900, 8.5)
    s.put("melt_pressure:P1", 9604, 9900, 58, slope_s=-0.4)
    s.x["melt_pressure:P1"] = np.maximum(s.x["melt_pressure:P1"], 1.0)
    return s.world(fill_recipe())


HOPPER = "hopper_level"


def surging_single() -> World:
    """An hour and a half of a flood-fed screw: pressure dips every 100 s, load before it; then its hopper empties."""
    s = Script(with_hopper(scripted_line("single-screw")), 5400, 32)
    dips(s, 1500, 4200, 100.0, lead_s=20.0)
    loaded(s, 4300, 1200)
    return s.world(scripted_recipe("single-screw"))


def with_hopper(line: Line) -> Line:
    """The line with a level probe in the hopper over its throat."""
    data = line.model_dump()
    data["sensor"] = (*data["sensor"], {"tag": HOPPER, "role": HOPPER})
    return Line.model_validate({**data, "version": f"{line.version} with a hopper"})


def loaded(s: Script, until_s: float, empty_in_s: float) -> None:
    """A loader tops up from 70 to 80 % every four minutes, until it stops; the probe reads whole per cent."""
    t = np.arange(s.n) * s.cadence
    saw = 80 - 10 * (t % 240) / 240 + np.random.default_rng(3).normal(0, 0.5, s.n)
    left = 75 * np.maximum(1 - (t - until_s) / empty_in_s, 0.0)
    s.x[HOPPER] = np.where(t < until_s, saw, left).round()


def dips(s: Script, start_s: float, end_s: float, period_s: float, lead_s: float, depth: float = 0.25) -> None:
    """Pressure and load dip and come back, load first."""
    t = np.arange(s.n) * s.cadence
    inside = (t >= start_s) & (t < end_s)
    for key, ahead, share in (("melt_pressure:P1", 0.0, 1.0), ("torque", lead_s, 0.6)):
        turn = ((t + ahead - start_s) % period_s) / period_s
        dip = np.exp(-0.5 * ((turn - 0.5) / 0.1) ** 2)
        s.x[key] = np.where(inside, s.x[key] * (1 - share * depth * dip), s.x[key])
