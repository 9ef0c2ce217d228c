"""The screw started with a zone still cold; jogs, the cooled feed zone and zones that cool later are not."""

from __future__ import annotations

import pytest

from monitor.conditions.cold_start import ColdStart
from tests.monitor.conditions.told import R1, Story, changed, only, seconds, told, twin
from tests.monitor.scripted_world import TARGETS, Script

LOG_S, START = 1800, 900


def standing(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, START, 0.0)


def cold(zone: str, at_c: float) -> Story:
    def story(s: Script) -> None:
        standing(s)
        s.put(f"zone_temperature:{zone}", 0, LOG_S, at_c)

    story.__name__ = f"{zone}_at_{at_c:g}"
    return story


def jog(s: Script) -> None:
    cold("DIE", 120)(s)
    s.put("screw_speed", START + 3, LOG_S, 0)


def cools_while_turning(s: Script) -> None:
    standing(s)
    s.put("zone_temperature:DIE", START + 120, LOG_S, 219, slope_s=-0.25)


def short_rest(s: Script) -> None:
    """A trip of half a minute in running: nothing grew cold in it, whatever the couple says."""
    s.put("zone_temperature:DIE", 0, LOG_S, 120)
    s.put("screw_speed", 0, LOG_S, 300)
    s.put("screw_speed", START - 30, START, 0)


def not_read(s: Script) -> None:
    standing(s)
    s.put("zone_temperature:DIE", 0, LOG_S, float("nan"))


@pytest.mark.parametrize("zone", ["Z2", "Z3", "ADAPTER", "DIE"])
def test_speaks_of_every_zone_from_the_melting_length_to_the_die(zone: str) -> None:
    s = twin(LOG_S)
    cold(zone, 120)(s)

    finding = only(told(s, ColdStart()))

    assert finding.last.channel == f"zone_temperature:{zone}"
    assert finding.last.priority == 1 and "Stop the screw" in finding.last.caution
    assert seconds(finding.last.since) == START and seconds(finding.first_decided_at) == START + 5


@pytest.mark.parametrize("story", [cold("Z1", 25), cold("DIE", 195), jog, cools_while_turning, not_read])
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, ColdStart()) == []


def test_after_a_short_rest_it_is_no_start() -> None:
    s = twin(LOG_S)
    short_rest(s)

    assert told(s, ColdStart()) == [], "nor is the log's own beginning, on a turning cold screw"


@pytest.mark.parametrize(
    ("materials", "melting_c", "at_c", "speaks"),
    [
        (["PP"], None, 184, True),
        (["PP"], None, 186, False),
        (["PS"], None, 149, True),
        (["PS"], None, 151, False),
        ([], None, 184, True),
        ([], None, 191, False),
        ([], 180, 189, True),
        ([], 180, 191, False),
    ],
)
def test_the_limit_is_the_materials(materials: list[str], melting_c: float | None, at_c: float, speaks: bool) -> None:
    """PP melts up to 175 C: 185 with the margin (Callister); PS has its Tg at 100 C: 150. Unknown: 30 under target.

    A recipe's own melting point goes before the table.
    """
    s = twin(LOG_S)
    cold("DIE", at_c)(s)
    recipe = changed(R1, recipe={"materials": materials, "melting_point_c": melting_c, "ceiling_c": 280})

    assert bool(told(s, ColdStart(), recipe=recipe)) == speaks


def test_it_ends_when_the_zone_is_warm_or_the_screw_stops() -> None:
    s = twin(LOG_S)
    cold("DIE", 120)(s)
    s.put("zone_temperature:DIE", START + 200, LOG_S, 200)
    assert seconds(only(told(s, ColdStart())).last.until) == START + 200

    s = twin(LOG_S)
    cold("DIE", 120)(s)
    s.put("screw_speed", START + 100, LOG_S, 0)
    assert seconds(only(told(s, ColdStart())).last.until) == START + 100


def test_without_a_recipe_nobody_knows_what_is_cold() -> None:
    s = twin(LOG_S)
    cold("DIE", 25)(s)

    assert told(s, ColdStart(), recipes=False) == []
    assert set(TARGETS) == set(R1.zones)
