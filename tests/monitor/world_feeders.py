"""Three hours of a line with four feeders, one a side feeder and one a liquid, with one feeding trouble after another.

Not a plant: signals made by hand, only to make the rules fire.
"""

from __future__ import annotations

import numpy as np

from monitor.line import Line
from monitor.recipe import Recipe
from tests.monitor.scripted_world import FEEDERS, Script, World, scripted_line, scripted_recipe

LIQUID_KG_H = 12.0
SETS = {**FEEDERS, "L4": LIQUID_KG_H}
TOTAL = sum(SETS.values())


def feeder_line(cadence_s: float = 1.0) -> Line:
    """The scripted twin-screw line with a side feeder, a liquid feeder and a vent."""
    data = scripted_line(cadence_s=cadence_s).model_dump()
    data["feeder"] = [
        {"name": "F1", "at": "Z1", "material": "base"},
        {"name": "F2", "at": "Z3", "side": True, "material": "filler", "refill_below_kg": 10},
        {"name": "F3", "at": "Z1", "effect_on_torque": "none"},
        {"name": "L4", "at": "Z2", "kind": "liquid", "effect_on_torque": "lowers", "material": "oil"},
    ]
    data["vent"] = [{"name": "V1", "at": "Z3"}]
    extra = [(role, "L4") for role in ("feeder_rate", "feeder_setpoint", "injection_pressure")]
    extra += [("stuffer_load", "F2"), ("feeder_gravimetric", "F2"), ("vacuum", "V1")]
    data["sensor"] = [*data["sensor"], *({"tag": f"{role}.{at}", "role": role, "at": at} for role, at in extra)]
    return Line.model_validate({**data, "version": f"feeders-{cadence_s}"})


def feeder_recipe() -> Recipe:
    """Shares of all four, in no windows."""
    data = scripted_recipe().model_dump()
    data["recipe"] = {**data["recipe"], "rate_kg_h": TOTAL}
    data["shares"] = {name: 100 * rate / TOTAL for name, rate in SETS.items()}
    return Recipe.model_validate({**data, "window": [], "version": "feeders"})


class FeederScript(Script):
    """Undisturbed running of that line."""

    def __init__(self, seconds: int, seed: int = 21, cadence_s: float = 1.0) -> None:
        super().__init__(feeder_line(cadence_s), seconds, seed)
        self.x["feeder_setpoint:L4"][:] = LIQUID_KG_H
        self.x["feeder_rate:L4"][:] = LIQUID_KG_H * (1 + self.noise(0.01))
        self.x["injection_pressure:L4"][:] = 20 + self.noise(0.2)
        self.x["stuffer_load:F2"][:] = 40 + self.noise(0.5)
        self.x["feeder_gravimetric:F2"][:] = 1
        self.x["vacuum:V1"][:] = 80 + self.noise(1)

    def refill(self, feeder: str, at_s: float, kg: float, over_s: float = 20.0, marked: bool = True) -> None:
        """Fills a hopper by `kg` within `over_s`."""
        weight = self.x[f"feeder_weight:{feeder}"]
        part = self.span(at_s, at_s + over_s)
        weight[part] += np.linspace(0, kg, len(weight[part]))
        weight[self.span(at_s + over_s, 1e9)] += kg
        if marked:
            self.put(f"feeder_refill:{feeder}", at_s, at_s + over_s, 1)

    def loses(self, feeder: str, start_s: float, end_s: float, kg_h: float) -> None:
        """Takes so much more out of a hopper over a time."""
        weight = self.x[f"feeder_weight:{feeder}"]
        part = self.span(start_s, end_s)
        taken = kg_h / 3600 * self.cadence * np.arange(len(weight[part]))
        weight[part] -= taken
        weight[self.span(end_s, 1e9)] -= taken[-1]

    def bursts(self, feeder: str, start_s: float, end_s: float, by: float = 0.15, period_s: float = 70.0) -> None:
        """Its rate swings by so much to both sides."""
        rate = self.x[f"feeder_rate:{feeder}"][self.span(start_s, end_s)]
        rate *= 1 + by * np.sin(2 * np.pi * self.cadence * np.arange(len(rate)) / period_s)

    def even_weight(self, feeder: str, start_kg: float, start_s: float, end_s: float) -> None:
        """A weight that falls by the set rate, without refills, for a time."""
        part = self.span(start_s, end_s)
        count = len(self.x[f"feeder_weight:{feeder}"][part])
        fall = SETS[feeder] / 3600 * self.cadence * np.arange(count)
        self.x[f"feeder_weight:{feeder}"][part] = start_kg - fall + self.noise(0.01)[part]
        self.put(f"feeder_refill:{feeder}", start_s, end_s, 0)


def troubled_feeders(seed: int = 21, cadence_s: float = 1.0) -> World:
    """One trouble after the other."""
    s = FeederScript(3 * 3600, seed, cadence_s)
    s.even_weight("F2", 180, 0, 4500)
    s.even_weight("F1", 900, 600, 1190)
    s.scale("feeder_rate:F1", 850, 900, 0.92)
    s.scale("torque", 860, 1190, 1.06)
    s.scale("feeder_drive:F3", 1200, 1950, 2.1)
    for what in ("rate", "setpoint"):
        s.scale(f"feeder_{what}:F2", 2050, 2300, 0.85)
    s.scale("feeder_drive:F1", 2450, 3100, 1.12)
    s.scale("torque", 2450, 3100, 1.08)
    s.loses("F2", 3200, 4300, 0.2 * SETS["F2"])
    s.bursts("F1", 3400, 3880)
    s.even_weight("F2", 100, 4500, 4800)
    s.refill("F2", 4500, 20)
    s.loses("F2", 4525, 4600, 5 * SETS["F2"])
    s.even_weight("F2", 9, 4800, 5200)
    s.even_weight("F2", 150, 5200, 10800)
    for what in ("rate", "setpoint", "drive"):
        s.put(f"feeder_{what}:F3", 5400, 6600, 0)
    s.put("feeder_weight:F3", 5400, 6600, 30, slope_s=0.001)
    s.put("feeder_gravimetric:F2", 6700, 7200, 0)
    s.refill("F2", 7500, 25)
    s.scale("feeder_drive:F2", 7530, 8100, 0.85)
    s.scale("torque", 7620, 8100, 1.06)
    s.scale("stuffer_load:F2", 8300, 8600, 1.5)
    s.scale("torque", 8310, 8550, 0.96)
    s.scale("torque", 8550, 8600, 1.1)
    s.scale("injection_pressure:L4", 8800, 8950, 1.6)
    s.scale("feeder_rate:L4", 8800, 8950, 0.8)
    s.scale("injection_pressure:L4", 9050, 9150, 0.05)
    s.scale("feeder_rate:L4", 9050, 9150, 0.02)
    _start_in_wrong_order(s)
    return s.world(feeder_recipe())


def _start_in_wrong_order(s: FeederScript) -> None:
    """Ten minutes and more of standing, then everything at once, long before melt shows at the die."""
    stop, start, through = 9250, 10000, 10150
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, stop, start, 0.0)
    for feeder in SETS:
        for what in ("rate", "setpoint"):
            s.put(f"feeder_{what}:{feeder}", stop, start, 0.0)
    for feeder, kg_h in (("F1", 10), ("F2", 8), ("F3", 0), ("L4", 1)):
        s.put(f"feeder_rate:{feeder}", start, through, kg_h)
    s.put("melt_pressure:P1", stop, through, 2.0)
