"""Above set at zero heat while the screw turns: shear, a hot neighbour, or most zones at once; settling is not."""

from __future__ import annotations

import pytest

from monitor.conditions.shear_overheating import ShearOverheating
from tests.monitor.conditions.told import Story, only, seconds, told, words
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_ZONES, HeatScript

LOG_S, FROM, TO = 9000, 4200, 7800
ZONE, OUT = "zone_temperature:Z3", "zone_output:Z3"
MELT = "melt_temperature:MT1"


def hotter(zone: str, by_c: float, output: float) -> Story:
    def story(s: HeatScript) -> None:
        s.ramp(f"zone_temperature:{zone}", FROM, FROM + 600, s.x[f"zone_setpoint:{zone}"][0] + by_c)
        s.put(f"zone_temperature:{zone}", FROM + 600, TO, s.x[f"zone_setpoint:{zone}"][0] + by_c)
        s.put(f"zone_output:{zone}", FROM, TO, output)

    return story


def find(story: Story):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, ShearOverheating(), line=HEAT_LINE, recipe=HEAT_RECIPE)


@pytest.mark.parametrize(("by_c", "output", "priority"), [(6, -40, 4), (6, 0, 4), (14, -40, 3), (58, -40, 2)])
def test_speaks_by_how_far_and_how_near_the_ceiling(by_c: float, output: float, priority: int) -> None:
    def story(s: HeatScript) -> None:
        """The melt that heats it is as hot itself."""
        hotter("Z3", by_c, output)(s)
        s.add(MELT, FROM, TO, by_c)

    finding = only(find(story))

    assert finding.last.channel == ZONE and finding.last.priority == priority
    assert FROM + 600 <= (seconds(finding.first_decided_at) or 0) <= FROM + 1500
    assert finding.last.cause_texts[0].startswith("shear heat")
    assert "contactor stuck on" in words(finding), "without heater current the two look alike"


def test_a_zone_far_hotter_than_the_melt_and_its_neighbours_is_not_heated_by_them() -> None:
    last = only(find(hotter("Z3", 58, 0))).last

    assert last.cause_texts[0].startswith("contactor stuck on") and "hotter than the melt" in last.summary
    assert "hotter than the melt and its neighbours" in str(last.causes[0].speaks_for)


def test_cooling_that_does_less_than_it_did_at_the_same_load_is_named_before_shear() -> None:
    def story(s: HeatScript) -> None:
        s.put("zone_output:Z3", 0, LOG_S, -10)
        hotter("Z3", 8, -60)(s)

    finding = only(find(story))
    assert finding.last.cause_texts[0].startswith("cooling of this zone does less")


def faster(s: HeatScript) -> None:
    """Speed up by a tenth brings the heat."""
    hotter("Z3", 8, 0)(s)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM - 300, LOG_S, 1.1)


def test_what_rose_with_it_speaks_for_shear() -> None:
    cause = only(find(faster)).last.causes[0]
    assert any("screw speed has risen" in text for text in cause.speaks_for)


def test_heater_current_turns_the_order_round() -> None:
    def story(s: HeatScript) -> None:
        hotter("Z4", 8, 0)(s)
        s.put("zone_current:Z4", FROM, TO, 12.0)

    assert only(find(story)).last.cause_texts[0].startswith("contactor stuck on")


def test_a_low_set_zone_between_hot_ones_is_heated_by_them() -> None:
    finding = only(find(hotter("Z1", 12, 0)))
    assert finding.last.cause_texts[0] == "heat from its neighbours" and "its neighbours or the melt" in words(finding)


def test_most_zones_at_once_are_one_finding() -> None:
    def story(s: HeatScript) -> None:
        for zone in HEAT_ZONES[1:]:
            hotter(zone, 8, 0)(s)

    finding = only(find(story))
    assert finding.last.channel == "screw_speed" and "4 zones" in finding.last.summary


def still_heated(s: HeatScript) -> None:
    hotter("Z3", 6, 12)(s)


def cooling_at_its_end(s: HeatScript) -> None:
    hotter("Z3", 6, -100)(s)


def set_point_lowered(s: HeatScript) -> None:
    s.put("zone_setpoint:Z3", FROM, LOG_S, 195)
    s.put(OUT, FROM, TO, -20)
    s.ramp(ZONE, FROM, TO, 195.0)


def overshoot_after_the_start(s: HeatScript) -> None:
    s.stop(0, FROM)
    hotter("Z3", 6, 0)(s)
    s.ramp(ZONE, FROM + 600, FROM + 2300, 215.0)
    s.put(ZONE, FROM + 2300, TO, 215.0)


def standing(s: HeatScript) -> None:
    hotter("Z3", 6, 0)(s)
    s.stop(FROM - 600, LOG_S)


@pytest.mark.parametrize(
    "story", [still_heated, cooling_at_its_end, set_point_lowered, overshoot_after_the_start, standing]
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []
