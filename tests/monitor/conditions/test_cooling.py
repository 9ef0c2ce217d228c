"""Cooling that passes, that is at its end, in one zone or in all."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.cooling_passing import CoolingPassing
from monitor.conditions.cooling_scaled import CoolingScaled
from monitor.contract import Condition
from tests.monitor.conditions.told import Story, only, seconds, told, without, words
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HeatScript

LOG_S, FROM, TO = 9000, 4200, 7800


def find(condition: Condition, story: Story, line=HEAT_LINE):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, condition, line=line, recipe=HEAT_RECIPE)


def both_on(s: HeatScript) -> None:
    s.put("zone_cooling:Z5", FROM, TO, 18.0)


def carried_by_shear(s: HeatScript) -> None:
    """Z3 needs no heat at all in this running."""
    s.put("zone_output:Z3", 0, LOG_S, -4.0)


def heat_where_none_was_needed(s: HeatScript) -> None:
    carried_by_shear(s)
    s.put("zone_output:Z3", FROM, TO, 16.0)


def test_heating_and_cooling_at_once() -> None:
    finding = only(find(CoolingPassing(), both_on))
    assert finding.last.channel == "zone_output:Z5" and "cooled (18 %) at once" in finding.last.summary
    assert FROM + 420 <= (seconds(finding.first_decided_at) or 0) <= FROM + 720


def test_a_zone_that_needed_none_and_now_takes_heat() -> None:
    finding = only(find(CoolingPassing(), heat_where_none_was_needed))
    assert finding.last.cause_texts == ("cooling valve of this zone passes", "couple of this zone loose: it reads low")


@pytest.mark.parametrize(("usual", "now", "said"), [(3.0, 22.0, True), (4.0, 14.0, False)])
def test_a_zone_that_needed_little_and_takes_many_times_that(usual: float, now: float, said: bool) -> None:
    def story(s: HeatScript) -> None:
        s.put("zone_output:Z3", 0, LOG_S, usual)
        s.put("zone_output:Z3", FROM, TO, now)

    found = find(CoolingPassing(), story)
    assert [f"where it needed {usual:.0f} %" in one.last.summary for one in found] == ([True] if said else [])


def takes_more(s: HeatScript, bands: float = 1.0) -> None:
    s.add("zone_output:Z4", FROM, TO, 12)
    s.draw(FROM, TO, bands)


def test_a_zone_that_takes_more_though_its_bands_draw_what_they_did() -> None:
    finding = only(find(CoolingPassing(), takes_more))

    assert "takes 37 % heat where it needed 25 %" in finding.last.summary
    assert finding.last.cause_texts[0].startswith("cooling valve") and "bands are whole" in str(finding.last.causes)
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 1600


def slipped(s: HeatScript) -> None:
    """A couple that hangs out of its well: 15 C lower at once, brought back in ten minutes by more heat."""
    s.ramp("zone_temperature:Z4", FROM, FROM + 62, 200.0)
    s.ramp("zone_temperature:Z4", FROM + 60, FROM + 660, 215.0)
    takes_more(s)


def bands_dead(s: HeatScript) -> None:
    takes_more(s, 0.67)


def current_unknown(s: HeatScript) -> None:
    """On a zone whose current nobody logs it may be bands."""
    s.add("zone_output:Z3", FROM, TO, 12)


def crossing(s: HeatScript) -> None:
    """Heat and cool in turn, 6 % each."""
    s.put("zone_output:Z5", FROM, TO, 6.0)
    s.put("zone_cooling:Z5", FROM, TO, 6.0)


def switched_fan(s: HeatScript) -> None:
    """On-off control: heat below, a fan above, 20 s each in turn; one output with a sign, and the same apart."""
    turn = np.arange(s.n) // 20 % 3
    s.x["zone_output:Z3"] = np.array([60.0, 0.0, -100.0])[turn]
    s.x["zone_output:Z5"], s.x["zone_cooling:Z5"] = 60.0 * (turn == 0), 100.0 * (turn == 2)


def more_duty(s: HeatScript) -> None:
    s.add("zone_output:Z3", FROM, TO, 15)


def less_shear(s: HeatScript) -> None:
    heat_where_none_was_needed(s)
    s.scale("torque", FROM, TO, 0.85)


def left_in_manual(s: HeatScript) -> None:
    """Its output stands where somebody left it, and the zone gets 16 C too hot."""
    heat_where_none_was_needed(s)
    s.ramp("zone_temperature:Z3", FROM, FROM + 900, 231.0)
    s.put("zone_temperature:Z3", FROM + 900, LOG_S, 231.0)


def neighbours_heat_less(s: HeatScript) -> None:
    heat_where_none_was_needed(s)
    s.add("zone_output:Z2", FROM, TO, -8)


def neighbour_gone_cold(s: HeatScript) -> None:
    """Z5 has lost its heater: Z4 heats it."""
    takes_more(s)
    s.ramp("zone_temperature:Z5", FROM, FROM + 900, 150.0)
    s.put("zone_temperature:Z5", FROM + 900, TO, 150.0)


def comes_back_from_far_below(s: HeatScript) -> None:
    """Its heater lives again: it climbs to its set-point, and its output is still high."""
    s.add("zone_output:Z4", FROM + 1200, TO, 12)
    s.draw(FROM, TO)
    s.ramp("zone_temperature:Z4", FROM, FROM + 1200, 180.0)
    s.put("zone_temperature:Z4", FROM + 1200, TO, 180.0, slope_s=33 / (TO - FROM - 1200))


def ambient(s: HeatScript) -> None:
    carried_by_shear(s)
    for zone in ("Z1", "Z2", "Z4", "Z5", "ADAPTER", "DIE"):
        s.add(f"zone_output:{zone}", FROM, TO, 8)
    s.put("zone_output:Z3", FROM, TO, 11.0)


@pytest.mark.parametrize(
    "story",
    [
        crossing,
        switched_fan,
        slipped,
        bands_dead,
        current_unknown,
        more_duty,
        less_shear,
        left_in_manual,
        neighbours_heat_less,
        ambient,
        neighbour_gone_cold,
        comes_back_from_far_below,
    ],
)
def test_cooling_passing_stays_silent(story: Story) -> None:
    assert find(CoolingPassing(), story) == []


def too_hot(*zones: str, cool: float = 100.0) -> Story:
    def story(s: HeatScript) -> None:
        for zone in zones:
            s.ramp(f"zone_temperature:{zone}", FROM, FROM + 600, s.x[f"zone_setpoint:{zone}"][0] + 6)
            s.put(f"zone_temperature:{zone}", FROM + 600, TO, s.x[f"zone_setpoint:{zone}"][0] + 6)
            if zone == "Z5":
                s.put("zone_output:Z5", FROM, TO, 0.0)
                s.put("zone_cooling:Z5", FROM, TO, cool)
            else:
                s.put(f"zone_output:{zone}", FROM, TO, -cool)

    return story


@pytest.mark.parametrize("zone", ["Z3", "Z5"])
def test_full_cooling_and_still_too_hot_however_it_is_logged(zone: str) -> None:
    finding = only(find(CoolingScaled(), too_hot(zone)))
    assert finding.last.channel == f"zone_temperature:{zone}" and "scaled" in finding.last.cause_texts[0]
    assert "qualified staff" in finding.last.caution


def test_all_cooled_zones_at_once_are_pump_chiller_or_header() -> None:
    def warm_water(s: HeatScript) -> None:
        too_hot("Z2", "Z3", "Z4")(s)
        s.ramp("cooling_water_temperature", FROM - 600, FROM + 600, 31.0)
        s.put("cooling_water_temperature", FROM + 600, TO, 31.0)

    finding = only(find(CoolingScaled(), warm_water))
    assert "3 of 3 cooled zones" in finding.last.summary and "risen to 31" in words(finding) + str(finding.last.causes)
    unlogged = without(HEAT_LINE, "cooling_water_temperature")
    assert only(find(CoolingScaled(), too_hot("Z2", "Z3", "Z4"), unlogged)).last.confidence == "medium"


def set_point_lowered(s: HeatScript) -> None:
    s.put("zone_setpoint:Z3", FROM, LOG_S, 195)
    s.put("zone_output:Z3", FROM, TO, -100)
    s.ramp("zone_temperature:Z3", FROM, TO, 195.0)


def cooled_and_held(s: HeatScript) -> None:
    s.put("zone_output:Z3", FROM, TO, -100)


def not_at_its_end(s: HeatScript) -> None:
    too_hot("Z3", cool=70)(s)


def standing(s: HeatScript) -> None:
    too_hot("Z3")(s)
    s.stop(FROM - 60, LOG_S)


@pytest.mark.parametrize("story", [set_point_lowered, cooled_and_held, not_at_its_end, standing])
def test_cooling_scaled_stays_silent(story: Story) -> None:
    assert find(CoolingScaled(), story) == []
