"""Zones of one phase that lose their heat in the same minutes, one of them for good and one in part."""

from __future__ import annotations

import numpy as np
import pytest

from monitor import explains_heat
from monitor.conditions import lost_together
from monitor.conditions.heater_dead import HeaterDead
from monitor.contract import Context
from tests.monitor.conditions.told import Story, only, told
from tests.monitor.desk import CTX, Desk
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HeatScript

LOG_S, FROM = 7200, 3600
GROUP = "Z2 and Z5 hang on one phase where the line file names none: every third zone"


def loses(s: HeatScript, zone: str, from_s: float, sags_c: float) -> None:
    """It falls, its controller asks for more and more, and it holds with what is left of its bands."""
    at, output = s.x[f"zone_setpoint:{zone}"][0], 25.0
    s.put(f"zone_temperature:{zone}", from_s, from_s + 900, at, slope_s=-sags_c / 900)
    s.put(f"zone_temperature:{zone}", from_s + 900, LOG_S, at - sags_c)
    s.put(f"zone_output:{zone}", from_s, from_s + 600, output, slope_s=0.04)
    s.put(f"zone_output:{zone}", from_s + 600, LOG_S, output + 24)


def dies(s: HeatScript) -> None:
    at = s.x["zone_setpoint:Z2"][0]
    s.put("zone_temperature:Z2", FROM, LOG_S, at, slope_s=-40 / (LOG_S - FROM))
    s.put("zone_output:Z2", FROM, FROM + 300, 25.0, slope_s=0.25)
    s.put("zone_output:Z2", FROM + 300, LOG_S, 100)


def with_z5(s: HeatScript) -> None:
    dies(s)
    loses(s, "Z5", FROM, 6.0)


def and_comes_back(s: HeatScript) -> None:
    """Its bands are strong enough to bring it back."""
    with_z5(s)
    s.put("zone_temperature:Z5", FROM + 1200, LOG_S, s.x["zone_setpoint:Z5"][0])


def later(s: HeatScript) -> None:
    dies(s)
    loses(s, "Z5", FROM + 900, 6.0)


def neighbour(s: HeatScript) -> None:
    dies(s)
    loses(s, "Z3", FROM, 6.0)


def all_of_them(s: HeatScript) -> None:
    with_z5(s)
    loses(s, "DIE", FROM, 6.0)


@pytest.mark.parametrize(
    ("story", "phase"),
    [(with_z5, True), (and_comes_back, True), (later, False), (neighbour, False), (all_of_them, False), (dies, False)],
)
def test_a_zone_that_fell_with_the_dead_one_makes_it_a_phase(story: Story, phase: bool) -> None:
    s = HeatScript(LOG_S)
    story(s)
    last = only(told(s, HeaterDead(), line=HEAT_LINE, recipe=HEAT_RECIPE)).last

    assert last.channel == "zone_output:Z2"
    assert last.cause_texts[0].startswith("one phase lost") is phase, GROUP
    assert ("Z5 lost heat with it" in last.summary) is phase


@pytest.mark.parametrize("effect", explains_heat.LOST_TOGETHER)
def test_what_the_other_zone_shows_is_told_under_the_dead_one(effect: str) -> None:
    zones = [zone for zone in CTX.subjects_of("zone_temperature") if zone in CTX.subjects_of("zone_output")]
    for with_it, folds in (("DIE", True), ("ADAPTER", False)):
        desk = Desk()
        mask = float(1 << zones.index(with_it))
        own = desk.say("heater_dead", 100, subject="Z1", moved={"off_c": -40.0, "with": mask})
        assert (desk.say(effect, 500, subject="DIE", moved={"off_c": -20.0}).part_of == own.finding) == folds


@pytest.mark.parametrize(("output", "lost"), [(100.0, True), (60.0, False)])
def test_a_zone_of_which_it_is_not_known_what_it_takes_asks_for_heat_at_full_output(output: float, lost: bool) -> None:
    """As one that is switched on and off may be."""
    zones, ctx = ("Z1", "Z2", "Z3", "Z4", "Z5", "DIE"), Context(HEAT_LINE, HEAT_RECIPE, None, 10.0)
    asked = np.full((6, 30), 20.0)
    under, usual = np.zeros((6, 30)), np.full((6, 30), np.nan)
    under[[0, 3], 5:], asked[[0, 3], 5:] = 6.0, output

    _, beside = lost_together.beside(lost_together.start(6), under, asked, usual, zones, ctx)

    assert (lost_together.named(beside[0, -1], zones) == ("Z4",)) == lost
