"""Some fifty minutes of the line with four feeders, in which one of them gets another material.

Not a plant: signals made by hand, only to make the rules fire.
"""

from __future__ import annotations

import numpy as np

from tests.monitor.scripted_world import World
from tests.monitor.world_feeders import FeederScript, feeder_recipe


def jump(s: FeederScript, feeder: str, by: float, at: float, fades_s: float = 40.0) -> None:
    """The rate is off by `by` and comes back, as its controller finds the speed for another bulk density."""
    part = s.span(at, at + 6 * fades_s)
    rate = s.x[f"feeder_rate:{feeder}"][part]
    rate *= 1 + by * np.exp(-np.arange(len(rate)) * s.cadence / fades_s)


def other_melt(s: FeederScript, start: float, end: float, torque: float, pressure: float, melt_c: float) -> None:
    """Torque, pressure and the melt's temperature step and stay."""
    s.scale("torque", start + 15, end, torque)
    s.scale("melt_pressure:P1", start + 20, end, pressure)
    s.x["melt_temperature:MT1"][s.span(start + 30, end)] += melt_c


def other_material(seed: int = 23) -> World:
    """Something thinner and denser comes in the main feeder."""
    s = FeederScript(3000, seed)
    s.even_weight("F1", 900, 0, 3000)
    s.even_weight("F2", 180, 0, 3000)
    jump(s, "F1", 0.1, 1800)
    other_melt(s, 1800, 3000, 0.9, 0.93, -12)
    return s.world(feeder_recipe())
