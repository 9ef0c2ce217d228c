"""Started before the soak was over, as the log saw it; a full soak, a jog and an unseen heat-up are not."""

from __future__ import annotations

import pytest

from monitor.conditions.soak_short import SoakShort
from tests.monitor.conditions.told import R1, Story, changed, only, seconds, told, twin
from tests.monitor.scripted_world import TARGETS, Script

LOG_S, HOT = 4800, 1200
"""All zones within 8 C of set from 1200 s on; R1 wants 25 min of soak, so until 2700 s."""


def heat_up(s: Script, start_s: float) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, start_s, 0.0)
    for zone, target in TARGETS.items():
        s.put(f"zone_temperature:{zone}", 0, HOT, min(60, target - 20))
        s.put(f"zone_temperature:{zone}", HOT, LOG_S, target)


def soaked(s: Script) -> None:
    heat_up(s, HOT + 1560)


def jog(s: Script) -> None:
    heat_up(s, HOT + 1560)
    s.put("screw_speed", HOT + 600, HOT + 612, 50)


def hot_from_the_beginning(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, 600, 0.0)


def short_stop(s: Script) -> None:
    """Eight minutes: a zone that shear kept hot falls by 20 C, the melt does not."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 2400, 2880, 0.0)
    s.put("zone_temperature:Z3", 2460, 2900, TARGETS["Z3"] - 20)


def test_a_start_out_of_the_heat_up_is_no_soak_at_all() -> None:
    """Every zone may be above the melting point by then, so that `cold_start` is content."""
    s = twin(LOG_S)
    heat_up(s, HOT - 300)

    assert only(told(s, SoakShort())).last.summary == "screw started after 0 of 25 min soak"


def test_speaks_for_the_rest_of_the_soak() -> None:
    s = twin(LOG_S)
    heat_up(s, HOT + 600)

    finding = only(told(s, SoakShort()))

    assert finding.last.summary == "screw started after 10 of 25 min soak"
    assert seconds(finding.last.since) == HOT + 600
    assert HOT + 1490 <= (seconds(finding.last.until) or 0) <= HOT + 1510


@pytest.mark.parametrize("story", [soaked, jog, hot_from_the_beginning, short_stop])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, SoakShort()) == []


def test_the_recipe_says_how_long() -> None:
    s = twin(LOG_S)
    heat_up(s, HOT + 600)

    assert told(s, SoakShort(), recipe=changed(R1, recipe={"soak_min": 9})) == []
