"""Part of the bands dead: more duty, a slower heat-up, a zone that hangs under set; mains, ambient and load are not."""

from __future__ import annotations

import pytest

from monitor.conditions.heater_partial import HeaterPartial
from monitor.conditions.thermocouple_loose import ThermocoupleLoose
from tests.monitor.conditions.told import Story, only, seconds, told
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_ZONES, HeatScript

LOG_S, FROM, TO = 9600, 4200, 8400
OUT = "zone_output:Z3"


def find(story: Story, *conditions):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, *(conditions or (HeaterPartial(),)), line=HEAT_LINE, recipe=HEAT_RECIPE)


def more(zone: str, by_pct: float) -> Story:
    def story(s: HeatScript) -> None:
        s.add(f"zone_output:{zone}", FROM, TO, by_pct)

    return story


@pytest.mark.parametrize("by_pct", [8.5, 12.5, 25.0])
def test_one_of_four_of_three_of_two_bands_dead(by_pct: float) -> None:
    """25 % becomes 33, 37.5, 50 %."""
    finding = only(find(more("Z3", by_pct)))

    assert finding.last.channel == OUT and finding.last.cause_texts[0].startswith("part of the heater bands")
    assert FROM + 1800 <= (seconds(finding.first_decided_at) or 0) <= FROM + 2200
    assert "qualified staff" in finding.last.caution


def mains_down(s: HeatScript) -> None:
    """11 % more duty in every zone, and a little more in Z3."""
    for zone in HEAT_ZONES:
        s.scale(f"zone_output:{zone}", FROM, TO, 1.11)
    s.add(OUT, FROM, TO, 3)


def cold_hall(s: HeatScript) -> None:
    for zone in HEAT_ZONES:
        s.add(f"zone_output:{zone}", FROM, TO, 12)


def set_point_up(s: HeatScript) -> None:
    s.put("zone_setpoint:Z3", FROM, LOG_S, 235)
    s.ramp("zone_temperature:Z3", FROM, FROM + 900, 235.0)
    s.put("zone_temperature:Z3", FROM + 900, LOG_S, 235.0)
    s.add(OUT, FROM, LOG_S, 10)


def neighbour_set_down(s: HeatScript) -> None:
    s.put("zone_setpoint:Z4", FROM, LOG_S, 190)
    s.ramp("zone_temperature:Z4", FROM, FROM + 900, 190.0)
    s.put("zone_temperature:Z4", FROM + 900, LOG_S, 190.0)
    s.add(OUT, FROM, LOG_S, 10)


def neighbour_dead(s: HeatScript) -> None:
    s.ramp("zone_temperature:Z4", FROM, TO, 150.0)
    s.put("zone_output:Z4", FROM, TO, 100)
    s.add(OUT, FROM, TO, 10)


def load_fell(s: HeatScript) -> None:
    s.scale("torque", FROM, TO, 0.85)
    s.add(OUT, FROM, TO, 10)


def for_a_while(s: HeatScript) -> None:
    s.add(OUT, FROM, FROM + 1200, 12)


def couple_loose(s: HeatScript) -> None:
    more("Z3", 12)(s)
    for zone in ("Z2", "Z4"):
        s.add(f"zone_output:{zone}", FROM, TO, -3)


@pytest.mark.parametrize(
    "story",
    [mains_down, cold_hall, set_point_up, neighbour_set_down, neighbour_dead, load_fell, for_a_while, couple_loose],
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []


def test_neighbours_tell_dead_bands_from_a_loose_couple() -> None:
    both = (HeaterPartial(), ThermocoupleLoose())
    assert only(find(more("Z3", 12), *both)).last.condition == "heater_partial"
    assert only(find(couple_loose, *both)).last.condition == "thermocouple_loose"


def test_full_heat_that_holds_far_under_set_on_a_standing_line() -> None:
    def story(s: HeatScript) -> None:
        s.stop(600, LOG_S)
        s.put(OUT, FROM, LOG_S, 100)
        s.ramp("zone_temperature:Z3", FROM, FROM + 900, 190.0)
        s.put("zone_temperature:Z3", FROM + 900, LOG_S, 190.0)

    finding = only(find(story))
    assert "25 °C under set at full output" in finding.last.summary and finding.last.confidence == "low"
