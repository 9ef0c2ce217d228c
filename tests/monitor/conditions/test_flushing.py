"""Powder that runs through; refills, emptying and hands on the hopper are not that."""

from __future__ import annotations

import pytest

from monitor.conditions.flushing import Flushing
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm
from tests.monitor.conditions.told import only, seconds, told, without, words
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe


def in_the_hold(s: FeederScript) -> None:
    """A marked refill of 20 s, hold for 60 s, rate frozen on set, the weight falling at four times the rate."""
    s.refill("F2", FROM, 20)
    s.put("feeder_refill:F2", FROM, FROM + 60, 1)
    s.put("feeder_rate:F2", FROM, FROM + 90, SETS["F2"])
    s.loses("F2", FROM + 20, FROM + 85, 3 * SETS["F2"])


def nobody_marked(s: FeederScript) -> None:
    in_the_hold(s)
    s.put("feeder_refill:F2", 0, FROM + 200, 0)


def through_a_stopped_feeder(s: FeederScript) -> None:
    s.put("feeder_drive:F2", FROM, FROM + 120, 0)
    s.loses("F2", FROM, FROM + 120, 3 * SETS["F2"])


def back_in_gravimetric(s: FeederScript) -> None:
    """The controller has found out: rate half as much again as set at minimum drive."""
    s.refill("F2", FROM, 20)
    s.scale("feeder_rate:F2", FROM + 55, FROM + 140, 1.5)
    s.put("feeder_drive:F2", FROM + 55, FROM + 140, 5)


def emptied_by_hand(s: FeederScript) -> None:
    s.loses("F2", FROM, FROM + 120, 20 * SETS["F2"])


def hand_taken_off(s: FeederScript) -> None:
    s.x["feeder_weight:F2"][s.span(FROM, FROM + 90)] += 8


def overshoot(s: FeederScript) -> None:
    """A refill and a controller that feeds 10 % too much for a minute and a half."""
    s.refill("F2", FROM, 20)
    s.scale("feeder_rate:F2", FROM + 50, FROM + 140, 1.1)
    s.loses("F2", FROM + 50, FROM + 140, 0.1 * SETS["F2"])


def leaps(s: FeederScript, at_s: float, torque: float = 1.3, pressure: float = 1.25) -> None:
    """For 40 s more is in the screws than the feeders say."""
    s.scale("torque", at_s, at_s + 40, torque)
    s.scale("melt_pressure:P1", at_s + 5, at_s + 45, pressure)


def while_it_is_filled(s: FeederScript) -> None:
    """The hopper is filled for 40 s, no other one is, its rate and drive are held, and load and pressure leap."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    s.put("feeder_rate:F2", FROM, FROM + 45, SETS["F2"])
    leaps(s, FROM)


def load_leaps_alone(s: FeederScript) -> None:
    """A lump, and no refill in the whole log."""
    s.even_weight("F1", 900, 0, LOG_S)
    leaps(s, FROM)


def two_filled_at_once(s: FeederScript) -> None:
    """Nobody can say which of the two it was: `flooded` says that more comes in."""
    while_it_is_filled(s)
    s.refill("F1", FROM, 20, over_s=40)


def pressure_stays(s: FeederScript) -> None:
    """A drive that is started or a reading that leaps: more feed would show at the die."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    leaps(s, FROM, pressure=1.0)


def high_before(s: FeederScript) -> None:
    """Load and pressure have been up for two minutes when the refill comes."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    leaps(s, FROM - 120)
    leaps(s, FROM - 80)
    leaps(s, FROM - 40)
    leaps(s, FROM)


@pytest.mark.parametrize("story", [in_the_hold, nobody_marked, through_a_stopped_feeder, back_in_gravimetric])
def test_speaks(story: Story) -> None:
    s = calm()
    story(s)
    finding = only(told(s, Flushing(), recipe=feeder_recipe()))

    assert "runs through" in finding.last.summary and finding.last.priority == 2
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 100
    assert finding.last.causes[0].text == "powder aerated by the refill: flushing"


@pytest.mark.parametrize(
    "story",
    [
        emptied_by_hand,
        hand_taken_off,
        overshoot,
        load_leaps_alone,
        two_filled_at_once,
        pressure_stays,
        high_before,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, Flushing(), recipe=feeder_recipe()) == []


def test_without_weights_the_rate_at_minimum_drive_tells() -> None:
    s = calm()
    back_in_gravimetric(s)
    line = without(feeder_line(), "feeder_weight")

    assert "kg/h at 57.0 set" in words(only(told(s, Flushing(), line=line, recipe=feeder_recipe())))


def test_without_drives_the_weight_tells() -> None:
    s = calm()
    in_the_hold(s)

    assert told(s, Flushing(), line=without(feeder_line(), "feeder_drive"), recipe=feeder_recipe())


def test_load_and_pressure_that_leap_while_it_is_filled_tell_what_the_weight_cannot() -> None:
    s = calm()
    while_it_is_filled(s)
    finding = only(told(s, Flushing(), recipe=feeder_recipe()))

    assert finding.last.channel == "feeder_rate:F2" and "while it is refilled, all feeders on set" in words(finding)
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 40
