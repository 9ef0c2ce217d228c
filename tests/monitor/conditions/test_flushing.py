"""Powder that runs through; refills, emptying and hands on the hopper are not that."""

from __future__ import annotations

import pytest

from monitor.conditions.flushing import Flushing
from tests.monitor.conditions.feeder_stories import FROM, Story, calm
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


@pytest.mark.parametrize("story", [in_the_hold, nobody_marked, through_a_stopped_feeder, back_in_gravimetric])
def test_speaks(story: Story) -> None:
    s = calm()
    story(s)
    finding = only(told(s, Flushing(), recipe=feeder_recipe()))

    assert "runs through" in finding.last.summary and finding.last.priority == 2
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 100
    assert finding.last.causes[0].text == "powder aerated by the refill: flushing"


@pytest.mark.parametrize("story", [emptied_by_hand, hand_taken_off, overshoot])
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
