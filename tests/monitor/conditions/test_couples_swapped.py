"""Two zones in each other's place: one overshoots with its heat off, the other starves; a dead heater alone is not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.contactor_stuck import ContactorStuck
from monitor.conditions.cooling_scaled import CoolingScaled
from monitor.conditions.couples_swapped import CouplesSwapped
from monitor.conditions.heater_dead import HeaterDead
from tests.monitor.conditions.told import Story, only, seconds, told, without
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_TARGETS, HeatScript

LOG_S, FROM, TO = 7200, 2400, 6600


def find(story: Story, line=HEAT_LINE):  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    story(s)
    return told(s, CouplesSwapped(), line=line, recipe=HEAT_RECIPE)


def goes(s: HeatScript, zone: str, by_c: float, output: float) -> None:
    s.ramp(f"zone_temperature:{zone}", FROM, FROM + 900, HEAT_TARGETS[zone] + by_c)
    s.put(f"zone_temperature:{zone}", FROM + 900, TO, HEAT_TARGETS[zone] + by_c)
    s.put(f"zone_output:{zone}", FROM, TO, output)


def pair(hot: str, cold: str) -> Story:
    def story(s: HeatScript) -> None:
        s.stop(0, LOG_S)
        goes(s, hot, 9, 0)
        goes(s, cold, -12, 100)

    return story


@pytest.mark.parametrize(("hot", "cold", "first"), [("Z3", "Z4", "Z3"), ("Z4", "Z3", "Z3"), ("Z2", "Z4", "Z2")])
def test_one_too_hot_without_heat_and_one_too_cold_at_full_heat(hot: str, cold: str, first: str) -> None:
    finding = only(find(pair(hot, cold)))
    assert finding.last.channel == f"zone_temperature:{first}"
    assert hot in finding.last.summary and cold in finding.last.summary


def crosswise(own: bool) -> Story:
    """Outputs of Z3 and Z4 wander; each temperature follows the other's, or its own, with 2 min of dead time."""

    def story(s: HeatScript) -> None:
        at = np.arange(s.n) * s.cadence
        push = {"Z3": 25 * np.sin(2 * np.pi * at / 1500), "Z4": 25 * np.sin(2 * np.pi * at / 2100 + 1)}
        for zone, other in (("Z3", "Z4"), ("Z4", "Z3")):
            s.x[f"zone_output:{zone}"][:] = 30 + push[zone]
            late = np.roll(push[zone if own else other], int(120 / s.cadence))
            s.x[f"zone_temperature:{zone}"][:] = HEAT_TARGETS[zone] + np.round(np.add.accumulate(late) * 0.0008, 1)

    return story


def test_each_follows_the_others_output_while_it_runs() -> None:
    finding = only(find(crosswise(own=False)))
    assert finding.last.confidence == "high" and "follows the other's output" in finding.last.summary


@pytest.mark.parametrize("period_s", [300.0, 400.0])
def test_cycles_of_a_few_minutes_follow_whatever_they_fall_in_with(period_s: float) -> None:
    """On-off control of two zones whose cycles stand so that each seems to follow the other's output."""

    def story(s: HeatScript) -> None:
        at = 2 * np.pi * (np.arange(s.n) - FROM) * s.cadence / period_s
        for zone, phase in (("Z3", 0.0), ("Z4", np.pi / 2)):
            s.x[f"zone_output:{zone}"] = 60.0 * (np.sin(at + phase) > 0)
        for zone, phase in (("Z3", np.pi / 2), ("Z4", 0.0)):
            s.x[f"zone_temperature:{zone}"] += -3 * np.cos(at + phase)

    assert find(story) == []


def heater_dead(s: HeatScript) -> None:
    s.stop(0, LOG_S)
    goes(s, "Z4", -12, 100)


def contactor_stuck(s: HeatScript) -> None:
    s.stop(0, LOG_S)
    goes(s, "Z3", 9, 0)


def far_apart(s: HeatScript) -> None:
    pair("Z2", "DIE")(s)


def running(s: HeatScript) -> None:
    """Running, shear may heat the one and a dead heater leave the other cold."""
    goes(s, "Z3", 9, 0)
    goes(s, "Z4", -12, 100)


def hot_one_cools(s: HeatScript) -> None:
    pair("Z3", "Z4")(s)
    s.ramp("zone_temperature:Z3", FROM, TO, HEAT_TARGETS["Z3"] - 10)


def leaves(s: HeatScript, zone: str, at_s: float, by_c: float, output: float) -> None:
    """Within forty minutes it is `by_c` off; its output has been at its end since four minutes after it left."""
    s.ramp(f"zone_temperature:{zone}", at_s, at_s + 2400, HEAT_TARGETS[zone] + by_c)
    s.put(f"zone_temperature:{zone}", at_s + 2400, LOG_S, HEAT_TARGETS[zone] + by_c)
    s.put(f"zone_output:{zone}", at_s + 240, LOG_S, output)


