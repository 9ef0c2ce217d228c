"""A feeder that delivers another amount a turn; refills, rate changes and bridging are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feed_factor_moved import FeedFactorMoved
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, rate_changed
from tests.monitor.conditions.told import only, seconds, told, words
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def turns(factor: float) -> Story:
    def story(s: FeederScript) -> None:
        s.scale("feeder_drive:F2", FROM, LOG_S, factor)

    return story


def drifts(s: FeederScript) -> None:
    """A quarter less a turn within half an hour."""
    part = s.span(FROM, LOG_S)
    s.x["feeder_drive:F2"][part] *= np.minimum(1.25, 1 + np.arange(len(s.x["feeder_drive:F2"][part])) / 7200)


def bridges(s: FeederScript) -> None:
    s.scale("feeder_rate:F2", FROM, FROM + 900, 0.3)
    s.put("feeder_drive:F2", FROM, FROM + 900, 98)


def volumetric(s: FeederScript) -> None:
    """In volumetric the rate shown is no measurement."""
    s.put("feeder_gravimetric:F2", FROM, LOG_S, 0)
    s.scale("feeder_rate:F2", FROM, LOG_S, 0.8)


@pytest.mark.parametrize(
    ("story", "word", "priority"),
    [
        (turns(1.12), "less a turn", 4),
        (turns(1.2), "less a turn", 3),
        (turns(0.8), "more a turn", 3),
        (turns(1.8), "less a turn", 3),
        (drifts, "moved", 4),
    ],
)
def test_speaks(story: Story, word: str, priority: int) -> None:
    s = calm()
    story(s)
    finding = only(told(s, FeedFactorMoved(), recipe=feeder_recipe()))

    assert word in finding.last.summary and finding.last.priority == priority
    assert finding.last.channel == "feed_factor:F2"


@pytest.mark.parametrize("story", [turns(1.06), turns(0.94), bridges, volumetric, rate_changed])
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, FeedFactorMoved(), recipe=feeder_recipe()) == []


def test_a_step_with_a_refill_says_so_and_one_without_does_not() -> None:
    with_refill, without = calm(), calm()
    with_refill.refill("F2", FROM, 25)
    for s in (with_refill, without):
        s.scale("feeder_drive:F2", FROM + 30, LOG_S, 1.2)
    said, not_said = (only(told(s, FeedFactorMoved(), recipe=feeder_recipe())).last for s in (with_refill, without))

    assert "it came with a refill" in said.causes[0].speaks_for
    assert all("it came with a refill" not in cause.speaks_for for cause in not_said.causes)


def test_uneven_delivery_speaks_for_a_rat_hole() -> None:
    s = calm()
    part = s.span(FROM, LOG_S)
    wave = 1.25 + 0.2 * np.sign(np.sin(2 * np.pi * np.arange(len(s.x["feeder_drive:F2"][part])) / 240))
    s.x["feeder_drive:F2"][part] *= wave
    causes = only(told(s, FeedFactorMoved(), recipe=feeder_recipe())).last.causes

    assert causes[0].text.startswith("rat-holing") and "scatters" in causes[0].speaks_for[0]


def test_it_is_compared_at_the_same_fill_of_the_hopper() -> None:
    """A full hopper gives 14 % more a turn than a nearly empty one, in every cycle: nothing has moved."""
    data = feeder_line().model_dump()
    data["feeder"][1]["hopper_kg"] = 40
    line = type(feeder_line()).model_validate({**data, "version": "fill"})
    s = FeederScript(9000)
    weight = 38 - np.arange(s.n) * 114 / 3600 % 36
    s.x["feeder_weight:F2"][:] = weight
    s.x["feeder_refill:F2"][1:] = np.diff(weight) > 5
    s.x["feeder_drive:F2"] /= 1 + 0.14 * np.floor(4 * weight / 40) / 3 * 1.0
    assert told(s, FeedFactorMoved(), line=line, recipe=feeder_recipe()) == []

    blind = FeederScript(9000)
    blind.x["feeder_drive:F2"][blind.span(4500, 9000)] *= 1.14
    found = only(told(blind, FeedFactorMoved(), recipe=feeder_recipe()))
    assert 4500 < (seconds(found.first_decided_at) or 0) < 5400 and "feeder F2" in words(found)


def test_a_step_stays_a_step_while_it_stands() -> None:
    """Well over half an hour later the mean of half an hour is where that of five minutes is."""
    s = calm(9000)
    s.scale("feeder_drive:F2", FROM, 9000, 1.25)
    last = only(told(s, FeedFactorMoved(), recipe=feeder_recipe())).last

    assert "stepped" in last.summary and last.priority == 3


def test_a_feeder_that_is_filled_by_hand_is_judged_by_what_lies_between() -> None:
    """Every twelve minutes for four: of the rest five more are not to be believed."""
    s = calm(10_800)
    for at_s in range(2000, 10_800, 720):
        s.put("feeder_refill:F2", at_s, at_s + 240, 1)
    s.scale("feeder_drive:F2", 5000, 10_800, 1.5)
    found = only(told(s, FeedFactorMoved(), recipe=feeder_recipe()))

    assert "less a turn" in found.last.summary and (seconds(found.first_decided_at) or 0) <= 6800
