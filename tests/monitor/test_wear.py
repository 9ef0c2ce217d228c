"""Wear over runs: found with an interval where it is there, not found in noise, other materials and other pressures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from monitor.wear import RunSummary, flood_fed_wear, starve_fed_wear


def runs(count: int = 30, per_1000_h: float = 0.0, melt_per_1000_h: float = 0.0, seed: int = 4) -> list[RunSummary]:
    rng = np.random.default_rng(seed)
    return [
        RunSummary(
            hours=100.0 * i,
            material="A",
            specific_throughput=1.5 * math.exp(per_1000_h / 100 * i / 10 + rng.normal(0, 0.005)),
            pressure_bar=120 + rng.normal(0, 2),
            melt_c=220 + melt_per_1000_h * i / 10 + rng.normal(0, 0.5),
            sme=0.2 * math.exp(rng.normal(0, 0.01)),
        )
        for i in range(count)
    ]


def test_a_worn_flood_fed_screw_loses_output_per_turn() -> None:
    """Two percent each thousand hours over 2,900 h: 5.8 % in all."""
    wear = flood_fed_wear(runs(per_1000_h=-2.0))

    assert wear.certain and wear.low <= -5.8 <= wear.high < 0
    assert wear.per_1000_h == pytest.approx(-2.0, abs=0.4) and wear.runs == wear.of == 30


@pytest.mark.parametrize("seed", range(8))
def test_noise_is_no_wear(seed: int) -> None:
    wear = flood_fed_wear(runs(seed=seed))

    assert wear.low < 1.0 and wear.high > -1.0


def test_other_materials_and_pressures_are_left_out() -> None:
    """A stiffer material and a filled screen lose output too, and are no wear."""
    mixed = [
        replace(run, material="B", specific_throughput=1.2) if i % 4 == 3
        else replace(run, pressure_bar=180.0, specific_throughput=1.3) if i >= 15 and i % 4 == 1
        else run
        for i, run in enumerate(runs())
    ]  # fmt: skip
    wear = flood_fed_wear(mixed)

    assert not wear.certain and wear.runs < wear.of and abs(wear.change) < 1.5


def test_starve_fed_wear_shows_in_the_melt_temperature() -> None:
    warm, energy = starve_fed_wear(runs(melt_per_1000_h=3.0))

    assert warm.certain and warm.low <= 8.7 <= warm.high
    assert not energy.certain


def test_too_few_runs_say_nothing() -> None:
    wear = flood_fed_wear(runs(5, per_1000_h=-10))

    assert math.isnan(wear.change) and not wear.certain and wear.runs == 5
    assert flood_fed_wear([]).runs == 0
