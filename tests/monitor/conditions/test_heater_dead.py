"""Full heat called for and none coming; heat-up, higher duty and shear-carried zones are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.heater_dead import HeaterDead
from tests.monitor.conditions.told import TWIN, Story, changed, only, seconds, told, twin, without
from tests.monitor.scripted_world import TARGETS, Script

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
    [heating_up, part_of_the_bands, carried_by_shear, at_its_limit_for_minutes, set_point_raised, output_not_read],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, HeaterDead()) == []


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
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 600, LOG_S, 0.0)
    for zone in TARGETS:
        s.put(f"zone_output:{zone}", FROM, TO, 100)
        s.put(f"zone_temperature:{zone}", FROM, TO, TARGETS[zone] - 1, slope_s=-0.01)

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
