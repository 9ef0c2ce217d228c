"""Zones and melt too cold while product is made; heat-up, a new set-point and a stop are not."""

from __future__ import annotations

import pytest

from monitor.conditions.under_temperature import MeltUnderTemperature, UnderTemperature
from tests.monitor.conditions.told import Story, only, seconds, told, twin
from tests.monitor.scripted_world import FEEDERS, Script

LOG_S, FROM, TO = 4800, 3000, 3900
ZONE, MELT = "zone_temperature:Z3", "melt_temperature:MT1"


def colder(key: str, by_c: float, from_s: float = FROM, to_s: float = TO) -> Story:
    def story(s: Script) -> None:
        s.x[key][s.span(from_s, to_s)] -= by_c

    story.__name__ = f"{key}_{-by_c:+g}_from_{from_s}"
    return story


def stopped_and_cooling(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, FROM, LOG_S, 0)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", FROM, LOG_S, 0)
        s.put(f"feeder_setpoint:{feeder}", FROM, LOG_S, 0)
    s.put(ZONE, FROM, LOG_S, 215, slope_s=-0.02)
    s.put(MELT, FROM, LOG_S, 228, slope_s=-0.05)


def started_a_while_ago(s: Script) -> None:
    """A start at 2400 s: zones take 20 to 40 min to settle."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 1200, 2400, 0)
    s.x[ZONE][s.span(2500, 3100)] -= 4


def couple_shorted(s: Script) -> None:
    s.put(ZONE, FROM, TO, 25)


@pytest.mark.parametrize(
    ("condition", "story", "priority", "word"),
    [
        (UnderTemperature(), colder(ZONE, 4.2), 3, "below its limit of 212"),
        (UnderTemperature(), colder(ZONE, 7), 2, "below its limit of 212"),
        (MeltUnderTemperature(), colder(MELT, 9), 3, "below its limit of 220"),
        (MeltUnderTemperature(), colder(MELT, 14), 2, "below its limit of 220"),
    ],
)
def test_speaks(condition: UnderTemperature, story: Story, priority: int, word: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, condition))

    assert word in finding.last.summary and finding.last.priority == priority
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 60
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 60


@pytest.mark.parametrize(
    ("condition", "story"),
    [
        (UnderTemperature(), colder(ZONE, 2)),
        (UnderTemperature(), colder(ZONE, 6, FROM, FROM + 40)),
        (UnderTemperature(), stopped_and_cooling),
        (UnderTemperature(), started_a_while_ago),
        (UnderTemperature(), couple_shorted),
        (MeltUnderTemperature(), colder(MELT, 6)),
        (MeltUnderTemperature(), stopped_and_cooling),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_stays_silent(condition: UnderTemperature, story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, condition) == []


@pytest.mark.parametrize(
    ("output", "cause"),
    [(95, "heater or part of its bands dead"), (0, "zone in manual or switched off"), (30, "heater weak")],
)
def test_causes_follow_the_output_of_the_zone(output: float, cause: str) -> None:
    s = twin(LOG_S)
    colder(ZONE, 7)(s)
    s.put("zone_output:Z3", FROM, TO, output)

    assert only(told(s, UnderTemperature())).last.cause_texts[0] == cause


def test_a_controller_that_is_told_less_than_the_recipe_wants() -> None:
    s = twin(LOG_S)
    s.put("zone_setpoint:Z3", 0, LOG_S, 205)
    s.put(ZONE, 1000, 1500, 215, slope_s=-0.02)
    s.put(ZONE, 1500, LOG_S, 205)

    assert only(told(s, UnderTemperature())).last.cause_texts == ("the controller's set-point is below the recipe",)
