"""Runs are reproducible, cut and batch as one likes, and hold what people and loggers do."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.block import FRESH, NONE, QUALITY_MASK
from monitor.recipe import Recipe
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
    slow = simulate([relogged(single, plain=False, cadence_s=5.0)], [Scenario()], 600, 4)
    fast = simulate([single], [Scenario()], 600, 4)
    assert slow.block(0).step == 5 * 10**9 and slow.block(0).n == 120
    assert np.array_equal(slow.shown[0], fast.shown[0][::5])


def test_half_second_cadence_runs_on_half_second_steps(single):
    quick = simulate([relogged(single, plain=True, cadence_s=0.5)], [Scenario()], 300, 4).block(0)
    assert quick.n == 600 and quick.step == 500_000_000
    torque = quick.values[quick.channels.index("torque")]
    assert torque.mean() == pytest.approx(single.facts["steady"]["torque"], rel=0.03)


SECONDS = 2400


@pytest.fixture(scope="module")
def ran(twin):
    """Several scenarios of one plant, run side by side."""
    rng = np.random.default_rng(1)
    nuisances = clean_scenario(np.random.default_rng(3), twin, SECONDS, often=4.0)
    scenarios = {
        "log": Scenario(
            events=(
                Event(100, "gap", duration_s=100),
                Event(300, "spike", "torque", 0.0),
                Event(350, "note", "remark", text="talked"),
            )
        ),
        "hot start": Scenario(events=start_up(rng, twin, cold=False, screw_at_s=120), start="hot"),
        "cold start": fault_scenario(rng, twin, SECONDS, "cold_start", start_s=1800, subject="DIE"),
        "stop": Scenario(events=planned_stop(300, restart_s=900)),
        "clean": Scenario(
            events=tuple(e for e in nuisances.events if e.kind not in ("spike", "gap", "hopper_touched"))
        ),
    }
    runs = simulate([twin] * len(scenarios), list(scenarios.values()), SECONDS, 1)
    return {name: runs.block(i) for i, name in enumerate(scenarios)}


def _series(block, key):
    return block.values[block.channels.index(key)]


def test_gap_spike_and_notes(ran):
    block = ran["log"]
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


def test_start_up_reaches_the_recipe_without_a_trip(ran, twin):
    for key in ("torque", "melt_pressure:P1", "screw_speed", "feeder_rate:F1"):
        series = _series(ran["hot start"], key)
        assert series[:100].max() < 0.01 * twin.facts["steady"][key] + 1.0
        assert series[-300:].mean() == pytest.approx(twin.facts["steady"][key], rel=0.08)


def test_cold_start_shows_as_pressure(ran, twin):
    """A cold die stiffens the melt in it: pressure above the steady value while the rate is still low."""
    assert _series(ran["cold start"], "zone_temperature:Z4")[0] < 40.0
    assert _series(ran["cold start"], "zone_temperature:DIE")[1800] < twin.facts["soften_c"]
    pressure = _series(ran["cold start"], "melt_pressure:P1")
    assert pressure[1800:2200].max() > 1.1 * twin.facts["steady"]["melt_pressure:P1"]


def test_planned_stop_and_restart(ran):
    speed = _series(ran["stop"], "screw_speed")
    assert speed[500:890].max() < 1.0 < speed[1000]
    assert any(note.kind == "planned stop" for note in ran["stop"].notes)


def test_clean_shift_stays_inside_the_outer_windows(ran, twin):
    """Nuisances are no faults: one minute means of everything stay inside the recipe's outer limits."""
    block, recipe = ran["clean"], Recipe.model_validate(twin.recipe)
    for c, key in enumerate(block.channels):
        window = recipe.window_of(key)
        if window is None or key.startswith("feeder"):
            continue
        minutes = block.values[c].reshape(SECONDS // 60, 60).mean(1)
        assert window.low_outer is None or minutes.min() > window.low_outer, key
        assert window.high_outer is None or minutes.max() < window.high_outer, key


def test_faults_are_drawn_from_the_catalogue(twin):
    rng = np.random.default_rng(2)
    for kind in ("heater_dead", "feeder_bridged", "path_blocked"):
        fault = draw_fault(rng, twin, kind, 10.0, 20.0)
        assert fault.kind == kind and fault.end_s == 30.0
    with pytest.raises(ValueError, match="has no throat_bridged"):
        draw_fault(rng, twin, "throat_bridged", 10.0, 20.0)
