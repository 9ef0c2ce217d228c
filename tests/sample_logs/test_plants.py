"""Drawn plants are lines an engineer would believe, with files that the models accept."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.line import Line
from monitor.recipe import Recipe
from sample_logs.draw_plant import draw_plant, relogged

PLAIN_TWIN = {"zone_temperature", "zone_setpoint", "zone_output", "screw_speed", "torque", "melt_pressure",
              "melt_temperature", "feeder_rate", "feeder_setpoint"}  # fmt: skip


@pytest.fixture(scope="module")
def drawn():
    kinds = ("twin-screw", "single-screw")
    return [draw_plant(np.random.default_rng(40 + s), kinds[s % 2]) for s in range(4)]


def test_files_are_accepted(drawn):
    for plant in drawn:
        line, recipe = Line.model_validate(plant.line), Recipe.model_validate(plant.recipe)
        assert line.channels == plant.channels
        assert recipe.recipe.rate_kg_h == pytest.approx(plant.facts["rate_kg_h"], rel=0.01)


def test_specific_energy_is_plausible(drawn):
    """0.12 to 0.30 kWh/kg: range of typical figures for compounding (values from memory)."""
    for plant in drawn:
        assert 0.12 <= plant.facts["sme_kwh_kg"] <= 0.30


def test_steady_state_lies_inside_its_own_windows(drawn):
    for plant in drawn:
        recipe = Recipe.model_validate(plant.recipe)
        for key in plant.channels:
            window = recipe.window_of(key)
            if window is not None:
                value = plant.facts["steady"][key]
                assert window.low is None or value > window.low, key
                assert window.high is None or value < window.high, key


def test_every_zone_can_hold_its_set_point(drawn):
    for plant in drawn:
        for zone, limit in zip(plant.zones, plant.parameters.zone.limit_pct, strict=True):
            assert -92.0 < plant.facts["steady"][f"zone_output:{zone}"] < 0.9 * limit


def test_pressure_follows_the_machine(drawn):
    for plant in drawn:
        assert 20.0 < plant.facts["steady"]["melt_pressure:P1"] < 0.75 * plant.facts["limit_bar"]
        assert plant.facts["steady"]["melt_pressure:P2"] < plant.facts["steady"]["melt_pressure:P1"]


def test_residence_time_is_plausible(drawn):
    """10 to 150 s for twin screws, longer for single screws (common practice, no source)."""
    for plant in drawn:
        state = plant.settled.barrel
        held = float(state.mass_kg.sum() if plant.kind == "twin-screw" else state.content_kg.sum())
        mean_s = held / plant.facts["rate_kg_h"] * 3600.0
        assert (10 < mean_s < 150) if plant.kind == "twin-screw" else (30 < mean_s < 500)


def test_plain_set_has_no_drive_or_weight(drawn):
    for plant in drawn:
        if plant.kind == "twin-screw":
            roles = {key.split(":")[0] for key in relogged(plant, plain=True, cadence_s=2.0).channels}
            assert roles == PLAIN_TWIN


def test_equal_seed_equal_plant():
    one, two = (draw_plant(np.random.default_rng(9), "twin-screw") for _ in range(2))
    assert one.line == two.line and one.recipe == two.recipe
    assert np.array_equal(one.settled.barrel.temperature_c, two.settled.barrel.temperature_c)