def parted(hot: str, cold: str, still_s: float = 0.0, later_s: float = 300.0) -> Story:
    """The screw turns, again or still: one climbs though it is cooled, the other falls at full heat."""

    def story(s: HeatScript) -> None:
        if still_s:
            s.stop(FROM - 600, FROM - 600 + still_s)
        leaves(s, hot, FROM + later_s, 60, -100)
        leaves(s, cold, FROM, -50, 100)

    return story


@pytest.mark.parametrize(
    ("hot", "cold", "still_s"), [("Z3", "Z4", 0), ("Z2", "Z5", 0), ("Z5", "Z2", 1500), ("ADAPTER", "Z3", 1500)]
)
def test_two_that_leave_their_set_points_together_with_the_screw_turning(hot: str, cold: str, still_s: float) -> None:
    """Of any two zones, also after a stop too short to tell."""
    finding = only(find(parted(hot, cold, still_s)))
    first = min(hot, cold, key=list(HEAT_TARGETS).index)
    assert finding.last.channel == f"zone_temperature:{first}"
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 1800
    assert hot in finding.last.summary and cold in finding.last.summary


def heat_up_crossed(s: HeatScript) -> None:
    """From cold, couples of Z2 and Z5 exchanged: both rise until the one is given no more heat."""
    s.stop(0, LOG_S)
    for zone, wanted in HEAT_TARGETS.items():
        key = f"zone_temperature:{zone}"
        s.put(key, 0, LOG_S, wanted)
        s.put(key, 0, 10, 25.0)
        s.ramp(key, 0, 1800, wanted)
        s.put(f"zone_output:{zone}", 0, 1800, 100)
    s.ramp("zone_temperature:Z5", 1800, 5400, HEAT_TARGETS["Z5"] + 110)
    s.put("zone_temperature:Z5", 5400, LOG_S, HEAT_TARGETS["Z5"] + 110)
    s.put("zone_output:Z5", 1800, LOG_S, -100)
    s.ramp("zone_temperature:Z2", 0, 1800, HEAT_TARGETS["Z2"] - 20)
    s.ramp("zone_temperature:Z2", 1799, 5400, HEAT_TARGETS["Z2"] - 90)
    s.put("zone_temperature:Z2", 5400, LOG_S, HEAT_TARGETS["Z2"] - 90)
    s.put("zone_output:Z2", 0, LOG_S, 100)


def test_at_a_cold_heat_up_and_nothing_else_stands_beside_it() -> None:
    s = HeatScript(LOG_S)
    heat_up_crossed(s)
    found = told(
        s, CouplesSwapped(), HeaterDead(), ContactorStuck(), CoolingScaled(), line=HEAT_LINE, recipe=HEAT_RECIPE
    )
    swapped = [one for one in found if one.last.condition == "couples_swapped"]
    assert len(swapped) == 1 and len(found) >= 3
    assert {one.last.part_of for one in found if one not in swapped} == {swapped[0].last.finding}


@pytest.mark.parametrize(("condition", "zone", "other"), [(HeaterDead(), "Z2", "Z5"), (CoolingScaled(), "Z5", "Z2")])
def test_the_others_name_the_zone_it_was_exchanged_with(condition, zone: str, other: str) -> None:  # type: ignore[no-untyped-def]
    s = HeatScript(LOG_S)
    parted("Z5", "Z2")(s)
    s.put("zone_output:Z5", FROM + 540, LOG_S, 0)
    s.put("zone_cooling:Z5", FROM + 540, LOG_S, 100)
    finding = only(told(s, condition, line=HEAT_LINE, recipe=HEAT_RECIPE))
    assert zone in finding.last.summary
    assert "exchanged" in finding.last.cause_texts[0] and f"zone {other}" in finding.last.cause_texts[0]


def fell_out(s: HeatScript) -> None:
    """A couple out of its well reads 50 C less within a minute; its controller overheats the zone and the next one."""
    leaves(s, "Z3", FROM, 25, -100)
    s.put("zone_temperature:Z4", FROM, LOG_S, HEAT_TARGETS["Z4"] - 50)
    s.put("zone_output:Z4", FROM, LOG_S, 100)


def new_set_points(s: HeatScript) -> None:
    """One is set 30 C lower and cools by itself, the other 30 C higher and heats up."""
    for zone, by_c, output in (("Z3", -30, -100), ("Z4", 30, 100)):
        s.put(f"zone_setpoint:{zone}", FROM, LOG_S, HEAT_TARGETS[zone] + by_c)
        s.ramp(f"zone_temperature:{zone}", FROM, LOG_S, HEAT_TARGETS[zone] + 0.2 * by_c)
        s.put(f"zone_output:{zone}", FROM, LOG_S, output)


@pytest.mark.parametrize(
    "story",
    [
        heater_dead,
        contactor_stuck,
        far_apart,
        running,
        hot_one_cools,
        crosswise(own=True),
        fell_out,
        new_set_points,
        parted("Z3", "Z4", later_s=2000),
    ],
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []


def test_without_outputs_it_is_not_armed() -> None:
    assert find(pair("Z3", "Z4"), without(HEAT_LINE, "zone_output")) == []
