"""A scale that lies: drive and torque move together against a flat rate. Bulk density moves the drive alone."""

from __future__ import annotations

import pytest

from monitor.conditions.scale_wrong import ScaleWrong, about
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, rate_trimmed
from tests.monitor.conditions.told import changed, only, told, without, words
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe


def machine(s: FeederScript, torque: float, pressure: float) -> None:
    s.scale("torque", FROM + 5, LOG_S, torque)
    s.scale("melt_pressure:P1", FROM + 10, LOG_S, pressure)


def over_fed(s: FeederScript) -> None:
    """The scale shows a tenth too little of the loss: F1, three quarters of the feed, turns 11 % faster."""
    s.scale("feeder_drive:F1", FROM, LOG_S, 1.11)
    machine(s, 1.08, 1.03)


def under_fed(s: FeederScript) -> None:
    s.scale("feeder_drive:F1", FROM, LOG_S, 0.88)
    machine(s, 0.91, 0.97)


def light_lot(s: FeederScript) -> None:
    """Lower bulk density: the drive alone."""
    s.scale("feeder_drive:F1", FROM, LOG_S, 1.12)


def other_way(s: FeederScript) -> None:
    s.scale("feeder_drive:F1", FROM, LOG_S, 1.12)
    machine(s, 0.92, 0.97)


def pressure_other_way(s: FeederScript) -> None:
    s.scale("feeder_drive:F1", FROM, LOG_S, 1.12)
    machine(s, 1.08, 0.9)


def two_at_once(s: FeederScript) -> None:
    over_fed(s)
    s.scale("feeder_drive:F2", FROM, LOG_S, 1.12)


def small_ingredient(s: FeederScript) -> None:
    """Not even a large error of 1 % of the feed shows in torque: what moved it was something else."""
    s.scale("feeder_drive:F3", FROM, LOG_S, 1.3)
    machine(s, 1.05, 1.02)


def more_than_it_can(s: FeederScript) -> None:
    """A sixth of the feed turns 6.5 % faster: that moves torque by 1 %, and not by four times as much."""
    s.scale("feeder_drive:F2", FROM, LOG_S, 1.07)
    machine(s, 1.045, 1.02)


@pytest.mark.parametrize(("story", "true"), [(over_fed, "267"), (under_fed, "212")])
def test_speaks(story: Story, true: str) -> None:
    s = calm()
    story(s)
    last = only(told(s, ScaleWrong(), recipe=feeder_recipe())).last

    assert f"about {true}" in last.summary and last.confidence == "medium"
    assert "catch sample" in last.checks[0]


@pytest.mark.parametrize(
    "story",
    [
        light_lot,
        other_way,
        pressure_other_way,
        two_at_once,
        small_ingredient,
        more_than_it_can,
        rate_trimmed,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, ScaleWrong(), recipe=feeder_recipe()) == []


def oil_line(**feeder: object):
    data = feeder_line().model_dump()
    data["feeder"] = [{**part, **feeder} if part["name"] == "F2" else part for part in data["feeder"]]
    return type(feeder_line()).model_validate({**data, "version": str(feeder)})


@pytest.mark.parametrize(
    ("effect", "torque", "speaks"), [("lowers", 0.94, True), ("lowers", 1.06, False), ("none", 0.94, False)]
)
def test_an_oil_over_fed_lowers_torque(effect: str, torque: float, speaks: bool) -> None:
    """F2 as an oil of 18 %: a fifth more of it lowers torque; torque up would be something else."""
    s = calm()
    s.scale("feeder_drive:F2", FROM, LOG_S, 1.25)
    s.scale("torque", FROM + 5, LOG_S, torque)
    found = told(s, ScaleWrong(), line=oil_line(effect_on_torque=effect), recipe=feeder_recipe())

    assert bool(found) == speaks


def test_after_a_refill_both_causes_are_said() -> None:
    s = calm()
    over_fed(s)
    last = only(told(s, ScaleWrong(), recipe=feeder_recipe())).last

    assert any("another material" in cause.text and cause.speaks_for for cause in last.causes), last.causes


def test_without_torque_or_drive_it_is_not_armed() -> None:
    s = calm()
    over_fed(s)
    for role in ("torque", "feeder_drive"):
        assert told(s, ScaleWrong(), line=without(feeder_line(), role), recipe=feeder_recipe()) == []


def test_a_flood_fed_screw_takes_no_more_for_what_is_fed_into_its_hopper() -> None:
    s = calm()
    over_fed(s)
    line = changed(feeder_line(), line={"feed": "flooded"})

    assert told(s, ScaleWrong(), line=line, recipe=feeder_recipe()) == []


@pytest.mark.parametrize(("rate", "word"), [(0.083, "0.083"), (1.28, "1.3"), (9.6, "9.6"), (381.6, "382")])
def test_what_it_seems_to_feed_is_told_so_that_it_differs_from_what_it_shows(rate: float, word: str) -> None:
    assert about(rate) == word


def test_works_without_weights() -> None:
    s = calm()
    over_fed(s)
    line = without(feeder_line(), "feeder_weight", "feeder_refill")

    assert "scale wrong" in words(only(told(s, ScaleWrong(), line=line, recipe=feeder_recipe())))


def test_torque_that_moves_long_after_the_drive_says_nothing_of_the_scale() -> None:
    """A light lot turns the drive up; a thicker one a quarter of an hour later turns torque up: two things."""
    s = calm(LOG_S + 1800)
    s.scale("feeder_drive:F1", FROM, LOG_S + 1800, 1.12)
    s.scale("torque", FROM + 1200, LOG_S + 1800, 1.08)
    s.scale("melt_pressure:P1", FROM + 1200, LOG_S + 1800, 1.06)

    assert told(s, ScaleWrong(), recipe=feeder_recipe()) == []


def test_long_refills_do_not_end_what_was_found() -> None:
    """A large hopper on a high rate: four minutes of filling, held, in every nine."""
    s = calm()
    over_fed(s)
    s.even_weight("F1", 900, 0, LOG_S)
    s.put("feeder_refill:F1", 0, LOG_S, 0)
    for at in range(FROM + 400, LOG_S - 300, 540):
        s.refill("F1", at, 40.0, over_s=240)
        s.put("feeder_rate:F1", at, at + 240, SETS["F1"])

    assert only(told(s, ScaleWrong(), recipe=feeder_recipe())).last.kind == "cut off"
