"""A reported rate that is not what the weight says; coarse, noisy and touched scales are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.rate_not_weight import RateNotWeight
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm
from tests.monitor.conditions.told import only, seconds, told, words
from tests.monitor.world_feeders import SETS, FeederScript, feeder_recipe


def loses(share: float) -> Story:
    """F2 loses so much of what its rate says."""

    def story(s: FeederScript) -> None:
        s.loses("F2", FROM, LOG_S, (share - 1) * SETS["F2"])

    return story


def frozen(s: FeederScript) -> None:
    """The rate stays at its last reading while the feeder is told, and gives, an eighth less than before."""
    s.loses("F2", FROM, LOG_S, -0.125 * SETS["F2"])
    s.put("feeder_rate:F2", FROM, LOG_S, s.x["feeder_rate:F2"][FROM])


def echoed_low(s: FeederScript) -> None:
    s.loses("F2", FROM, LOG_S, -0.2 * SETS["F2"])
    s.put("feeder_rate:F2", FROM, LOG_S, SETS["F2"])


def coarse_small(s: FeederScript) -> None:
    """3 kg/h on 0.1 kg steps loses 3 % less than reported: its scale can't tell that."""
    s.even_weight("F3", 40, 0, LOG_S)
    s.loses("F3", FROM, LOG_S, -0.03 * SETS["F3"])
    s.x["feeder_weight:F3"] = np.round(s.x["feeder_weight:F3"], 1)


def noisy(s: FeederScript) -> None:
    """A scale beside the granulator, 0.5 kg of noise, and a rate 3 % off."""
    s.loses("F2", FROM, LOG_S, 0.03 * SETS["F2"])
    s.x["feeder_weight:F2"] += s.noise(0.5)


@pytest.mark.parametrize("share", [0.88, 1.12, 0.7])
def test_speaks(share: float) -> None:
    s = calm()
    loses(share)(s)
    finding = only(told(s, RateNotWeight(), recipe=feeder_recipe()))

    said = float(finding.last.summary.rsplit(" ", 1)[1])
    assert said == pytest.approx(share * SETS["F2"], rel=0.02)
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 420


@pytest.mark.parametrize("story", [loses(0.97), loses(1.03), coarse_small, noisy, loses(0.2)])
def test_stays_silent(story: Story) -> None:
    """0.2: nothing comes, which feeder_weight_still says."""
    s = calm()
    story(s)
    found = told(s, RateNotWeight(), recipe=feeder_recipe())

    assert [f for f in found if (seconds(f.last.since) or 0) > FROM + 320] == []


def often_filled(s: FeederScript) -> None:
    """A large feeder is filled every seven minutes, so that windows are short; it loses 7 % less than it says."""
    for at in range(420, LOG_S, 420):
        s.refill("F2", at, 6)
    s.loses("F2", FROM, LOG_S, -0.07 * SETS["F2"])


def often_filled_and_held(s: FeederScript) -> None:
    """The same, and its rate stands on its set-point: nothing wanders in that."""
    often_filled(s)
    s.put("feeder_rate:F2", FROM, LOG_S, SETS["F2"])


def test_a_rate_that_stands_to_the_digit_needs_no_long_window() -> None:
    s = calm()
    often_filled_and_held(s)
    finding = only(told(s, RateNotWeight(), recipe=feeder_recipe()))

    assert finding.last.channel == "feeder_weight:F2" and (seconds(finding.first_decided_at) or 0) <= FROM + 900

    s = calm()
    often_filled(s)
    assert told(s, RateNotWeight(), recipe=feeder_recipe()) == []


def test_frozen_and_echoed_are_told_apart() -> None:
    first = []
    for story in (frozen, echoed_low):
        s = calm()
        story(s)
        first.append(only(told(s, RateNotWeight(), recipe=feeder_recipe())).last.causes[0])

    assert first[0].text == "reported rate frozen" and "min" in first[0].speaks_for[0]
    assert first[1].text == "reported rate echoed from the set-point"


def test_a_rate_that_moves_is_not_called_frozen() -> None:
    s = calm()
    loses(0.85)(s)
    causes = only(told(s, RateNotWeight(), recipe=feeder_recipe())).last.causes

    assert "filtered" in causes[0].text


def test_a_coarse_scale_speaks_once_the_window_is_long_enough() -> None:
    """20 % of 3 kg/h on 0.1 kg steps: seen, but only over half an hour."""
    s = calm()
    s.even_weight("F3", 40, 0, LOG_S)
    s.loses("F3", 900, LOG_S, -0.25 * SETS["F3"])
    s.x["feeder_weight:F3"] = np.round(s.x["feeder_weight:F3"], 1)
    finding = only(told(s, RateNotWeight(), recipe=feeder_recipe()))

    assert "F3" in finding.last.channel and "30 min" in words(finding)


def test_a_refill_that_nobody_marked_spoils_only_its_own_windows() -> None:
    s = calm()
    s.put("feeder_refill:F2", 0, LOG_S, 0)
    s.refill("F2", FROM - 600, 30, marked=False)
    assert told(s, RateNotWeight(), recipe=feeder_recipe()) == []

    loses(0.8)(s)
    assert only(told(s, RateNotWeight(), recipe=feeder_recipe())).last.channel == "feeder_weight:F2"
