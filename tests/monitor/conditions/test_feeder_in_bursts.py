"""A feeder in bursts; one bump, one refill, a feeder that always scatters is not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_in_bursts import FeederInBursts
from monitor.contract import Context
from monitor.explains_amounts import too_large_for
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, STORIES, Story, calm
from tests.monitor.conditions.told import only, seconds, told, words
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def quiet() -> FeederScript:
    """No refill of the feeder that is to swing."""
    s = calm()
    s.even_weight("F1", 900, 0, LOG_S)
    return s


def swings(s: FeederScript, feeder: str = "F1", by: float = 0.15, end: float = FROM + 600) -> None:
    s.bursts(feeder, FROM, end, by)


def one_bump(s: FeederScript) -> None:
    """Down and up once, as a hand on the scale."""
    swings(s, end=FROM + 70)


def rings_out(s: FeederScript) -> None:
    """Each swing half of the one before."""
    for k in range(5):
        s.bursts("F1", FROM + 70 * k, FROM + 70 * (k + 1), 0.3 / 2**k)


def always_so(s: FeederScript) -> None:
    """It has scattered like this since the log began."""
    rate = s.x["feeder_rate:F1"]
    cells = np.repeat(np.random.default_rng(5).normal(0, 0.06, len(rate) // 10 + 1), 10)[: len(rate)]
    rate *= 1 + cells


def refills(s: FeederScript) -> None:
    """Swings while it is filled bag by bag."""
    for minute in range(10):
        s.refill("F1", FROM + 60 * minute, 5, over_s=25)
    swings(s)


def test_speaks_within_four_minutes_and_torque_makes_it_urgent() -> None:
    s = quiet()
    swings(s)
    torque = s.x["torque"][s.span(FROM, FROM + 600)]
    torque *= 1 + 0.1 * np.sin(2 * np.pi * np.arange(len(torque)) / 70)
    finding = only(told(s, FeederInBursts(), recipe=feeder_recipe()))

    assert finding.last.priority == 2 and finding.last.channel == "feeder_rate:F1"
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 240
    assert "swings between" in finding.last.summary and "torque, to both sides" in words(finding)
    assert finding.last.causes[0].text.startswith("rat-holing")
    assert "torque swings" in finding.last.causes[0].speaks_for[0]
    assert finding.last.until is not None


def test_where_torque_stands_still_it_is_a_note() -> None:
    s = quiet()
    swings(s)
    finding = only(told(s, FeederInBursts(), recipe=feeder_recipe()))

    assert finding.last.priority == 4
    assert finding.last.causes[0].speaks_against == ("torque does not swing with it",)


def test_what_swings_for_an_hour_is_not_learned_as_usual_and_is_known_when_it_comes_again() -> None:
    s = calm(3 * LOG_S)
    s.even_weight("F1", 900, 0, 3 * LOG_S)
    s.bursts("F1", FROM, FROM + 4200, 0.15)
    s.bursts("F1", FROM + 5400, FROM + 9000, 0.15)
    first, second = told(s, FeederInBursts(), recipe=feeder_recipe())

    for finding, end in ((first, FROM + 4200), (second, FROM + 9000)):
        assert end - 60 <= (seconds(finding.last.until) or 0) <= end + 400
    assert (seconds(second.first_decided_at) or 0) <= FROM + 5400 + 240


@pytest.mark.parametrize(("load", "explains"), [(0.15, True), (0.01, False)])
def test_only_what_the_machine_bears_witness_for_explains_a_fall_of_torque(load: float, explains: bool) -> None:
    facts = {"low": 200.0, "high": 280.0, "wanted": 240.0, "turns": 5.0, "load": load, "share": 0.7}
    said = FeederInBursts().explain("F1", 1, facts, Context(feeder_line(), feeder_recipe(), None, 10.0))

    assert too_large_for(said.moved, {"torque": -0.2}) is not explains


@pytest.mark.parametrize("story", [one_bump, rings_out, always_so, refills, *STORIES])
def test_stays_silent(story: Story) -> None:
    s = quiet()
    story(s)

    assert told(s, FeederInBursts(), recipe=feeder_recipe()) == []
