"""The live line: for ever, repeatable, resumable, with something to see now and then."""

from __future__ import annotations

import numpy as np
import pytest

from sample_logs.draw_plant import relogged
from sample_logs.live import LivePlant


@pytest.fixture
def plant(single):
    return relogged(single, plain=True, cadence_s=1.0)


def test_pieces_make_the_same_line(plant):
    whole = LivePlant(3, plant=plant).step(900)
    live = LivePlant(3, plant=plant)
    parts = [live.step(s) for s in (1, 0.4, 0.6, 298, 0, 600)]
    assert np.array_equal(np.concatenate([p.values for p in parts], axis=1), whole.values)
    assert parts[1].n == 0 and parts[-1].end == whole.end
    assert sorted(n for p in parts for n in p.notes) == sorted(whole.notes)


def test_skip_and_snapshot_go_on_exactly(plant):
    first = LivePlant(3, plant=plant)
    first.step(700)
    kept = first.snapshot()
    goes_on = first.step(700)
    resumed = LivePlant.resume(kept).step(700)
    assert np.array_equal(goes_on.values, resumed.values) and goes_on.t0 == resumed.t0
    skipped = LivePlant(3, plant=plant)
    skipped.skip(700)
    assert np.array_equal(skipped.step(700).values, goes_on.values)


def test_speed_up(plant):
    assert LivePlant(3, 30.0, plant=plant).step(10).n == 300


def test_first_fault_comes_in_the_first_half_hour(twin):
    live = LivePlant(2, plant=relogged(twin, plain=False, cadence_s=1.0))
    live.skip(1600)
    (fault,) = live.truth()
    assert fault.fault == "feeder_bridged" and fault.end_ns > fault.start_ns > live.start_ns
    assert LivePlant(2, plant=live.plant, faults=False).truth() == []


def test_a_foreign_snapshot_is_refused():
    import pickle

    with pytest.raises(TypeError, match="not a snapshot"):
        LivePlant.resume(pickle.dumps({}))
