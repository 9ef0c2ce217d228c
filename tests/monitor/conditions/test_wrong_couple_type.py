"""Another couple since the stop: its zone's duty and its neighbours' have parted; bands, mains and speed have not."""

from __future__ import annotations

import pytest

from monitor.conditions.wrong_couple_type import WrongCoupleType
from tests.monitor.conditions.told import Story, only, seconds, told, words
from tests.monitor.scripted_world import FEEDERS
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_ZONES, HeatScript

LOG_S, STOP, START = 12600, 4500, 5700


def find(story: Story):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    s.stop(STOP, START)
    story(s)
    return told(s, WrongCoupleType(), line=HEAT_LINE, recipe=HEAT_RECIPE)


def since_the_stop(**by_pct: float) -> Story:
    def story(s: HeatScript) -> None:
        for zone, by in by_pct.items():
            s.add(f"zone_output:{zone}", START, LOG_S, by)

    return story


@pytest.mark.parametrize(
    ("story", "says"),
    [
        (since_the_stop(Z3=18, Z2=-3, Z4=-3), "it reads too low, the zone is hotter than shown"),
        (since_the_stop(Z3=-14, Z2=3, Z4=3), "it reads too high, the zone is colder than shown"),
        (since_the_stop(DIE=18, ADAPTER=-4), "it reads too low"),
    ],
)
def test_speaks(story: Story, says: str) -> None:
    finding = only(find(story))

    assert says in finding.last.summary and "since the stop" in finding.last.summary
    assert START + 3000 <= (seconds(finding.first_decided_at) or 0) <= START + 4500
    assert "qualified staff" in finding.last.caution and "type" in words(finding)


def mains(s: HeatScript) -> None:
    for zone in HEAT_ZONES:
        s.scale(f"zone_output:{zone}", START, LOG_S, 1.25)


def another_speed(s: HeatScript) -> None:
    since_the_stop(Z3=18, Z2=-3, Z4=-3)(s)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, START, LOG_S, 0.85)


def another_rate(s: HeatScript) -> None:
    since_the_stop(Z3=18, Z2=-3, Z4=-3)(s)
    for feeder in FEEDERS:
        s.scale(f"feeder_rate:{feeder}", START, LOG_S, 0.8)
        s.scale(f"feeder_setpoint:{feeder}", START, LOG_S, 0.8)


def another_set_point(s: HeatScript) -> None:
    since_the_stop(Z3=18, Z2=-3, Z4=-3)(s)
    s.put("zone_setpoint:Z3", STOP, LOG_S, 235)


def before_too(s: HeatScript) -> None:
    """It was so before the stop already."""
    for zone, by in (("Z3", 18), ("Z2", -3), ("Z4", -3)):
        s.add(f"zone_output:{zone}", 0, LOG_S, by)


def fault_long_after_the_stop(s: HeatScript) -> None:
    """It took what it did before for twenty minutes; then its couple opened, and it is brought back from that."""
    for zone, by in (("Z3", 18), ("Z2", -3), ("Z4", -3)):
        s.add(f"zone_output:{zone}", START + 4200, LOG_S, by)


@pytest.mark.parametrize(
    "story",
    [
        fault_long_after_the_stop,
        since_the_stop(Z3=14),
        since_the_stop(Z3=18, Z2=-3),
        mains,
        another_speed,
        another_rate,
        another_set_point,
        before_too,
    ],
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []
