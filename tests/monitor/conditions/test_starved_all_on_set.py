"""Starved with all feeders on set: a feeder that says more than it delivers, a path blocked while pressure rises."""

from __future__ import annotations

import pytest

from monitor.conditions.flooded import Flooded
from monitor.conditions.starved import Starved
from tests.monitor.conditions.told import Story, only, told, twin
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 2400, 1200, 1800


def rate_is_a_copy(s: Script) -> None:
    """The main feeder's hopper bridges; its rate shows the set-point, its drive goes to the end."""
    s.put("feeder_rate:F1", FROM, TO, 240.0)
    s.put("feeder_drive:F1", FROM, TO, 100.0)
    s.scale("torque", FROM + 20, TO, 0.8)
    s.scale("melt_pressure:P1", FROM + 30, TO, 0.9)


def half_as_much_a_turn(s: Script) -> None:
    s.scale("feeder_drive:F1", FROM, TO, 1.9)
    s.scale("torque", FROM + 20, TO, 0.8)
    s.scale("melt_pressure:P1", FROM + 30, TO, 0.9)


@pytest.mark.parametrize("story", [rate_is_a_copy, half_as_much_a_turn])
def test_a_feeder_that_says_more_than_it_delivers_starves_and_does_not_flood(story: Story) -> None:
    """A bulk density a fifth down floods an intake; no material takes all of the drive, or half as much again."""
    s = twin(LOG_S)
    story(s)
    found = told(s, Starved(), Flooded())

    assert {finding.last.condition for finding in found} == {"starved"}
    assert "delivers less than it says" in found[0].last.cause_texts[0]


def test_half_of_the_torque_gone_at_once_is_a_path_blocked_though_pressure_rises() -> None:
    """What a side feeder goes on adding makes what is left stiffer."""
    s = twin(LOG_S)
    s.scale("torque", FROM, TO, 0.45)
    s.scale("melt_pressure:P1", FROM + 20, TO, 1.15)
    finding = only(told(s, Starved()))

    assert finding.last.cause_texts[0] == "path blocked between feeder and throat"
