"""A starve-fed line of which speed and pressures are all that is logged: less feed and thinner melt, both said."""

from __future__ import annotations

import pytest

from monitor.conditions.pressure_alone import LOADS_AND_FEEDS
from monitor.conditions.starved import Starved
from tests.monitor.conditions.told import Story, changed, only, seconds, told, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script

FROM, TO, LOG_S = 3600, 4800, 6000
LINE = without(path_line(), *LOADS_AND_FEEDS, "feeder_setpoint")
PRESSURES = ("melt_pressure:P1", "melt_pressure:P2")


def both(s: Script, factor: float, start: float = FROM, end: float = TO) -> None:
    for key in PRESSURES:
        s.scale(key, start, end, factor)


def a_third_less(s: Script) -> None:
    both(s, 0.75)


def one_of_them(s: Script) -> None:
    """A screen that lets go, or a sensor of its own."""
    s.scale(PRESSURES[0], FROM, TO, 0.75)


def one_far_more(s: Script) -> None:
    """A screen that lets go takes a little of the other with it."""
    s.scale(PRESSURES[0], FROM, TO, 0.5)
    s.scale(PRESSURES[1], FROM, TO, 0.85)


def trimmed(s: Script) -> None:
    both(s, 0.93)


def creeps(s: Script) -> None:
    for minute in range(30):
        both(s, 1 - 0.01 * minute, FROM + 60 * minute, FROM + 60 * minute + 60)


def run_empty_before_a_stop(s: Script) -> None:
    """Within a minute little is left, then the screw stands."""
    for part in range(6):
        both(s, 0.8 - 0.15 * part, FROM + 10 * part, FROM + 10 * part + 10)
    both(s, 0.03, FROM + 60, LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.put(key, FROM + 80, LOG_S, 0.0)


def slower(s: Script) -> None:
    both(s, 0.75)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, TO, 0.6)


def test_it_is_said_within_minutes_with_both_causes_and_ends() -> None:
    s = path_script(LOG_S)
    a_third_less(s)
    finding = only(told(s, Starved(), line=LINE, recipe=path_recipe()))
    last = finding.last

    assert last.channel == "melt_pressure:P1" and last.confidence == "low" and last.priority == 2
    assert "starved or thinner melt, both fit: all pressures down 25 %" in last.summary
    assert [cause.text.split(":")[0] for cause in last.causes[:2]] == ["less is fed", "thinner melt"]
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 120
    assert last.until is not None and TO <= (seconds(last.until) or 0) <= TO + 120


@pytest.mark.parametrize("story", [one_of_them, one_far_more, trimmed, creeps, run_empty_before_a_stop, slower])
def test_stays_silent(story: Story) -> None:
    s = path_script(LOG_S)
    story(s)

    assert told(s, Starved(), line=LINE, recipe=path_recipe()) == []


def test_where_a_load_is_logged_pressures_alone_say_nothing() -> None:
    s = path_script(LOG_S)
    a_third_less(s)

    assert told(s, Starved(), line=path_line(), recipe=path_recipe()) == []


def test_a_recipe_that_floods_the_screw_leaves_the_same_subject() -> None:
    s = path_script(LOG_S)
    a_third_less(s)
    flooded = changed(path_recipe(), recipe={"feed": "flooded"})

    assert told(s, Starved(), line=LINE, recipe=flooded) == []
