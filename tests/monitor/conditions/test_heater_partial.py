"""Part of the bands dead: more duty, a slower heat-up, a zone that hangs under set; mains, ambient and load are not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from monitor.conditions.heater_partial import HeaterPartial
from monitor.conditions.thermocouple_loose import ThermocoupleLoose
from monitor.records import Finding
from tests.monitor.conditions.told import Story, only, seconds, told, without
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
    """28 C colder: a sixth of what zones at 200 C lose."""
    for zone in HEAT_ZONES:
        s.add(f"zone_output:{zone}", FROM, TO, 4)


def supply_short(s: HeatScript) -> None:
    """One of three phases lost to every heater: half as much again."""
    for zone in HEAT_ZONES:
        s.add(f"zone_output:{zone}", FROM, TO, 12.5)


def three_zones_each_their_own(s: HeatScript) -> None:
    for zone, by in (("Z1", 8), ("Z3", 15), ("Z5", 25)):
        s.add(f"zone_output:{zone}", FROM, TO, by)


def test_zones_that_need_more_each_by_its_own_are_no_common_supply() -> None:
    assert all(f.last.channel != "zone_output" for f in find(three_zones_each_their_own))


def test_all_zones_that_need_half_as_much_again_have_lost_part_of_their_supply() -> None:
    finding = only(find(supply_short))

    assert finding.last.channel == "zone_output" and "7 zones need 1.5 times the heat" in finding.last.summary
    assert finding.last.cause_texts[0].startswith("heating supply") and finding.last.priority == 2
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 2200


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


def comes_back_from_far_below(s: HeatScript) -> None:
    """Its heater lives again: it climbs by half a degree a minute, with nearly all of its output."""
    s.put(OUT, FROM + 1200, TO, 80.0)
    s.ramp("zone_temperature:Z3", FROM, FROM + 1200, 180.0)
    s.put("zone_temperature:Z3", FROM + 1200, TO, 180.0, slope_s=29 / (TO - FROM - 1200))


def test_a_zone_on_its_way_back_up_shows_no_need() -> None:
    assert find(comes_back_from_far_below) == []


def test_a_zone_that_hangs_under_its_set_point_is_not_said_to_be_at_the_same_temperature() -> None:
    def hangs(s: HeatScript) -> None:
        more("Z3", 25.0)(s)
        s.ramp("zone_temperature:Z3", FROM, FROM + 900, 195.0)
        s.put("zone_temperature:Z3", FROM + 900, TO, 195.0)

    last = only(find(hangs)).last

    assert "is 20 °C under set" in last.summary and "temperature" not in last.summary


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


CURRENTS = without(HEAT_LINE, "zone_output")


def without_outputs(story: Story):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    s.x["zone_current:Z4"][:] = 5.0 + s.noise(0.1)
    story(s)
    return told(s, HeaterPartial(), line=CURRENTS, recipe=HEAT_RECIPE)


def sags(to_c: float, amps: float) -> Story:
    """Z4 falls from 215 C within a quarter of an hour, its heater then draws so much."""

    def story(s: HeatScript) -> None:
        s.put("zone_current:Z4", FROM, TO, amps)
        s.ramp("zone_temperature:Z4", FROM, FROM + 900, to_c)
        s.put("zone_temperature:Z4", FROM + 900, TO, to_c)

    return story


@pytest.mark.parametrize(
    ("amps", "first"), [(3.3, "part of the heater bands"), (0.0, "heater of this zone dead: fuse, contactor or bands")]
)
def test_where_no_output_is_logged_less_current_under_set_tells(amps: float, first: str) -> None:
    """One of three bands dead at full output, or all of them."""
    finding = only(without_outputs(sags(190.0, amps)))

    assert finding.last.cause_texts[0].startswith(first) and "Z4 draws" in finding.last.summary
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 600


def set_down(s: HeatScript) -> None:
    sags(190.0, 3.3)(s)
    s.put("zone_setpoint:Z4", FROM, LOG_S, 190)


def less_at_set(s: HeatScript) -> None:
    """Shear or a warm hall does part of its work."""
    s.put("zone_current:Z4", FROM, TO, 2.0)


def comes_back(s: HeatScript) -> None:
    """A zone that was chilled rises with little heat."""
    s.ramp("zone_temperature:Z4", FROM, FROM + 60, 200.0)
    s.ramp("zone_temperature:Z4", FROM + 60, FROM + 1200, 215.0)
    s.put("zone_current:Z4", FROM, FROM + 1200, 3.0)


@pytest.mark.parametrize("story", [sags(190.0, 5.0), sags(190.0, 20.0), set_down, less_at_set, comes_back])
def test_current_that_fits_its_temperature_is_none_of_it(story: Story) -> None:
    assert without_outputs(story) == []


def with_currents(alive: Callable[[np.ndarray], np.ndarray], *, pulse_s: float = 0.0, output: Story | None = None):  # type: ignore[no-untyped-def]
    """Z4 draws 20 A at full output, in the mean or on and off; alive: part of its bands, by time in s."""
    s = HeatScript(LOG_S)
    at = np.arange(s.n) * s.cadence
    if output:
        output(s)
    due = np.clip(s.x["zone_output:Z4"] / 100, 0, 1)
    drawn = 20 * (at % pulse_s < due * pulse_s) if pulse_s else 20 * due
    s.x["zone_current:Z4"][:] = np.round(drawn * alive(at), 1)
    return told(s, HeaterPartial(), line=HEAT_LINE, recipe=HEAT_RECIPE)


@pytest.mark.parametrize("alive", [3 / 4, 2 / 3, 1 / 3])
def test_less_current_for_its_output_tells_within_minutes(alive: float) -> None:
    finding = only(with_currents(lambda at: np.where((at >= FROM) & (at < TO), alive, 1.0)))

    assert finding.last.channel == "zone_output:Z4" and "less current for its output" in finding.last.summary
    assert finding.last.cause_texts[0].startswith("part of the heater bands")
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 420
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 300


def test_a_current_that_lags_when_heating_is_switched_on_is_no_dead_band() -> None:
    """Off for a while, then on in the middle of a minute; the averaged current follows within 20 s."""
    s = HeatScript(LOG_S)
    s.put("zone_output:Z4", FROM, FROM + 1230, 0.0)
    output = s.x["zone_output:Z4"]
    s.x["zone_current:Z4"][:] = 20 * np.convolve(output, np.full(20, 0.05))[: s.n] / 100
    s.x["zone_current:Z4"][:20] = 20 * output[:20] / 100

    assert told(s, HeaterPartial(), line=HEAT_LINE, recipe=HEAT_RECIPE) == []


def test_a_display_of_a_tenth_of_an_ampere_tells_nothing_of_a_third_of_one() -> None:
    s = HeatScript(LOG_S)
    s.put("zone_output:Z4", 0, LOG_S, 13.0)
    s.put("zone_current:Z4", 0, FROM, 0.3)
    s.put("zone_current:Z4", FROM, LOG_S, 0.2)

    assert told(s, HeaterPartial(), line=HEAT_LINE, recipe=HEAT_RECIPE) == []


def less_asked(s: HeatScript) -> None:
    s.add("zone_output:Z4", FROM, TO, -8)


@pytest.mark.parametrize("pulse_s", [0.0, 20.0, 90.0])
def test_current_that_follows_its_output_or_sags_with_the_mains_is_no_dead_band(pulse_s: float) -> None:
    assert with_currents(np.ones_like, pulse_s=pulse_s, output=less_asked) == []
    assert with_currents(lambda at: np.where(at >= FROM, 0.9, 1.0), pulse_s=pulse_s) == []


@pytest.mark.parametrize("asked", [(60.0, 45.0), (70.0, 100.0), (80.0, 30.0)])
def test_readings_that_beat_with_a_contactor_are_no_dead_band(asked: tuple[float, float]) -> None:
    """Every ten seconds, of a cycle of twenty: on at each reading, then at every other one."""
    s = HeatScript(LOG_S)
    at = np.arange(s.n) * s.cadence
    s.x["zone_output:Z4"][:] = np.where(at < FROM, *asked) + s.noise(0.2)
    seen = at - at % 10
    s.x["zone_current:Z4"][:] = 20.0 * ((seen % 20) < s.x["zone_output:Z4"] / 5)
    assert not [f for f in told(s, HeaterPartial(), line=HEAT_LINE, recipe=HEAT_RECIPE) if "draws" in f.last.summary]


SHORT_S = FROM + 900


def falling(c_min: float, output_up: float) -> Story:
    """To the end of a log that stops after 15 min."""

    def story(s: HeatScript) -> None:
        s.ramp("zone_temperature:Z3", FROM, SHORT_S, 215 - 15 * c_min)
        s.add(OUT, FROM + 120, SHORT_S, output_up)

    return story


def slips(s: HeatScript) -> None:
    """Its reading is 15 C lower at once, and comes back as the loop heats."""
    s.ramp("zone_temperature:Z3", FROM, FROM + 20, 200)
    s.ramp("zone_temperature:Z3", FROM + 20, SHORT_S, 212)
    s.add(OUT, FROM + 60, SHORT_S, 20)


def in_a_quarter(story: Story) -> list[Finding]:
    s = HeatScript(SHORT_S)
    story(s)
    return told(s, HeaterPartial(), line=HEAT_LINE, recipe=HEAT_RECIPE)


@pytest.mark.parametrize("c_min", [0.8, 2.0])
def test_a_zone_that_falls_though_it_gets_more_heat_lacks_it(c_min: float) -> None:
    finding = only(in_a_quarter(falling(c_min, 20)))

    assert finding.last.channel == OUT and "falls" in finding.last.summary
    assert finding.last.cause_texts[0].startswith("heater of this zone or part of its bands dead")


def test_one_that_falls_faster_than_without_heat_is_cooled() -> None:
    assert only(in_a_quarter(falling(6.0, 20))).last.cause_texts[0] == "cooling of this zone passes"


@pytest.mark.parametrize("story", [slips, falling(0.8, 2), falling(0.15, 20), falling(2.0, 75)])
def test_no_heat_lacks_where_it_comes_back_gets_no_more_or_calls_for_all(story: Story) -> None:
    assert in_a_quarter(story) == []
