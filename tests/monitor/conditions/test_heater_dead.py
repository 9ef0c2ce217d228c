"""Full heat called for and none coming; heat-up, higher duty and shear-carried zones are not that."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from monitor.conditions.heater_dead import HeaterDead
from tests.monitor.conditions.told import TWIN, Story, changed, only, seconds, told, twin, without
from tests.monitor.scripted_world import TARGETS, Script
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HeatScript

LOG_S, FROM, TO = 4800, 1200, 3600
ZONE, OUT = "zone_temperature:Z3", "zone_output:Z3"


def dead(s: Script) -> None:
    """Output at its limit, the zone cools by 1 C in ten minutes, then faster."""
    s.put(OUT, FROM, TO, 100)
    s.put(ZONE, FROM, TO, 214.0, slope_s=-0.005)


def dead_at_its_own_limit(s: Script) -> None:
    """A zone that is limited to 65 %, which the line file does not say."""
    s.put(OUT, FROM, TO, 65)
    s.put(ZONE, FROM, TO, 214.0, slope_s=-0.005)


def heating_up(s: Script) -> None:
    s.put(OUT, FROM, TO, 100)
    s.put(ZONE, FROM, TO, 60.0, slope_s=0.06)


def part_of_the_bands(s: Script) -> None:
    """One of three bands dead: 30 % duty becomes 45 %, the zone holds."""
    s.x[OUT][s.span(FROM, TO)] += 20


def carried_by_shear(s: Script) -> None:
    """The heater is dead, and while the screw turns nobody can see it."""
    s.put(OUT, FROM, TO, 0)


def at_its_limit_for_minutes(s: Script) -> None:
    """A cold lot: full output for eight minutes, 3 C under set, holding."""
    s.put(OUT, FROM, FROM + 480, 100)
    s.put(ZONE, FROM, FROM + 480, 212.0)


def set_point_raised(s: Script) -> None:
    s.put("zone_setpoint:Z3", FROM, LOG_S, 230)
    s.put(OUT, FROM, FROM + 1200, 100)
    s.put(ZONE, FROM, FROM + 1200, 215.0, slope_s=0.012)
    s.put(ZONE, FROM + 1200, LOG_S, 230)


def near_its_end_before(s: Script) -> None:
    """It takes 85 % as a rule; less shear asks for more than there is, and it sags by 6 C within twenty minutes."""
    s.put(OUT, 0, FROM, 85)
    s.put(OUT, FROM, LOG_S, 100)
    s.put(ZONE, FROM, FROM + 1200, 214.0, slope_s=-0.004)
    s.put(ZONE, FROM + 1200, LOG_S, 209.2)


def output_not_read(s: Script) -> None:
    dead(s)
    s.put(OUT, FROM, TO, float("nan"))


@pytest.mark.parametrize("story", [dead, dead_at_its_own_limit])
def test_speaks(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, HeaterDead()))

    assert finding.last.channel == OUT and "falling" in finding.last.summary
    assert FROM + 300 <= (seconds(finding.first_decided_at) or 0) <= FROM + 700
    assert "qualified staff" in finding.last.caution


@pytest.mark.parametrize(
    "story",
    [
        heating_up,
        part_of_the_bands,
        carried_by_shear,
        at_its_limit_for_minutes,
        set_point_raised,
        near_its_end_before,
        output_not_read,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, HeaterDead()) == []


@pytest.mark.parametrize(("amperes", "count"), [(12.0, 0), (0.0, 1)])
def test_a_heater_that_draws_its_current_is_not_dead(amperes: float, count: int) -> None:
    """A zone at full output cools: 12 A flow as 3.6 A did at 30 %, or none."""
    known = TWIN.model_dump(mode="json")
    known["sensor"].append({"tag": "I.Z3", "role": "zone_current", "at": "Z3", "unit": "A"})
    s = twin(LOG_S)
    dead(s)
    s.x["zone_current:Z3"] = np.where(s.x[OUT] > 99, amperes, 0.12 * s.x[OUT])

    assert len(told(s, HeaterDead(), line=type(TWIN).model_validate({**known, "version": "current"}))) == count


def test_a_heater_that_gave_much_is_dead_where_the_zone_falls_far() -> None:
    s = twin(LOG_S)
    s.put(OUT, 0, FROM, 85)
    s.put(OUT, FROM, TO, 100)
    s.put(ZONE, FROM, TO, 214.0, slope_s=-0.012)

    assert len(told(s, HeaterDead())) == 1


def test_a_quarter_of_an_hour_at_the_limit_and_under_set_is_proof_without_a_fall() -> None:
    s = twin(LOG_S)
    s.put(OUT, FROM, TO, 100)
    s.x[ZONE][s.span(FROM, TO)] = 212.0 + np.round(s.noise(0.1), 1)[s.span(FROM, TO)]

    finding = only(told(s, HeaterDead()))
    assert FROM + 1200 <= (seconds(finding.first_decided_at) or 0) <= FROM + 1300


def test_all_zones_at_once_are_the_supply_and_one_finding() -> None:
    s = twin(LOG_S)
    for zone in TARGETS:
        s.put(f"zone_output:{zone}", FROM, TO, 100)
        s.put(f"zone_temperature:{zone}", FROM, TO, TARGETS[zone] - 1, slope_s=-0.01)

    finding = only(told(s, HeaterDead()))
    assert finding.last.channel == "zone_output" and "supply or a phase" in finding.last.summary


def test_heating_switched_off_over_the_weekend_is_no_more_than_a_look() -> None:
    """3 C/min: 30 min of time constant and no heat at all."""
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 600, LOG_S, 0.0)
    for zone in TARGETS:
        s.put(f"zone_output:{zone}", FROM, TO, 100)
        s.put(f"zone_temperature:{zone}", FROM, TO, TARGETS[zone] - 1, slope_s=-0.05)

    finding = only(told(s, HeaterDead()))
    assert finding.last.priority == 3 and finding.last.cause_texts[0] == "heating switched off at its main switch"


@pytest.mark.parametrize(("output", "manual"), [(65, True), (100, False)])
def test_an_output_that_stands_below_its_limit_may_be_in_manual(output: float, manual: bool) -> None:
    s = twin(LOG_S)
    s.put(OUT, FROM, TO, output)
    s.put(ZONE, FROM, TO, 214.0, slope_s=-0.005)

    assert any("manual" in cause for cause in only(told(s, HeaterDead())).last.cause_texts) == manual


def test_the_zones_own_limit_from_the_line_file() -> None:
    """30 % flat is no limit unless the line file says so."""
    s = twin(LOG_S)
    s.put(OUT, FROM, TO, 30)
    s.put(ZONE, FROM, TO, 214.0, slope_s=-0.005)
    zones = [{**zone, "output_limit_pct": 30.0} for zone in TWIN.model_dump()["zone"]]
    limited = type(TWIN).model_validate({**TWIN.model_dump(), "zone": zones})

    assert told(s, HeaterDead()) == []
    assert only(told(s, HeaterDead(), line=limited)).last.channel == OUT


def test_without_outputs_it_is_not_armed() -> None:
    s = twin(LOG_S)
    dead(s)

    assert told(s, HeaterDead(), line=without(TWIN, "zone_output")) == []
    assert changed(TWIN, line={"title": "x"}).name == TWIN.name


def standing(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 600, LOG_S, 0.0)


def limited_on_a_hot_standing_line(s: Script) -> None:
    """60 % is all this zone may have; without the screw's heat it sags by 12 C and holds."""
    standing(s)
    s.put(OUT, FROM, LOG_S, 60)
    s.put(ZONE, FROM, FROM + 1200, 215.0, slope_s=-0.01)
    s.put(ZONE, FROM + 1200, LOG_S, 203.0)


