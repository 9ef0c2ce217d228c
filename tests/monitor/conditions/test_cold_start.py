"""The screw started with a zone still cold; jogs, the cooled feed zone and zones that cool later are not."""

from __future__ import annotations

import pytest

from monitor.conditions.cold_start import ColdStart
from monitor.records import Finding
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
    s.put("zone_temperature:DIE", 0, 60, 220)

    assert told(s, ColdStart()) == []


def test_a_stop_of_minutes_in_running_leaves_the_melt_hot() -> None:
    """Water runs on in a zone that shear kept hot: its steel falls, the melt inside does not follow so soon."""

    def said(ran_s: float, stood_s: float) -> int:
        s = twin(3600)
        for key in ("screw_speed", "screw_speed_setpoint", "torque"):
            s.put(key, 0, 600, 0.0)
            s.put(key, 600 + ran_s, 600 + ran_s + stood_s, 0.0)
        s.put("zone_temperature:DIE", 600 + ran_s + 20, 3600, 120)
        return len(told(s, ColdStart()))

    assert [said(900, 180), said(900, 900), said(120, 180)] == [0, 1, 1]


def test_a_log_that_begins_on_a_cold_turning_screw_says_so_once_and_not_since_when() -> None:
    s = twin(LOG_S)
    s.put("zone_temperature:DIE", 0, LOG_S, 120, slope_s=0.05)

    finding = only(told(s, ColdStart()))
    assert "turning, as the log begins," in finding.last.summary and "started" not in finding.last.summary
    assert finding.last.priority == 1 and finding.last.confidence == "medium"
    assert seconds(finding.last.since) == 0


def test_once_it_has_stood_a_new_start_is_a_start() -> None:
    s = twin(LOG_S)
    s.put("zone_temperature:DIE", 0, LOG_S, 120)
    s.put("screw_speed", 300, START, 0)

    first, second = told(s, ColdStart())
    assert "as the log begins" in first.last.summary and seconds(first.last.until) == 300
    assert second.last.summary.startswith("screw started") and seconds(second.last.since) == START


def hot_on_both_sides(s: Script) -> None:
    """A couple that reads ambient between two hot zones."""
    s.put("zone_temperature:Z3", 0, LOG_S, 25)


def at_its_set_point(s: Script) -> None:
    s.put("zone_temperature:DIE", 0, LOG_S, 180)
    s.put("zone_setpoint:DIE", 0, LOG_S, 180)


def turned_cold_later(s: Script) -> None:
    s.put("zone_temperature:DIE", 120, LOG_S, 219, slope_s=-0.25)


@pytest.mark.parametrize("story", [hot_on_both_sides, at_its_set_point, turned_cold_later])
def test_a_log_that_begins_on_a_turning_screw_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, ColdStart()) == []


def test_an_adapter_that_the_recipe_leaves_out_counts_too() -> None:
    s = twin(LOG_S)
    cold("ADAPTER", 120)(s)
    data = R1.model_dump()
    zones = {zone: at for zone, at in TARGETS.items() if zone != "ADAPTER"}
    recipe = type(R1).model_validate({**data, "zones": zones, "version": "no adapter"})

    assert only(told(s, ColdStart(), recipe=recipe)).last.channel == "zone_temperature:ADAPTER"


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


@pytest.mark.parametrize(("at_c", "speaks"), [(131, True), (133, False)])
def test_a_recipe_may_give_the_glass_transition(at_c: float, speaks: bool) -> None:
    """Tg + 50 C, 132 here, before the 150 C of the table's PS; no further margin."""
    s = twin(LOG_S)
    cold("DIE", at_c)(s)
    recipe = changed(R1, recipe={"materials": ["PS"], "glass_transition_c": 82, "ceiling_c": 280})

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


def test_one_start_with_several_cold_zones_is_one_finding_that_lists_them() -> None:
    s = twin(LOG_S)
    standing(s)
    for zone, at in (("Z3", 168), ("DIE", 120), ("ADAPTER", 150)):
        s.put(f"zone_temperature:{zone}", 0, START + 300, at)
    s.put("zone_temperature:Z3", 0, START + 600, 168)

    finding = only(told(s, ColdStart()))
    last = finding.last
    assert last.channel == "zone_temperature:DIE" and last.priority == 1
    assert "with zone DIE at 120 °C" in last.summary and "; too cold as well: ADAPTER by" in last.summary
    assert last.summary.index("ADAPTER") < last.summary.index("Z3 by")
    assert [item.channel for item in last.evidence[:3]] == [
        f"zone_temperature:{zone}" for zone in ("DIE", "ADAPTER", "Z3")
    ]
    # It lasts while any of them is too cold, be it the least of all.
    assert START + 600 <= (seconds(last.until) or 0) <= START + 640


def test_the_coldest_zone_that_is_no_longer_read_leaves_the_others_to_be_seen() -> None:
    s = twin(LOG_S)
    standing(s)
    for zone, at in (("Z3", 150), ("DIE", 120)):
        s.put(f"zone_temperature:{zone}", 0, LOG_S, at)
    s.put("zone_temperature:DIE", START + 60, LOG_S, float("nan"))

    assert only(told(s, ColdStart())).last.until is None


def ran_cold(stood_s: float, story: Story, ran_s: float = 900) -> list[Finding]:
    """Runs hot and then grows cold while it turns, stops for a while and is started again."""
    s = twin(3600)
    s.put("screw_speed", ran_s, ran_s + stood_s, 0.0)
    story(s)
    return told(s, ColdStart())


def supply_lost(s: Script) -> None:
    """Heating gone at 300 s: zone by zone falls, the two at the end of the melting length below their limit of 185."""
    for zone, at_c in (("Z2", 120), ("Z3", 150), ("ADAPTER", 200), ("DIE", 205)):
        s.put(f"zone_temperature:{zone}", 300, 3600, at_c)


def set_so(s: Script) -> None:
    for key in ("zone_temperature:Z3", "zone_setpoint:Z3"):
        s.put(key, 300, 3600, 160)


def misread(s: Script) -> None:
    """A couple that shows the room between two hot zones."""
    s.put("zone_temperature:Z3", 300, 3600, 30)


def cooled_in_the_stop(s: Script) -> None:
    s.put("zone_temperature:Z3", 920, 3600, 150)


def test_zones_that_were_cold_before_a_short_stop_are_not_excused_by_it() -> None:
    finding = only(ran_cold(480, supply_lost))
    assert finding.last.priority == 1 and finding.last.confidence == "medium"
    assert seconds(finding.last.since) == 1380 and seconds(finding.first_decided_at) == 1385
    said = finding.last.summary
    assert "after a stop of 8 min" in said and "zone Z2 at 120 °C" in said and "Z3 by 35 °C" in said
    assert "before the stop" in said


@pytest.mark.parametrize("story", [set_so, misread, cooled_in_the_stop])
def test_what_a_short_stop_does_excuse(story: Story) -> None:
    assert ran_cold(480, story) == []


def test_a_trip_of_half_a_minute_freezes_nothing() -> None:
    assert ran_cold(30, supply_lost) == []


def test_melt_that_the_screw_kept_soft_is_still_so_after_two_minutes() -> None:
    """A die is wiped, strands are threaded anew; the wall needs five to take its heat."""
    assert [len(ran_cold(stood_s, supply_lost)) for stood_s in (120, 400)] == [0, 1]
