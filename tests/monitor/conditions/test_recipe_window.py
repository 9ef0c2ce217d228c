"""Readings outside the recipe's window in steady running; starts, changes, spikes and scatter are not."""

from __future__ import annotations

import pytest

from monitor.conditions.recipe_window import RecipeWindow
from tests.monitor.conditions.told import R1, Story, only, seconds, told, twin
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 1800, 900, 1300


def put(key: str, value: float, until: float = TO) -> Story:
    def story(s: Script) -> None:
        s.put(key, FROM, until, value)

    story.__name__ = f"{key}_{value:g}"
    return story


def scattering_torque(s: Script) -> None:
    """One reading in two is above the limit of 70, their mean is not."""
    part = s.span(FROM, TO)
    s.x["torque"][part] = [58 + 16 * (i // 5 % 2) for i in range(len(s.x["torque"][part]))]


def during_a_set_point_change(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, LOG_S, 0.9)
    s.put("melt_pressure:P1", FROM, FROM + 100, 75)


def during_a_stop(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, FROM, LOG_S, 0)
    s.put("melt_pressure:P1", FROM, LOG_S, 2)


@pytest.mark.parametrize(
    ("story", "word", "priority"),
    [
        (put("melt_pressure:P1", 75), "melt pressure P1 75 bar, above its recipe limit of 69", 3),
        (put("melt_pressure:P1", 90), "above its recipe limit of 69", 2),
        (put("melt_pressure:P1", 47), "47 bar, below its recipe limit of 51", 3),
        (put("torque", 40), "below its recipe limit of 50", 2),
    ],
)
def test_speaks(story: Story, word: str, priority: int) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, RecipeWindow()))

    assert word in finding.last.summary and finding.last.priority == priority
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 60
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 60


@pytest.mark.parametrize(
    "story",
    [
        put("melt_pressure:P1", 68.5),
        put("melt_pressure:P1", 90, FROM + 15),
        put("melt_temperature:MT1", 250),
        put("zone_temperature:Z3", 250),
        scattering_torque,
        during_a_set_point_change,
        during_a_stop,
    ],
    ids=lambda story: story.__name__,
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, RecipeWindow()) == []


def test_high_pressure_carries_its_caution() -> None:
    s = twin(LOG_S)
    put("melt_pressure:P1", 75)(s)

    assert "never in line with die" in only(told(s, RecipeWindow())).last.caution


def test_a_value_that_plays_round_its_limit_is_one_finding() -> None:
    """Inside the deadband of 0.9 bar below the limit it is still the same."""
    s = twin(LOG_S)
    part = s.span(FROM, TO)
    s.x["melt_pressure:P1"][part] = [69.5 - 1.0 * (i // 70 % 2) for i in range(len(s.x["melt_pressure:P1"][part]))]

    assert len(told(s, RecipeWindow())) == 1


def test_a_rate_at_the_edge_of_its_window_is_one_finding_though_each_refill_lifts_it() -> None:
    """Set 3.5 % low; every 600 s, for two minutes after a refill, it reads 3 % higher."""
    s = twin(6000)
    s.scale("feeder_rate:F1", 0, 6000, 0.965)
    for at in range(900, 6000, 600):
        s.scale("feeder_rate:F1", at, at + 120, 1.03)
    data = R1.model_dump()
    data["window"] = [{"role": "feeder_rate", "at": "F1", "low": 232.8, "target": 240, "high": 247.2}]

    assert only(told(s, RecipeWindow(), recipe=type(R1)(**data))).last.channel == "feeder_rate:F1"


def test_without_a_recipe_there_is_no_window() -> None:
    s = twin(LOG_S)
    put("melt_pressure:P1", 150)(s)

    assert told(s, RecipeWindow(), recipes=False) == []


def test_a_window_of_one_limit() -> None:
    s = twin(LOG_S)
    put("melt_pressure:P1", 75)(s)
    data = R1.model_dump()
    data["window"] = [{"role": "melt_pressure", "at": "P1", "high": 70}]

    assert "above its recipe limit of 70" in only(told(s, RecipeWindow(), recipe=type(R1)(**data))).last.summary


def planned_lower_rate(s: Script) -> None:
    """A fifth less is wanted: torque and pressure are low because somebody asked for it."""
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 0.8)
    s.put("torque", FROM, LOG_S, 47)
    s.put("melt_pressure:P1", FROM, LOG_S, 50)


def planned_faster_screw(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, LOG_S, 1.2)
    s.put("torque", FROM, LOG_S, 47)


@pytest.mark.parametrize("story", [planned_lower_rate, planned_faster_screw])
def test_off_the_recipe_s_speed_or_rate_torque_and_pressure_have_no_window(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, RecipeWindow()) == []


def test_a_screw_that_is_slower_than_wanted_is_no_planned_change() -> None:
    s = twin(LOG_S)
    s.scale("screw_speed", FROM, TO, 0.8)
    s.put("torque", FROM, TO, 75)

    assert only(told(s, RecipeWindow())).last.channel == "torque"