def dead_on_a_hot_standing_line(s: Script) -> None:
    """3 C/min: nothing but its neighbours holds it."""
    standing(s)
    s.put(OUT, FROM, LOG_S, 100)
    s.put(ZONE, FROM, FROM + 1800, 215.0, slope_s=-0.05)
    s.put(ZONE, FROM + 1800, LOG_S, 125.0)


def test_a_limited_zone_on_a_hot_standing_line_is_not_dead() -> None:
    s = twin(LOG_S)
    limited_on_a_hot_standing_line(s)
    assert told(s, HeaterDead()) == []

    s = twin(LOG_S)
    dead_on_a_hot_standing_line(s)
    assert only(told(s, HeaterDead())).last.until is None, "and stays so while it holds far under set"


@pytest.mark.parametrize("comes_back", [True, False], ids=["the melt brings it back", "it stays away"])
def test_a_limited_zone_is_not_dead_because_the_screw_starts(comes_back: bool) -> None:
    """The melt needs some minutes to bring its heat; what has not come back when the stand is out of sight is dead."""
    s, starts = twin(LOG_S), 3000
    limited_on_a_hot_standing_line(s)
    s.put(ZONE, FROM + 1200, LOG_S, 205.0, slope_s=-0.0008)
    for key, running in (("screw_speed", 300.0), ("screw_speed_setpoint", 300.0), ("torque", 60.0)):
        s.put(key, starts, LOG_S, running)
    if comes_back:
        s.put(ZONE, starts + 60, starts + 150, 204.0, slope_s=0.15)
        s.put(ZONE, starts + 150, LOG_S, TARGETS["Z3"])
        s.put(OUT, starts + 150, LOG_S, 28.0)

    found = told(s, HeaterDead())

    assert len(found) == (not comes_back)
    assert all(starts + 300 <= (seconds(f.first_decided_at) or 0) <= starts + 360 for f in found)


