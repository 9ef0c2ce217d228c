"""Most of the melt leaves and some pressure stays: priority 1. A pump that draws its suction down is not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.burst_disc_or_leak import BurstDiscOrLeak
from tests.monitor.conditions.told import Story, changed, only, seconds, told, words
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

P1, P2, AT = "melt_pressure:P1", "melt_pressure:P2", 5000


def falls(s: Script, key: str, share: float, start_s: float = AT, end_s: float = 6000, over_s: float = 4.0) -> None:
    """To a share of what it was, for most of it within so many seconds."""
    part = s.span(start_s, end_s)
    t = np.arange(len(s.x[key][part])) * s.cadence
    s.x[key][part] *= share + (1 - share) * np.exp(-t / over_s)


@pytest.mark.parametrize("cadence_s", [1.0, 5.0, 10.0])
def test_a_leak_that_leaves_a_quarter_of_the_pressure_is_priority_1(cadence_s: float) -> None:
    s = path_script(6000, changed(path_line(), line={"cadence_s": cadence_s}))
    for key in (P1, P2):
        falls(s, key, 0.25)
    found = told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe())
    assert len(found) == 2 and all(f.last.priority == 1 and f.last.caution and not f.last.part_of for f in found)
    assert found[0].last.causes[0].text.startswith("leak")
    assert all(AT + 30 <= (seconds(f.first_decided_at) or 0) <= AT + 60 for f in found)


def test_without_a_pressure_behind_it_a_torn_screen_is_named_as_well() -> None:
    line = path_line("twin-screw", P1="before_screen", P2="barrel")
    s = path_script(6000, line)
    falls(s, P1, 0.2)
    finding = only(told(s, BurstDiscOrLeak(), line=line, recipe=path_recipe()))
    assert finding.last.priority == 1 and "screen torn" in words(finding)


def test_it_is_over_when_the_pressure_is_back() -> None:
    s = path_script(8000)
    for key in (P1, P2):
        falls(s, key, 0.25, end_s=6500)
    found = told(s, BurstDiscOrLeak(), recipe=path_recipe())
    assert len(found) == 2 and all(6500 <= (seconds(f.last.until) or 0) <= 6520 for f in found)


def screen_torn(s: Script) -> None:
    """The die holds what it did."""
    falls(s, P1, 0.4)


def feed_fails(s: Script) -> None:
    """The load goes with it."""
    for key in (P1, P2):
        falls(s, key, 0.4)
    s.scale("torque", AT, 6000, 0.4)


def melting_begins(s: Script) -> None:
    """Load comes up while a start's pressure goes down."""
    s.scale("torque", 0, AT - 60, 0.4)
    s.x["torque"][s.span(AT - 60, AT + 30)] *= np.linspace(0.4, 1, 90)
    for key in (P1, P2):
        falls(s, key, 0.4)


def screen_changer_fills(s: Script) -> None:
    for key in (P1, P2):
        falls(s, key, 0.3, end_s=AT + 25, over_s=2.0)


def passing_high(s: Script) -> None:
    """Twice the pressure for most of a minute, then what it was."""
    for key in (P1, P2):
        s.scale(key, AT - 40, AT, 2.3)


@pytest.mark.parametrize("story", [screen_torn, feed_fails, melting_begins, screen_changer_fills, passing_high])
def test_silent(story: Story) -> None:
    s = path_script(6000)
    story(s)
    assert told(s, BurstDiscOrLeak(), recipe=path_recipe()) == []


def pump_races(stands: float) -> Script:
    """What was missing comes back: the suction swings up, its control turns the pump fast, which draws it down.

    stands: share of its pressure that the pump delivers against once the suction is gone.
    """
    line = pump_line()
    s = path_script(6000, line)
    suction, speed, behind = "melt_pressure:PS", "melt_pump_speed", "melt_pressure:PD"
    s.scale(speed, AT - 400, AT - 90, 0.4)
    s.scale(behind, AT - 400, AT - 90, 0.7)
    s.x[suction][s.span(AT - 90, AT)] *= np.concatenate((np.linspace(1, 3.5, 45), np.linspace(3.5, 1.5, 45)))
    s.x[speed][s.span(AT - 60, AT + 40)] *= np.linspace(1.4, 1.0, 100)
    s.x[suction][s.span(AT, AT + 60)] *= 0.05 + 1.45 * np.exp(-np.arange(60) / 8.0)
    s.scale(behind, AT + 5, AT + 60, stands)
    return s


@pytest.mark.parametrize(("stands", "said"), [(0.95, False), (0.3, True)])
def test_a_pump_that_turned_fast_draws_its_suction_down_while_it_delivers(stands: float, said: bool) -> None:
    s = pump_races(stands)
    found = told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe("single-screw"))
    assert any(f.last.channel == "melt_pressure:PS" for f in found) == said
