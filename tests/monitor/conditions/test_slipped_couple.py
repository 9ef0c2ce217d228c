"""A reading that falls faster than steel and a zone that needs more heat for ever after: its couple has slipped."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.heater_dead import HeaterDead
from monitor.conditions.thermocouple_loose import ThermocoupleLoose
from monitor.conditions.under_temperature import UnderTemperature
from monitor.records import Finding
from tests.monitor.conditions.told import Story, only, seconds, told
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HeatScript

LOG_S, FROM = 12000, 5400
ZONE, OUT = "zone_temperature:Z3", "zone_output:Z3"


def event(fall_c: float, over_s: float, more_pct: float, beside_pct: float) -> Story:
    """A fall, back at the set-point within eight minutes, and the output as the loop finds it afterwards."""

    def story(s: HeatScript) -> None:
        s.ramp(ZONE, FROM, FROM + over_s, 215 - fall_c)
        s.put(ZONE, FROM + over_s, FROM + 480, 215 - fall_c, slope_s=fall_c / (480 - over_s))
        s.add(OUT, FROM, FROM + 480, 2 * more_pct + 10)
        s.add(OUT, FROM + 480, LOG_S, more_pct)
        for zone in ("Z2", "Z4"):
            s.add(f"zone_output:{zone}", FROM, LOG_S, beside_pct)

    story.__name__ = f"{fall_c}C_in_{over_s}s_{more_pct:+}_{beside_pct:+}"
    return story


def find(story: Story) -> list[Finding]:
    s = HeatScript(LOG_S)
    story(s)
    return told(s, ThermocoupleLoose(), line=HEAT_LINE, recipe=HEAT_RECIPE)


def test_a_slip_is_said_once_the_loop_has_come_to_rest() -> None:
    finding = only(find(event(9, 100, 6, -0.6)))

    assert finding.last.channel == ZONE and "faster than steel" in finding.last.summary and finding.last.until is None
    assert FROM + 1200 <= (seconds(finding.first_decided_at) or 0) <= FROM + 2400


@pytest.mark.parametrize(
    "story",
    [
        event(9, 400, 6, -0.6),
        event(9, 100, 6, 1.5),
        event(9, 100, 0, 0.0),
        event(9, 100, 6, 0.0),
    ],
    ids=["as steel falls", "water cools the neighbours too", "it came back as it was", "neighbours say nothing"],
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []


def test_where_there_is_no_water_neighbours_need_not_speak() -> None:
    data = HEAT_LINE.model_dump(mode="json")
    data["zone"] = [{**zone, "cooled": False} for zone in data["zone"]]
    line = type(HEAT_LINE).model_validate({**data, "version": "without water"})
    s = HeatScript(LOG_S, line=line)
    event(9, 100, 6, 0.0)(s)

    assert only(told(s, ThermocoupleLoose(), line=line, recipe=HEAT_RECIPE)).last.channel == ZONE


def test_a_zone_that_stays_under_its_set_point_lacks_heat() -> None:
    """Neighbours of a zone without its phase may need less for reasons of their own; its couple is right."""

    def cold(s: HeatScript) -> None:
        s.add(OUT, FROM, LOG_S, 40)
        s.ramp(ZONE, FROM, FROM + 1200, 190)
        s.put(ZONE, FROM + 1200, LOG_S, 190)
        for zone in ("Z2", "Z4"):
            s.add(f"zone_output:{zone}", FROM, LOG_S, -4)

    assert find(cold) == []


def first_cause_when_it_falls(usual_pct: float, by_c: float, within_s: float) -> str:
    s = HeatScript(7200)
    s.put(OUT, 0, 7200, usual_pct)
    s.ramp(ZONE, FROM, FROM + within_s, 215 - by_c)
    s.put(ZONE, FROM + within_s, 7200, 215 - by_c)
    found = told(s, UnderTemperature(), line=HEAT_LINE, recipe=HEAT_RECIPE)
    return only([f for f in found if f.last.channel == ZONE]).last.cause_texts[0]


def test_the_duty_says_how_fast_a_zone_can_cool() -> None:
    """5 C at once: too fast at 25 % of the bands, fit for bands that were all on."""
    assert "faster than steel" in first_cause_when_it_falls(25, 5, 10)
    assert "faster than steel" not in first_cause_when_it_falls(75, 5, 10)


@pytest.mark.parametrize("pace_c_min", [5, 10, 25])
def test_a_reading_that_goes_on_falling_is_a_wall_with_water_on_it(pace_c_min: float) -> None:
    """A couple that slips leaves it at that: an even fall for four minutes is no reading, and no heater's loss."""
    assert first_cause_when_it_falls(25, 4 * pace_c_min, 240) == "cooling valve passing"


def cools_in_air(tau_s: float) -> Story:
    """A couple that hangs out of its well: 20 C lower by its own time constant, while the loop calls for all it has."""

    def story(s: HeatScript) -> None:
        after = s.span(FROM, 7200)
        at = np.arange(after.stop - after.start) * s.cadence
        s.x[ZONE][after] += -20 * (1 - np.exp(-at / tau_s)) + np.minimum(at / 60 * 0.6, 15)
        s.put(OUT, FROM + 60, FROM + 1500, 100)

    return story


@pytest.mark.parametrize("tau_s", [10, 35, 60])
def test_a_couple_that_hangs_out_of_its_well_is_no_dead_heater(tau_s: float) -> None:
    s = HeatScript(7200)
    cools_in_air(tau_s)(s)
    found = told(s, UnderTemperature(), HeaterDead(), line=HEAT_LINE, recipe=HEAT_RECIPE)

    assert [f.last.condition for f in found if f.last.channel in (ZONE, OUT)] == ["zone_under_temperature"]
    assert "faster than steel" in found[0].last.cause_texts[0]