def heating_up_with(pace_c_s: float) -> Story:
    """A heat-up from cold at full output; Z3 at its own pace, the others 5 C/min."""

    def story(s: Script) -> None:
        standing(s)
        s.put("screw_speed", 0, LOG_S, 0)
        for zone, target in TARGETS.items():
            pace = pace_c_s if zone == "Z3" else 5 / 60
            s.put(f"zone_temperature:{zone}", 0, LOG_S, 30.0, slope_s=pace)
            at = s.x[f"zone_temperature:{zone}"]
            s.x[f"zone_output:{zone}"][:] = np.where(at < target - 3, 100, 25)
            s.x[f"zone_temperature:{zone}"][:] = np.minimum(at, target)

    return story


def test_a_dead_heater_shows_at_heat_up_even_where_its_neighbours_warm_it() -> None:
    """0.5 C/min of neighbours' heat is rising, and a tenth of what the others gain."""
    s = twin(LOG_S)
    heating_up_with(0.5 / 60)(s)

    finding = only(told(s, HeaterDead()))
    assert "the other zones heat up" in finding.last.summary
    assert (seconds(finding.first_decided_at) or 0) < 1200 and finding.last.until is None


@pytest.mark.parametrize("pace_c_min", [1.7, 3.0])
def test_a_zone_of_a_third_of_the_pace_is_slow_not_dead(pace_c_min: float) -> None:
    s = twin(LOG_S)
    heating_up_with(pace_c_min / 60)(s)

    assert told(s, HeaterDead()) == []


def test_all_zones_of_one_phase_are_one_finding() -> None:
    phases = {"Z1": "L1", "Z2": "L2", "Z3": "L3", "ADAPTER": "L1", "DIE": "L3"}
    zones = [{**zone, "electrical_phase": phases[zone["name"]]} for zone in TWIN.model_dump()["zone"]]
    wired = type(TWIN).model_validate({**TWIN.model_dump(), "zone": zones, "version": "phases"})
    s = twin(LOG_S)
    for zone in ("Z3", "DIE"):
        s.put(f"zone_output:{zone}", FROM, TO, 100)
        s.put(f"zone_temperature:{zone}", FROM, TO, TARGETS[zone] - 1, slope_s=-0.01)

    finding = only(told(s, HeaterDead(), line=wired))
    assert finding.last.channel == "zone_output" and "one phase" in finding.last.summary
    assert finding.last.cause_texts[0] == "one phase lost"
    assert len(told(s, HeaterDead())) == 2, "without a word on phases five zones show no pattern"


@pytest.mark.parametrize(("holds_at", "first"), [(210.0, "cooling valve stuck open"), (185.0, "heater, fuse")])
def test_a_zone_that_rests_a_little_under_at_full_heat_is_cooled_and_heated(holds_at: float, first: str) -> None:
    """Held by 28 to 32 % of its heat before, it would lie 7 C lower at least without any, whatever carries it."""
    s = twin(LOG_S)
    s.put(OUT, FROM, LOG_S, 100)
    s.put(ZONE, FROM, FROM + 300, 215.0, slope_s=(holds_at - 215) / 300)
    s.put(ZONE, FROM + 300, LOG_S, holds_at)

    last = only(told(s, HeaterDead())).last

    assert last.cause_texts[0].startswith(first) and "not rising" in last.summary
    assert (last.causes[0].speaks_for != ()) is (holds_at == 210.0)


