"""Two zones in each other's place: one overshoots with its heat off, the other starves; a dead heater alone is not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.couples_swapped import CouplesSwapped
from tests.monitor.conditions.told import Story, only, told, without
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


@pytest.mark.parametrize(
    "story", [heater_dead, contactor_stuck, far_apart, running, hot_one_cools, crosswise(own=True)]
)
def test_stays_silent(story: Story) -> None:
    assert find(story) == []


def test_without_outputs_it_is_not_armed() -> None:
    assert find(pair("Z3", "Z4"), without(HEAT_LINE, "zone_output")) == []
