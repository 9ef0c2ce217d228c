"""Loss-in-weight feeders: what they report, what they give, and how they fail."""

from __future__ import annotations

import numpy as np
import pytest

from sample_logs.faults import Fault
from sample_logs.scenario import Event, Scenario
from sample_logs.simulate import simulate


def _series(block, key):
    return block.values[block.channels.index(key)]


def _slope_kg_h(weight: np.ndarray) -> float:
    return -float(np.polyfit(np.arange(len(weight)), weight, 1)[0]) * 3600.0


SCENARIOS = {
    "calm": Scenario(),
    "bridged": Scenario((Fault("feeder_bridged", "F1", 600, 5000, 1.0),)),
    "volumetric": Scenario((Fault("feeder_bridged_volumetric", "F1", 600, 5000, 1.0),)),
    "span": Scenario((Fault("scale_span", "F1", 600, 5000, 0.10),)),
    "touched": Scenario(events=(Event(600.0, "hopper_touched", "F2", 0.3, 8.0),)),
    "empty": Scenario((Fault("feeder_empty", "F1", 60, 9000, 1.0),)),
}


@pytest.fixture(scope="module")
def ran(twin):
    runs = simulate([twin] * len(SCENARIOS), list(SCENARIOS.values()), 2400, 5)
    return {name: runs.block(i) for i, name in enumerate(SCENARIOS)}


@pytest.fixture
def calm(ran):
    return ran["calm"]


def test_weight_slope_is_the_rate(calm, twin):
    """Regression of the net weight between refills gives the set rate within the scatter (slope of -dm/dt)."""
    refill = _series(calm, "feeder_refill:F1") > 0
    after = int(np.flatnonzero(~refill[:-1] & (np.diff(refill.astype(int)) == 0))[0])
    stop = after + int(np.argmax(refill[after:])) if refill[after:].any() else calm.n
    stretch = slice(after + 5, min(stop - 5, after + 600))
    weight = _series(calm, "feeder_weight:F1")[stretch]
    assert len(weight) > 90
    assert _slope_kg_h(weight) == pytest.approx(float(twin.nominal.feeder_kg_h[0]), rel=0.015)
    shown = _series(calm, "feeder_rate:F1")[stretch].mean()
    assert shown == pytest.approx(_slope_kg_h(weight), rel=0.015)


def test_reported_rate_holds_the_set_point_in_the_mean(calm, twin):
    for feeder, wanted in zip(twin.feeders, twin.nominal.feeder_kg_h[list(twin.facts["slots"])], strict=True):
        assert _series(calm, f"feeder_rate:{feeder}").mean() == pytest.approx(float(wanted), rel=0.01)


def test_refills_come_and_the_rate_stands_on_set_meanwhile(calm):
    refill = _series(calm, "feeder_refill:F1") > 0
    assert refill.any() and not refill.all()
    rate = _series(calm, "feeder_rate:F1")
    assert np.abs(rate[refill] - np.median(rate)).max() < 0.08 * np.median(rate)


def test_bridged_feeder(twin, ran):
    block = ran["bridged"]
    weight, drive, rate = (_series(block, f"feeder_{r}:F1") for r in ("weight", "drive", "rate"))
    refill = _series(block, "feeder_refill:F1")
    assert drive[700:].mean() > 98.0
    assert rate[760:].mean() < 0.03 * float(twin.nominal.feeder_kg_h[0])
    if not refill[620:].any():
        assert abs(weight[650] - weight[1190]) < 0.02
    torque = _series(block, "torque")
    assert torque[640:700].mean() < 0.75 * torque[300:600].mean()


def test_bridged_in_volumetric_reads_on_set_while_the_weight_stands_still(twin, ran):
    block = ran["volumetric"]
    wanted = float(twin.nominal.feeder_kg_h[0])
    assert _series(block, "feeder_rate:F1")[800:].mean() == pytest.approx(wanted, rel=0.02)
    assert _series(block, "feeder_gravimetric:F1")[800:].max() == 0.0
    assert 20.0 < _series(block, "feeder_drive:F1")[800:].mean() < 90.0
    assert np.ptp(_series(block, "feeder_weight:F1")[820:1190]) < 0.1


def test_wrong_span_hides_in_the_rate_and_shows_in_the_drive(ran):
    block = ran["span"]
    drive, rate = _series(block, "feeder_drive:F1"), _series(block, "feeder_rate:F1")
    assert rate[1500:].mean() == pytest.approx(rate[200:600].mean(), rel=0.02)
    torque = _series(block, "torque")
    assert torque[1500:].mean() < 0.97 * torque[200:600].mean()
    assert drive[1500:].mean() < 0.96 * drive[200:600].mean()


def test_touched_hopper_is_forgotten(twin, ran):
    rate = _series(ran["touched"], "feeder_rate:F2")
    wanted = float(twin.nominal.feeder_kg_h[1])
    assert np.abs(rate[600:660] - wanted).max() > 0.3 * wanted
    assert rate[1000:].mean() == pytest.approx(wanted, rel=0.03)


def test_empty_hopper_stops_the_flow(twin, ran):
    block = ran["empty"]
    assert _series(block, "feeder_weight:F1")[-1] < 0.05
    assert _series(block, "feeder_rate:F1")[-60:].mean() < 0.05 * float(twin.nominal.feeder_kg_h[0])