def test_a_zone_far_lower_than_its_heat_could_lift_it_is_cooled() -> None:
    """28 to 32 % of heat held it; 90 C under with melt passing is more than their loss. 30 C under is not, nor are 55,
    over cold granules and with strong bands."""
    firsts = []
    for holds_at in (125.0, 160.0, 185.0):
        s = twin(LOG_S)
        s.put(OUT, FROM, LOG_S, 100)
        s.put(ZONE, FROM, FROM + 900, 215.0, slope_s=(holds_at - 215) / 900)
        s.put(ZONE, FROM + 900, LOG_S, holds_at)
        firsts.append(only(told(s, HeaterDead())).last.cause_texts[0])

    assert firsts == ["cooling valve stuck open", *2 * ("heater, fuse or contactor of this zone dead",)]


@pytest.mark.parametrize(("neighbour_c", "folded"), [(16.0, True), (40.0, False)])
def test_what_a_cold_zone_takes_from_its_neighbour_is_folded_under_it(neighbour_c: float, folded: bool) -> None:
    """Zones couple by 0.1 to 0.3: one 60 C low takes 16 C from the next, not 40."""
    s = twin(LOG_S)
    s.put(OUT, FROM, LOG_S, 100)
    s.put(ZONE, FROM, FROM + 900, 215.0, slope_s=-60 / 900)
    s.put(ZONE, FROM + 900, LOG_S, TARGETS["Z3"] - 60)
    at = FROM + 600
    s.put("zone_output:Z2", at, LOG_S, 100)
    s.put("zone_temperature:Z2", at, at + 900, TARGETS["Z2"] - 1, slope_s=-neighbour_c / 900)
    s.put("zone_temperature:Z2", at + 900, LOG_S, TARGETS["Z2"] - neighbour_c)

    first, second = sorted(told(s, HeaterDead()), key=lambda f: f.last.since)

    assert first.last.channel == OUT and first.last.part_of == ""
    assert (second.last.part_of == first.last.finding) is folded


AMPS = "zone_current:Z4"


def with_current(story: Callable[[HeatScript], None], *, pulsed_s: float = 0.0):  # type: ignore[no-untyped-def]
    """Z4 draws 20 A at full output, in the mean or on and off with a contactor."""
    s = HeatScript(LOG_S)
    at = np.arange(s.n) * s.cadence
    story(s)
    due = np.clip(s.x["zone_output:Z4"] / 100, 0, 1)
    s.x[AMPS][:] = 20 * (at % pulsed_s < due * pulsed_s) if pulsed_s else 20 * due + 0.05 * s.noise(1.0)
    if story in (fuse_gone, nothing_drawn):
        s.put(AMPS, FROM, TO, 0.0)
    return told(s, HeaterDead(), line=HEAT_LINE, recipe=HEAT_RECIPE)


def fuse_gone(s: HeatScript) -> None:
    """Z4 falls by 1.2 C a minute, its controller asks for ever more."""
    s.put("zone_temperature:Z4", FROM + 30, TO, 215.0, slope_s=-0.02)
    s.ramp("zone_output:Z4", FROM, FROM + 600, 100)
    s.put("zone_output:Z4", FROM + 600, TO, 100)


def nothing_drawn(s: HeatScript) -> None:
    """The current is no longer read: the zone holds."""


def cools_by_more_water(s: HeatScript) -> None:
    s.ramp("zone_temperature:Z4", FROM, FROM + 600, 213.5)
    s.put("zone_temperature:Z4", FROM + 600, TO, 213.5)


@pytest.mark.parametrize("pulsed_s", [0.0, 20.0])
def test_a_heater_without_current_is_dead_within_two_minutes(pulsed_s: float) -> None:
    finding = only(with_current(fuse_gone, pulsed_s=pulsed_s))

    assert finding.last.channel == "zone_output:Z4"
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 150


def test_a_contactor_that_pauses_is_no_dead_heater() -> None:
    assert with_current(cools_by_more_water) == []
    assert with_current(cools_by_more_water, pulsed_s=90.0) == []
    assert with_current(nothing_drawn) == []


def test_a_zone_that_draws_a_third_of_its_current_has_a_third_of_its_bands() -> None:
    s = HeatScript(LOG_S)
    fuse_gone(s)
    drawn = np.clip(s.x["zone_output:Z4"] / 5, 0, 20)
    s.x[AMPS][:] = np.round(np.where(np.arange(s.n) * s.cadence < FROM, drawn, drawn / 3), 1)
    found = only(told(s, HeaterDead(), line=HEAT_LINE, recipe=HEAT_RECIPE))

    assert found.last.causes[0].text.startswith("part of the heater bands") and found.last.causes[0].speaks_for
    assert with_current(fuse_gone)[0].last.causes[0].text.startswith("heater, fuse or contactor")
