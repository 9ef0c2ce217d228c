"""Readings outside the recipe's window in steady running; starts, changes, spikes and scatter are not."""

from __future__ import annotations

import pytest

from monitor.conditions.recipe_window import RecipeWindow
from monitor.recipe import Window
from tests.monitor.conditions.told import R1, Story, only, seconds, told, twin, without
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
def test_off_the_recipe_s_speed_or_rate_torque_and_pressure_go_with_them(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, RecipeWindow()) == []


def test_a_screw_that_is_slower_than_wanted_is_no_planned_change() -> None:
    s = twin(LOG_S)
    s.scale("screw_speed", FROM, TO, 0.8)
    s.put("torque", FROM, TO, 75)

    assert only(told(s, RecipeWindow())).last.channel == "torque"


def off_point_and(speed: float, rate: float, torque: float, pressure: float) -> Story:
    """Speed and rate by these factors of the recipe's from FROM on; torque, % and pressure, bar, from then on."""

    def story(s: Script) -> None:
        for key in ("screw_speed", "screw_speed_setpoint"):
            s.scale(key, FROM, LOG_S, speed)
        for feeder in ("F1", "F2", "F3"):
            for what in ("rate", "setpoint"):
                s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, rate)
        s.put("torque", FROM, LOG_S, torque)
        s.put("melt_pressure:P1", FROM, LOG_S, pressure)

    return story


@pytest.mark.parametrize(
    ("speed", "rate", "torque", "pressure", "channel", "word", "priority", "confidence"),
    [
        # The way out closed at a slower screw: over the outer limit, which no speed moves.
        (0.93, 1.0, 62, 85, "melt_pressure:P1", "above its outer recipe limit of 80", 2, "medium"),
        # Thinner melt at a slower screw and the recipe's rate: pressure does not go with the speed.
        (0.93, 1.0, 60, 47, "melt_pressure:P1", "below its recipe limit of 50.6", 3, "low"),
        # A fifth less is fed: 65 bar is in the window of the recipe's rate, not in that of this one (69 x 0.8^0.25).
        (1.0, 0.8, 50, 66, "melt_pressure:P1", "above its recipe limit of 65.3", 3, "low"),
        # The same for a load: 50 % x 0.8 is the least by any exponent.
        (1.0, 0.8, 38, 54, "torque", "below its recipe limit of 40", 3, "low"),
        # Half as much again is fed: the outer limit stays.
        (1.0, 1.5, 82, 69, "torque", "above its outer recipe limit of 80", 2, "medium"),
        # So far away nothing is scaled: the outer limit alone is left.
        (1.0, 0.4, 30, 85, "melt_pressure:P1", "above its outer recipe limit of 80", 2, "medium"),
    ],
)
def test_off_the_recipe_s_point_a_reading_that_physics_does_not_explain_is_said(
    speed: float, rate: float, torque: float, pressure: float, channel: str, word: str, priority: int, confidence: str
) -> None:
    s = twin(LOG_S)
    off_point_and(speed, rate, torque, pressure)(s)

    last = only(told(s, RecipeWindow())).last

    assert last.channel == channel and word in last.summary
    assert (last.priority, last.confidence) == (priority, confidence)
    assert any(item.what in ("screw speed wanted", "rate wanted") for item in last.evidence)


@pytest.mark.parametrize(
    ("speed", "rate", "torque", "pressure"),
    [
        (0.8, 0.8, 60, 55.5),
        (1.2, 1.2, 62, 64.0),
        (1.0, 0.6, 40, 46.0),
        (1.0, 1.4, 78, 75.0),
        (0.7, 1.0, 72, 62.0),
        (1.0, 0.4, 30, 40.0),
    ],
)
def test_what_goes_with_speed_and_rate_is_quiet(speed: float, rate: float, torque: float, pressure: float) -> None:
    s = twin(LOG_S)
    off_point_and(speed, rate, torque, pressure)(s)

    assert told(s, RecipeWindow()) == []


@pytest.mark.parametrize(
    ("dwells_s", "then_slow", "said"), [(900, False, False), (1500, False, True), (300, True, True)]
)
def test_a_start_may_dwell_at_a_low_speed_until_melt_is_through(dwells_s: int, then_slow: bool, said: bool) -> None:
    """Once it has come to its window, or after twenty minutes, a low speed is said."""
    s = twin(6000)
    for key in ("screw_speed", "torque"):
        s.put(key, 0, 1000, 0.0)
        s.scale(key, 1000, 1000 + dwells_s, 0.3)
        if then_slow:
            s.scale(key, 1000 + dwells_s + 300, 1000 + dwells_s + 800, 0.3)
    speed = Window(role="screw_speed", target=300.0, low=290.0, high=310.0)
    recipe = R1.model_copy(update={"window": (*R1.window, speed), "version": "with a speed"})
    found = told(s, RecipeWindow(), line=without(s.line, "screw_speed_setpoint"), recipe=recipe)

    assert bool([f for f in found if f.last.channel == "screw_speed"]) is said


@pytest.mark.parametrize("odd", [0.0, 200.0])
def test_one_odd_reading_is_not_the_worst_of_a_finding(odd: float) -> None:
    s = twin(LOG_S)
    put("melt_pressure:P1", 47)(s)
    s.put("melt_pressure:P1", 1100, 1110, odd)

    assert "melt pressure P1 47 bar, below" in only(told(s, RecipeWindow())).last.summary
