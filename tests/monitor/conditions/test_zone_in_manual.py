"""A zone in manual: a flat output and a wandering temperature; limits, deadbands and stale tags are not."""

from __future__ import annotations

import pytest

from monitor.conditions.zone_in_manual import ZoneInManual
from tests.monitor.conditions.told import Story, only, seconds, told, without
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_TARGETS, HEAT_ZONES, HeatScript

LOG_S, FROM, TO = 6600, 1800, 5400
ZONE, OUT = "zone_temperature:Z3", "zone_output:Z3"


def in_manual(s: HeatScript) -> None:
    """30 % fixed; the zone drifts off by 6 C within half an hour."""
    s.put(OUT, FROM, TO, 30.0)
    s.ramp(ZONE, FROM, FROM + 1800, 221.0)
    s.put(ZONE, FROM + 1800, TO, 221.0)


def switched_off(s: HeatScript) -> None:
    """Zero output, 12 C under set and falling."""
    s.put(OUT, FROM, TO, 0.0)
    s.ramp(ZONE, FROM, TO, 203.0)


def held_well(s: HeatScript) -> None:
    """A logger deadband: the output seems to stand, the zone is on its set-point."""
    s.put(OUT, FROM, TO, 30.0)


def at_a_limit(s: HeatScript) -> None:
    """It has never called for more than these 40 %: perhaps it may not."""
    s.put(OUT, 0, LOG_S, 40.0)
    s.put(ZONE, FROM, TO, 209.0)


def most_stale(s: HeatScript) -> None:
    """One controller rack is stale: all outputs stand while zones move."""
    for zone in HEAT_ZONES:
        s.put(f"zone_output:{zone}", FROM, TO, 30.0)
        s.add(f"zone_temperature:{zone}", FROM + 600, TO, 3.0)


def set_point_moved(s: HeatScript) -> None:
    s.put("zone_setpoint:Z3", FROM, LOG_S, 225.0)
    s.put(OUT, FROM, FROM + 1100, 60.0)
    s.ramp(ZONE, FROM, FROM + 1100, 225.0)
    s.put(ZONE, FROM + 1100, LOG_S, 225.0)


def not_read(s: HeatScript) -> None:
    in_manual(s)
    s.put(OUT, FROM, TO, float("nan"))


@pytest.mark.parametrize("story", [in_manual, switched_off])
def test_speaks(story: Story) -> None:
    s = HeatScript(LOG_S)
    story(s)

    finding = only(told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE))
    assert finding.last.channel == OUT and finding.last.cause_texts[0] == "zone left in manual"
    assert FROM + 1200 <= (seconds(finding.first_decided_at) or 0) <= FROM + 2700


@pytest.mark.parametrize("story", [held_well, at_a_limit, most_stale, set_point_moved, not_read])
def test_stays_silent(story: Story) -> None:
    s = HeatScript(LOG_S)
    story(s)

    assert told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE) == []


def test_it_stands_over_a_stop_in_which_the_zone_comes_nearer_until_the_output_moves() -> None:
    s = HeatScript(LOG_S)
    in_manual(s)
    s.stop(3300, 3900)
    s.ramp(ZONE, 3300, 4500, 218.0)
    s.put(ZONE, 4500, TO, 218.0)

    finding = only(told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE))

    assert finding.last.kind == "closed" and abs((seconds(finding.last.until) or 0) - TO) <= 120


def test_it_ends_where_the_zone_has_come_to_its_set_point() -> None:
    s = HeatScript(LOG_S)
    in_manual(s)
    s.put(OUT, FROM, LOG_S, 30.0)
    s.put(ZONE, 4000, LOG_S, HEAT_TARGETS["Z3"])

    finding = only(told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE))

    assert finding.last.kind == "closed" and abs((seconds(finding.last.until) or 0) - 5200) <= 120


def test_the_controllers_own_word_counts_both_ways() -> None:
    s = HeatScript(LOG_S)
    s.put("zone_auto:Z5", FROM, TO, 0)
    finding = only(told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE))
    assert finding.last.confidence == "high" and finding.last.channel == "zone_output:Z5"
    assert FROM + 600 <= (seconds(finding.first_decided_at) or 0) <= FROM + 780

    s = HeatScript(LOG_S)
    s.put("zone_output:Z5", FROM, TO, 30.0)
    s.put("zone_temperature:Z5", FROM, TO, HEAT_TARGETS["Z5"] + 5)
    assert told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE) == [], "automatic is believed"


def test_the_word_alone_is_enough_where_no_output_is_logged() -> None:
    line = without(HEAT_LINE, "zone_output", "zone_cooling")
    s = HeatScript(LOG_S)
    s.put("zone_auto:Z5", FROM, TO, 0)

    assert only(told(s, ZoneInManual(), line=line, recipe=HEAT_RECIPE)).last.channel == "zone_output:Z5"


def test_far_off_is_more_urgent() -> None:
    s = HeatScript(LOG_S)
    in_manual(s)
    s.add(ZONE, FROM + 1800, TO, 6.0)

    last = only(told(s, ZoneInManual(), line=HEAT_LINE, recipe=HEAT_RECIPE)).last
    assert last.priority == 2 and "Keep people away" in last.caution
