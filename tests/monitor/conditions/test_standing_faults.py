"""A zone fault stands while its evidence does: over hours, changes and stops; it ends when the duty is back."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from monitor.conditions.contactor_stuck import ContactorStuck
from monitor.conditions.cooling_passing import CoolingPassing
from monitor.conditions.heater_dead import HeaterDead
from monitor.conditions.heater_partial import HeaterPartial
from monitor.conditions.thermocouple_loose import ThermocoupleLoose
from monitor.records import Finding
from tests.monitor.conditions.heated_zones import HEAT_LINE_10_S
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import FEEDERS
from tests.monitor.world_heat import HEAT_RECIPE, HEAT_TARGETS, HeatScript

MIN = 60.0
LOG_S, FROM = 420 * MIN, 70 * MIN
Fault = Callable[[HeatScript, float, float], None]


def bands_dead(s: HeatScript, start: float, end: float) -> None:
    s.add("zone_output:Z3", start, end, 25)


def couple_slipped(s: HeatScript, start: float, end: float) -> None:
    for zone, by in (("Z3", 15), ("Z2", -2), ("Z4", -2)):
        s.add(f"zone_output:{zone}", start, end, by)


def heater_hangs_on(s: HeatScript, start: float, end: float) -> None:
    s.put("zone_output:Z3", start, end, -60)


def valve_passes(s: HeatScript, start: float, end: float) -> None:
    s.put("zone_output:Z3", 0, LOG_S, 0.5)
    s.put("zone_output:Z3", start, end, 30)


FAULTS = {
    HeaterPartial(): bands_dead,
    ThermocoupleLoose(): couple_slipped,
    ContactorStuck(): heater_hangs_on,
    CoolingPassing(): valve_passes,
}
EACH = pytest.mark.parametrize(("condition", "fault"), FAULTS.items(), ids=[one.name for one in FAULTS])


def slower(s: HeatScript, start: float, end: float, to: float) -> None:
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, start, end, to)
    for feeder in FEEDERS:
        for role in ("feeder_rate", "feeder_setpoint", "feeder_drive"):
            s.scale(f"{role}:{feeder}", start, end, to)


def screen_changed(s: HeatScript) -> None:
    """Slower for five minutes; what is learned after it is learned in haste."""
    slower(s, 40 * MIN, 45 * MIN, 0.7)


def found(s: HeatScript, condition) -> list[Finding]:  # type: ignore[no-untyped-def]
    return told(s, condition, line=HEAT_LINE_10_S, recipe=HEAT_RECIPE)


def log() -> HeatScript:
    s = HeatScript(int(LOG_S), 33, HEAT_LINE_10_S)
    screen_changed(s)
    return s


@EACH
def test_stands_for_hours_although_the_zone_learns_a_new_level(condition, fault: Fault) -> None:  # type: ignore[no-untyped-def]
    """Over the four hours after which a level is taken for normal, and a stop of ten minutes."""
    s = log()
    fault(s, FROM, LOG_S)
    s.stop(180 * MIN, 190 * MIN)

    finding = only(found(s, condition))

    assert (seconds(finding.first_decided_at) or 0) <= FROM + 60 * MIN
    assert finding.last.kind == "cut off" and finding.last.until is None, "it holds where the log ends"


@EACH
def test_ends_when_the_duty_is_back(condition, fault: Fault) -> None:  # type: ignore[no-untyped-def]
    repaired = 230 * MIN
    s = log()
    fault(s, FROM, repaired)
    s.stop(150 * MIN, 160 * MIN)

    finding = only(found(s, condition))

    assert finding.last.kind == "closed"
    assert repaired <= (seconds(finding.last.until) or 0) <= repaired + 25 * MIN


@EACH
def test_ends_when_it_was_repaired_in_a_stop(condition, fault: Fault) -> None:  # type: ignore[no-untyped-def]
    s = log()
    fault(s, FROM, 240 * MIN)
    s.stop(200 * MIN, 240 * MIN)

    finding = only(found(s, condition))

    assert finding.last.kind == "closed" and (seconds(finding.last.decided_at) or 0) <= 320 * MIN


@EACH
def test_at_other_set_points_it_is_not_said_to_have_ended(condition, fault: Fault) -> None:  # type: ignore[no-untyped-def]
    moved = 140 * MIN
    s = log()
    fault(s, FROM, moved)
    s.put("zone_setpoint:Z3", moved, LOG_S, 235.0)
    s.ramp("zone_temperature:Z3", moved, moved + 15 * MIN, 235.0)
    s.put("zone_temperature:Z3", moved + 15 * MIN, LOG_S, 235.0)

    finding = only(found(s, condition))

    assert finding.last.kind == "cut off"
    assert moved <= (seconds(finding.last.until) or 0) <= moved + 25 * MIN, "judged until then and no longer"
    assert (seconds(finding.last.decided_at) or 0) <= moved + 270 * MIN, "and not kept for ever"


def test_a_slower_hour_in_between_neither_ends_it_nor_makes_a_second_one() -> None:
    s = log()
    bands_dead(s, FROM, LOG_S)
    slower(s, 150 * MIN, 230 * MIN, 0.88)

    assert only(found(s, HeaterPartial())).last.until is None


def test_half_of_a_repair_is_none() -> None:
    """One of two dead bands mended: 25 % became 50, now 40."""
    s = log()
    bands_dead(s, FROM, LOG_S)
    s.add("zone_output:Z3", 200 * MIN, LOG_S, -10)

    assert only(found(s, HeaterPartial())).last.until is None


@pytest.mark.parametrize(("output", "first"), [(30, "part of the heater bands"), (90, "cooling of this zone passes")])
def test_four_times_the_heat_is_more_than_dead_bands_make_likely(output: float, first: str) -> None:
    s = HeatScript(int(160 * MIN), 33, HEAT_LINE_10_S)
    s.put("zone_output:Z3", 0, FROM, 20)
    s.put("zone_output:Z3", FROM, 160 * MIN, output)

    assert only(found(s, HeaterPartial())).last.cause_texts[0].startswith(first)


OUT, ZONE = "zone_output:Z3", "zone_temperature:Z3"


def dead(s: HeatScript, zone: str, start: float, end: float, to_c: float, over_s: float = 3600.0) -> None:
    s.put(f"zone_output:{zone}", start, end, 100)
    s.ramp(f"zone_temperature:{zone}", start, start + over_s, to_c)
    s.put(f"zone_temperature:{zone}", start + over_s, end, to_c)


def test_a_dead_heater_stands_though_melt_or_neighbours_warm_the_zone() -> None:
    s = log()
    dead(s, "Z3", FROM, LOG_S, 150.0)
    s.stop(180 * MIN, 190 * MIN)
    s.ramp(ZONE, 200 * MIN, 280 * MIN, 175.0)
    s.put(ZONE, 280 * MIN, LOG_S, 175.0)

    finding = only(found(s, HeaterDead()))

    assert finding.last.kind == "cut off" and finding.last.until is None


def test_a_dead_heater_ends_when_the_zone_is_at_set_with_heat_to_spare() -> None:
    s = log()
    dead(s, "Z3", FROM, 200 * MIN, 150.0)
    s.put(OUT, 200 * MIN, 230 * MIN, 100)
    s.put(ZONE, 200 * MIN, 230 * MIN, 150.0, slope_s=65 / (30 * MIN))

    finding = only(found(s, HeaterDead()))

    assert finding.last.kind == "closed" and abs((seconds(finding.last.until) or 0) - 230 * MIN) <= 5 * MIN


@pytest.mark.parametrize("output", [0.0, 25.0])
def test_a_dead_heater_at_another_set_point_ends_only_if_its_controller_heats(output: float) -> None:
    """At 140 C the dead zone holds by itself, without heat: that says nothing."""
    s = log()
    dead(s, "Z3", FROM, 200 * MIN, 150.0)
    s.put("zone_setpoint:Z3", 200 * MIN, LOG_S, 149.0)
    s.put(ZONE, 200 * MIN, LOG_S, 150.0)
    s.put(OUT, 200 * MIN, LOG_S, output)

    finding = only(found(s, HeaterDead()))

    assert finding.last.kind == ("closed" if output else "cut off")


def test_a_lost_supply_is_one_finding_until_the_zones_are_back() -> None:
    """In a stop all but Z2 rest; at the restart they are warmed by shear: no heater of theirs has died beside."""
    s = log()
    for zone, to_c in (("Z2", 100.0), ("Z3", 150.0), ("Z4", 170.0), ("Z5", 180.0)):
        dead(s, zone, FROM, LOG_S, to_c)
    s.stop(200 * MIN, 210 * MIN)
    s.ramp("zone_temperature:Z2", 200 * MIN, 210 * MIN, 85.0)
    s.put("zone_temperature:Z2", 210 * MIN, LOG_S, 85.0)
    for zone, to_c in (("Z3", 190.0), ("Z4", 195.0), ("Z5", 200.0)):
        s.ramp(f"zone_temperature:{zone}", 215 * MIN, 275 * MIN, to_c)
        s.put(f"zone_temperature:{zone}", 275 * MIN, LOG_S, to_c)

    findings = found(s, HeaterDead())
    open_at_the_end = [f for f in findings if f.last.until is None]

    assert [f.last.channel for f in open_at_the_end] == ["zone_output"]
    assert all((seconds(f.last.since) or 0) < FROM + 30 * MIN for f in findings)


def test_one_heater_dead_when_the_supply_is_back_is_its_own_finding() -> None:
    s = log()
    for zone in ("Z2", "Z3", "Z4"):
        dead(s, zone, FROM, LOG_S if zone == "Z3" else 200 * MIN, HEAT_TARGETS[zone] - 40)
    s.stop(180 * MIN, 190 * MIN)

    findings = found(s, HeaterDead())
    last = {f.last.channel: f for f in findings}

    assert last["zone_output"].last.kind == "closed" and last[OUT].last.until is None
    assert "zone_output:Z2" not in last or last["zone_output:Z2"].last.kind == "closed"


def test_the_two_causes_of_a_zone_that_lies_a_little_under() -> None:
    """It took 25 %: 15 C under, part of its bands may heat it still; 60 C under, hardly. Between stands the frozen
    couple, as this reading rests."""
    said = []
    for to_c in (200.0, 155.0):
        s = HeatScript(int(200 * MIN), 33, HEAT_LINE_10_S)
        dead(s, "Z3", FROM, 200 * MIN, to_c, 900.0)
        said.append(any(text.startswith("part of") for text in only(found(s, HeaterDead())).last.cause_texts[:3]))

    assert said == [True, False]
