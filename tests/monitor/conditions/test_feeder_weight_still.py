"""A weight that stands still under a rate on set; refills, coarse scales and wrong spans are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_weight_still import FeederWeightStill
from tests.monitor.conditions.told import Story, only, seconds, told, twin, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe

LOG_S, FROM, TO = 3000, 900, 1500


def still(feeder: str) -> Story:
    def story(s: Script) -> None:
        part = s.span(FROM, LOG_S)
        weight = s.x[f"feeder_weight:{feeder}"]
        stands = s.span(FROM, TO)
        weight[stands] = weight[stands][0] + s.noise(0.01)[stands]
        s.put(f"feeder_refill:{feeder}", FROM, LOG_S, 0)
        rate = {"F1": 240.0, "F2": 57.0, "F3": 3.0}[feeder]
        after = s.span(TO, LOG_S)
        weight[after] = weight[stands][-1] + 20 - rate / 3600 * np.arange(len(weight[after]))
        s.put(f"feeder_refill:{feeder}", TO, TO + 30, 1)
        assert len(weight[part])

    story.__name__ = f"still_{feeder}"
    return story


def coarse_scale(s: Script) -> None:
    """A small feeder on a scale that shows 0.1 kg: it stands still for two minutes at a time, all day."""
    s.x["feeder_weight:F3"] = np.round(s.x["feeder_weight:F3"] * 10) / 10


def wrong_span(s: Script) -> None:
    """Rate and weight come from the same load cell and are both a tenth low: nothing here can see that."""
    weight = s.x["feeder_weight:F2"]
    s.x["feeder_weight:F2"] = 0.9 * weight
    s.scale("feeder_rate:F2", 0, LOG_S, 0.95)


def refilled(s: Script) -> None:
    """A refill that lasts three minutes while it goes on feeding."""
    part = s.span(FROM, FROM + 180)
    s.x["feeder_weight:F2"][part] = np.linspace(
        s.x["feeder_weight:F2"][part][0], 50, len(s.x["feeder_weight:F2"][part])
    )
    s.put("feeder_refill:F2", FROM, FROM + 180, 1)


def leaned_on(s: Script) -> None:
    """Somebody leans on the hopper for twenty seconds."""
    s.x["feeder_weight:F2"][s.span(FROM, FROM + 20)] += 5


def controller_stale(s: Script) -> None:
    """All feeders hang on one controller that keeps its last values for ten minutes."""
    for key, row in s.x.items():
        if key.startswith("feeder"):
            row[s.span(FROM, FROM + 600)] = row[FROM]


def log_silent(s: Script) -> None:
    """A log on change in which nothing at all is written for two minutes: what is held ends after one, not all at
    once nor at the end of a cell, while the plant goes on."""
    for number, row in enumerate(s.x.values()):
        row[s.span(FROM, FROM + 120)] = row[FROM]
        row[s.span(FROM + 63 + 7 * (number % 2), FROM + 120)] = np.nan


@pytest.mark.parametrize(("story", "within_s"), [(still("F1"), 120), (still("F2"), 240)])
def test_speaks(story: Story, within_s: float) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, FeederWeightStill()))

    assert "nothing comes" in finding.last.summary and finding.last.priority == 2
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + within_s
    assert "bridged, controller fell back to volumetric" in finding.last.cause_texts


@pytest.mark.parametrize("story", [coarse_scale, wrong_span, refilled, leaned_on, controller_stale, log_silent])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, FeederWeightStill()) == []


def test_the_only_feeder_in_use_is_judged_though_nothing_of_it_moves() -> None:
    """Its rate is echoed from the set-point, its scale shows 0.1 kg, and the others are off."""
    s = twin(LOG_S)
    still("F1")(s)
    s.put("feeder_rate:F1", 0, LOG_S, 240.0)
    s.x["feeder_weight:F1"] = np.round(s.x["feeder_weight:F1"], 1)
    for feeder in ("F2", "F3"):
        for what in ("rate", "setpoint", "drive"):
            s.put(f"feeder_{what}:{feeder}", 0, LOG_S, 0.0)
        s.put(f"feeder_weight:{feeder}", 0, LOG_S, 20.0)

    assert "F1" in only(told(s, FeederWeightStill())).last.channel


def test_a_rate_that_is_gone_promises_nothing() -> None:
    s = twin(LOG_S)
    still("F2")(s)
    s.put("feeder_rate:F2", FROM - 60, LOG_S, 0.0)

    assert told(s, FeederWeightStill()) == []


def test_a_shaking_scale_takes_a_longer_window() -> None:
    """0.2 kg of noise at one reading in ten seconds: a minute's loss of 1 kg is none of it, and nothing is claimed."""
    line = feeder_line(10.0)
    s = FeederScript(6 * 3600, cadence_s=10.0)
    s.even_weight("F2", 400, 0, 6 * 3600)
    s.x["feeder_weight:F2"] += s.noise(0.2)

    assert told(s, FeederWeightStill(), line=line, recipe=feeder_recipe()) == []


@pytest.mark.parametrize("feeder", ["F1", "F2"])
def test_without_a_rate_the_set_point_is_the_promise(feeder: str) -> None:
    s = twin(LOG_S)
    still(feeder)(s)
    finding = only(told(s, FeederWeightStill(), line=without(s.line, "feeder_rate")))

    assert finding.last.channel == f"feeder_weight:{feeder}" and "is told" in finding.last.summary
    assert not any("reported rate" in text for text in finding.last.cause_texts)
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 200


@pytest.mark.parametrize("story", [coarse_scale, refilled, leaned_on, controller_stale, log_silent])
def test_without_a_rate_the_same_things_are_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, FeederWeightStill(), line=without(s.line, "feeder_rate")) == []


def test_without_a_rate_a_feed_that_is_switched_off_is_no_bridge() -> None:
    """All scales stand from one moment on, and a minute later the screw."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        stands = s.span(FROM, LOG_S)
        s.x[f"feeder_weight:{feeder}"][stands] = s.x[f"feeder_weight:{feeder}"][stands][0] + s.noise(0.01)[stands]
    s.scale("torque", FROM, LOG_S, 0.2)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, FROM + 90, LOG_S, 0)

    assert told(s, FeederWeightStill(), line=without(s.line, "feeder_rate")) == []


def test_a_weight_written_when_it_has_moved_by_a_deadband_falls_in_its_steps() -> None:
    """6.13 kg are a minute and a half of the rate: a window of a minute holds one step or none."""
    s = twin(LOG_S)
    weight = s.x["feeder_weight:F1"]
    weight[:] = np.round(np.floor(weight / 6.13) * 6.13, 2)
    assert told(s, FeederWeightStill()) == []

    s.put("feeder_weight:F1", FROM, LOG_S, 30.98)
    found = told(s, FeederWeightStill())
    assert FROM < (seconds(found[0].first_decided_at) or 0) <= FROM + 400
