"""Runs are reproducible, cut and batch as one likes, and hold what people and loggers do."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.block import FRESH, NONE, QUALITY_MASK
from sample_logs.draw_plant import relogged
from sample_logs.draw_scenario import clean_scenario, draw_fault, fault_scenario, planned_stop, start_up
from sample_logs.faults import Fault
from sample_logs.logger import _stored
from sample_logs.scenario import Event, Scenario
from sample_logs.simulate import simulate


def test_equal_arguments_give_equal_runs_in_any_batch(twin, single):
    scenario = Scenario((Fault("path_blocked", "", 200, 300, 1.0),))
    alone = simulate([twin], [scenario], 600, 4)
    batch = simulate([twin, single, twin], [scenario, Scenario(), Scenario()], 600, 4)
    assert np.array_equal(alone.block(0).values, batch.block(0).values, equal_nan=True)
    again = simulate([twin], [scenario], 600, 5)
    assert not np.array_equal(alone.block(0).values, again.block(0).values)


def test_longer_run_begins_like_a_shorter_one(single):
    short = simulate([single], [Scenario()], 700, 4).block(0)
    longer = simulate([single], [Scenario()], 1300, 4).block(0)
    assert np.array_equal(short.values, longer.values[:, :700])


def test_cadence_only_picks_readings(single):
    slow = simulate([relogged(single, plain=False, cadence_s=5.0)], [Scenario()], 600, 4).block(0)
    fast = simulate([single], [Scenario()], 600, 4).block(0)
    assert slow.step == 5 * 10**9 and slow.n == 120
    assert np.array_equal(slow.values, fast.values[:, ::5])


def test_half_second_cadence_runs_on_half_second_steps(single):
    quick = simulate([relogged(single, plain=True, cadence_s=0.5)], [Scenario()], 300, 4).block(0)
    assert quick.n == 600 and quick.step == 500_000_000
    torque = quick.values[quick.channels.index("torque")]
    assert torque.mean() == pytest.approx(single.facts["steady"]["torque"], rel=0.03)


def test_gap_spike_and_notes(twin):
    events = (
        Event(100, "gap", duration_s=100),
        Event(300, "spike", "torque", 0.0),
        Event(350, "note", "remark", text="talked"),
    )
    block = simulate([twin], [Scenario(events=events)], 400, 1).block(0)
    torque = block.channels.index("torque")
    assert block.status[torque, 99] & FRESH
    assert not block.status[torque, 105] & FRESH and np.isfinite(block.values[torque, 105])
    assert block.status[torque, 150] & QUALITY_MASK == NONE and np.isnan(block.values[torque, 150])
    assert block.status[torque, 200] & FRESH
    assert block.values[torque, 300] == 0.0 and block.values[torque, 301] > 10.0
    assert [(n.kind, n.text) for n in block.notes if n.kind == "remark"] == [("remark", "talked")]


def test_store_on_change_keeps_moves_and_a_heartbeat():
    values = np.array([1.0, 1.1, 1.0, 1.5, 1.5, 1.5, 1.5, 1.5, 1.4, 2.5, 2.5])
    kept = np.flatnonzero(_stored(values, 0.3, 4)).tolist()
    assert kept == [0, 3, 7, 9]


def test_start_up_reaches_the_recipe_without_a_trip(twin):
    rng = np.random.default_rng(1)
    scenario = Scenario(events=start_up(rng, twin, cold=False, screw_at_s=120), start="hot")
    block = simulate([twin], [scenario], 2400, 1).block(0)
    for key in ("torque", "melt_pressure:P1", "screw_speed", "feeder_rate:F1"):
        assert block.values[block.channels.index(key)][:100].max() < 0.01 * twin.facts["steady"][key] + 1.0
        assert block.values[block.channels.index(key)][-300:].mean() == pytest.approx(
            twin.facts["steady"][key], rel=0.08
        )


def test_cold_start_shows_as_pressure(twin):
    """A cold die stiffens the melt in it: pressure above the steady value while the rate is still low."""
    rng = np.random.default_rng(1)
    scenario = fault_scenario(rng, twin, 3600, "cold_start", start_s=2400, subject="DIE")
    assert scenario.start == "cold"
    block = simulate([twin], [scenario], 3000, 1).block(0)
    die = block.values[block.channels.index("zone_temperature:DIE")]
    assert die[2400] < twin.facts["soften_c"] < die[:2400].max() + 60
    pressure = block.values[block.channels.index("melt_pressure:P1")]
    assert pressure[2400:2700].max() > 1.1 * twin.facts["steady"]["melt_pressure:P1"]


def test_planned_stop_and_restart(twin):
    block = simulate([twin], [Scenario(events=planned_stop(300, restart_s=900))], 1800, 1).block(0)
    speed = block.values[block.channels.index("screw_speed")]
    assert speed[500:890].max() < 1.0 < speed[1000]
    assert any(note.kind == "planned stop" for note in block.notes)


def test_clean_shift_stays_inside_the_outer_windows(twin):
    """Nuisances are no faults: one minute means of everything stay inside the recipe's outer limits."""
    from monitor.recipe import Recipe

    scenario = clean_scenario(np.random.default_rng(3), twin, 3600, often=3.0)
    quiet = tuple(e for e in scenario.events if e.kind not in ("spike", "gap", "hopper_touched"))
    block = simulate([twin], [Scenario(events=quiet)], 3600, 1).block(0)
    recipe = Recipe.model_validate(twin.recipe)
    for c, key in enumerate(block.channels):
        window = recipe.window_of(key)
        if window is None or key.startswith("feeder"):
            continue
        minutes = block.values[c].reshape(60, 60).mean(1)
        assert window.low_outer is None or minutes.min() > window.low_outer, key
        assert window.high_outer is None or minutes.max() < window.high_outer, key


def test_faults_are_drawn_from_the_catalogue(twin):
    rng = np.random.default_rng(2)
    for kind in ("heater_dead", "feeder_bridged", "path_blocked"):
        fault = draw_fault(rng, twin, kind, 10.0, 20.0)
        assert fault.kind == kind and fault.end_s == 30.0
    with pytest.raises(ValueError, match="has no throat_bridged"):
        draw_fault(rng, twin, "throat_bridged", 10.0, 20.0)
