"""A quiet half day at four feeders, as badly logged as plants log it: hardly a finding, and none that asks for more.

Rates scatter by 3 % from reading to reading, partly from one to the next; feed factors wander by 3 %; hoppers are
refilled at a third, marked or not; scales shake or show tenths; torque and pressure wander. All invented.
"""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.registry import CONDITIONS
from tests.monitor.conditions.told import told, without
from tests.monitor.world_feeders import SETS, FeederScript, feeder_recipe

HOURS = 12
HOPPERS = {"F1": 60.0, "F2": 90.0, "F3": 8.0}
FEEDING = tuple(c for c in CONDITIONS if c.family in ("feeder", "composition"))


def wandering(rng: np.random.Generator, n: int, cells: float) -> np.ndarray:
    """Unit variance, correlated over so many cells."""
    keep = np.exp(-1 / cells)
    white, out, value = rng.normal(size=n), np.empty(n), 0.0
    for cell in range(n):
        value = keep * value + np.sqrt(1 - keep * keep) * white[cell]
        out[cell] = value
    return out


def quiet(seed: int, cadence_s: float, fill_s: float, noise_kg: float, digit_kg: float, marked: bool) -> FeederScript:
    s = FeederScript(HOURS * 3600, seed, cadence_s)
    rng = np.random.default_rng(seed)
    for feeder, hopper in HOPPERS.items():
        slow = wandering(rng, s.n, 20 / cadence_s)
        true = SETS[feeder] * (1 + 0.015 * slow)
        shown = true * (1 + 0.025 * rng.normal(size=s.n))
        weight, mark, level, left = np.empty(s.n), np.zeros(s.n), 0.9 * hopper, 0.0
        for cell in range(s.n):
            level -= true[cell] * cadence_s / 3600
            if left <= 0 and level < 0.33 * hopper:
                left, gain = fill_s, (0.9 * hopper - level) / fill_s
            if left > 0:
                level += gain * cadence_s
                left -= cadence_s
                mark[cell] = 1
                shown[cell] = SETS[feeder]
            weight[cell] = level
        wander = np.exp(0.03 * wandering(rng, s.n, 3600 / cadence_s))
        drive = 45 * wander * np.where(mark > 0, 1.0, shown / SETS[feeder])
        weight = weight + noise_kg * rng.normal(size=s.n)
        s.x[f"feeder_rate:{feeder}"], s.x[f"feeder_drive:{feeder}"] = shown, drive
        s.x[f"feeder_weight:{feeder}"] = np.round(weight / digit_kg) * digit_kg
        s.x[f"feeder_refill:{feeder}"] = mark if marked else np.zeros(s.n)
    s.x["torque"] *= 1 + 0.01 * wandering(rng, s.n, 1800 / cadence_s)
    s.x["melt_pressure:P1"] *= 1 + 0.015 * wandering(rng, s.n, 1800 / cadence_s)
    return s


@pytest.mark.parametrize(
    ("fill_s", "noise_kg", "digit_kg", "marked"),
    [
        (20, 0.01, 0.001, True),
        (20, 0.02, 0.1, False),
        (300, 0.02, 0.01, True),
        (300, 0.05, 0.1, False),
        (20, 0.2, 0.1, False),
    ],
)
@pytest.mark.parametrize("gone", [(), ("feeder_drive",), ("feeder_weight",)])
def test_hardly_anything_is_said(
    fill_s: float, noise_kg: float, digit_kg: float, marked: bool, gone: tuple[str, ...]
) -> None:
    s = quiet(3, 5.0, fill_s, noise_kg, digit_kg, marked)
    found = told(s, *FEEDING, line=without(s.line, *gone) if gone else s.line, recipe=feeder_recipe())
    asked = [(f.last.condition, f.last.summary) for f in found if f.last.priority < 4]

    assert len(asked) <= 1, asked
