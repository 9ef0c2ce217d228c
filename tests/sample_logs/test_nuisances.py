"""Nuisances are what they are called, none leaves the plant with a fault, and every one can be drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from monitor.recipe import Recipe
from sample_logs.nuisances import NUISANCES, able, draw_shift, second_recipe, soaked_s
from sample_logs.nuisances_running import HOTTER_C, RATE_PART
from sample_logs.rich_plant import enriched
from sample_logs.simulate import simulate

SHIFT_S = 12 * 3600.0


@pytest.fixture(scope="module")
def rich(twin, single):
    return {p.kind: enriched(np.random.default_rng(1), p) for p in (twin, single)}


@pytest.mark.parametrize("name", NUISANCES)
def test_every_nuisance_fills_a_shift(rich, name):
    """Over and over: events inside the shift, in order; the same seed gives the same shift."""
    for plant in rich.values():
        if not able(plant, NUISANCES[name]):
            continue
        shifts = [draw_shift(np.random.default_rng(3), plant, [name], SHIFT_S, over_and_over=True) for _ in range(2)]
        assert shifts[0].scenario == shifts[1].scenario
        times = [e.at_s for e in shifts[0].scenario.events]
        assert times == sorted(times) and all(0.0 <= t < SHIFT_S for t in times)
        assert not shifts[0].scenario.faults
        assert name == "nothing" or shifts[0].happenings


def test_section_six_is_covered():
    """Words of the section, one by one (clock change and time zones are the reader's; no finding of the plant's)."""
    words = " ".join(n.words for n in NUISANCES.values())
    for word in ("heat-up", "ramp", "soak", "recipe change", "stop", "screen change", "vent cleaning", "die wipe",
                 "rethreading", "several feeders", "by hand", "catch sample", "calibration", "tare", "leaning",
                 "extraction pulse", "blanket gas", "rate trim", "limiter", "ratio control", "autotune", "set-back",
                 "ambient", "cooling-water", "voltage sag", "neighbour", "lot", "communication gap", "zeros", "stale",
                 "store-and-forward", "integer", "deadband", "set-point", "clocks", "spike", "aliasing"):  # fmt: skip
        assert word in words, word


def test_log_nuisances_change_the_log_and_nothing_else(rich):
    plant = rich["twin-screw"]
    rng = np.random.default_rng(2)
    spoiled = {n: NUISANCES[n].log(rng, plant) for n in ("integer_tags", "set_point_as_actual", "clocks_apart")}
    spoiled["clocks_apart"] = replace(plant, facts={**plant.facts, "clock_late_s": {"zones": 20.0}})
    borrowed = "zone_temperature:Z4"
    spoiled["set_point_as_actual"] = replace(plant, facts={**plant.facts, "set_point_as_actual": (borrowed,)})
    shift = draw_shift(rng, plant, ["nothing"], 600.0, over_and_over=False)
    runs = simulate([plant], [shift.scenario], 600.0, 1)
    good = runs.block(0).values
    seen = {n: runs.logged_as([p]).block(0).values for n, p in spoiled.items()}
    torque, zone, setpoint = (plant.channels.index(k) for k in ("torque", borrowed, "zone_setpoint:Z4"))
    assert np.array_equal(seen["integer_tags"][torque], np.round(seen["integer_tags"][torque]))
    assert np.array_equal(seen["set_point_as_actual"][zone], good[setpoint])
    assert np.array_equal(seen["clocks_apart"][zone][20:], good[zone][:-20])
    assert np.array_equal(seen["clocks_apart"][torque], good[torque])


def test_a_soaked_start_is_no_cold_start(rich):
    """At the end of the soak every zone from the melting length on is at its set-point."""
    plants = [p for p in rich.values() if able(p, NUISANCES["heat_up"])]
    assert plants
    for plant in plants:
        shift = draw_shift(np.random.default_rng(5), plant, ["heat_up"], 5 * 3600.0, over_and_over=False)
        turns = soaked_s(plant)
        shown = simulate([plant], [shift.scenario], turns, 1).shown[0]
        for zone, wanted in list(zip(plant.zones, plant.nominal.zone_c, strict=True))[2:]:
            assert abs(shown[-60:, plant.channels.index(f"zone_temperature:{zone}")].mean() - wanted) < 4.0, zone


def test_second_recipe_is_one(rich):
    for plant in rich.values():
        recipe = Recipe.model_validate(second_recipe(plant, HOTTER_C, RATE_PART))
        assert recipe.name.endswith(" II")
        assert recipe.zones["Z4"] == pytest.approx(plant.recipe["zones"]["Z4"] + HOTTER_C)
