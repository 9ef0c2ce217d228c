"""Zones and melt too cold while product is made; heat-up, a new set-point and a stop are not."""

from __future__ import annotations

import pytest

from ingest.block import Note
from monitor.conditions.over_temperature import MeltOverTemperature, OverTemperature
from monitor.conditions.under_temperature import MeltUnderTemperature, UnderTemperature
from monitor.core import Monitor
from monitor.records import findings
from tests.monitor.conditions.told import R1, Story, block_of, changed, only, seconds, told, twin, without
from tests.monitor.scripted_world import FEEDERS, NS, T0, Script

LOG_S, FROM, TO, CHANGED = 4800, 3000, 3900, 1200
ZONE, MELT = "zone_temperature:Z3", "melt_temperature:MT1"


def colder(key: str, by_c: float, from_s: float = FROM, to_s: float = TO) -> Story:
    def story(s: Script) -> None:
        s.x[key][s.span(from_s, to_s)] -= by_c

    story.__name__ = f"{key}_{-by_c:+g}_from_{from_s}"
    return story


def stopped_and_cooling(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, FROM, LOG_S, 0)
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", FROM, LOG_S, 0)
        s.put(f"feeder_setpoint:{feeder}", FROM, LOG_S, 0)
    s.put(ZONE, FROM, LOG_S, 215, slope_s=-0.02)
    s.put(MELT, FROM, LOG_S, 228, slope_s=-0.05)


def started_a_while_ago(s: Script) -> None:
    """A start at 2400 s: zones take 20 to 40 min to settle."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 1200, 2400, 0)
    s.x[ZONE][s.span(2500, 3100)] -= 4


def couple_shorted(s: Script) -> None:
    s.put(ZONE, FROM, TO, 25)


@pytest.mark.parametrize(
    ("condition", "story", "priority", "word"),
    [
        (UnderTemperature(), colder(ZONE, 4.2), 3, "below its limit of 212"),
        (UnderTemperature(), colder(ZONE, 7), 2, "below its limit of 212"),
        (MeltUnderTemperature(), colder(MELT, 9), 3, "below its limit of 220"),
        (MeltUnderTemperature(), colder(MELT, 14), 2, "below its limit of 220"),
    ],
)
def test_speaks(condition: UnderTemperature, story: Story, priority: int, word: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, condition))

    assert word in finding.last.summary and finding.last.priority == priority
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 60
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 60


@pytest.mark.parametrize(
    ("condition", "story"),
    [
        (UnderTemperature(), colder(ZONE, 2)),
        (UnderTemperature(), colder(ZONE, 6, FROM, FROM + 40)),
        (UnderTemperature(), stopped_and_cooling),
        (UnderTemperature(), started_a_while_ago),
        (UnderTemperature(), couple_shorted),
        (MeltUnderTemperature(), colder(MELT, 6)),
        (MeltUnderTemperature(), stopped_and_cooling),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_stays_silent(condition: UnderTemperature, story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, condition) == []


def sags(s: Script) -> None:
    """By 7 C in five minutes, as steel does."""
    s.put(ZONE, FROM, FROM + 300, 215, slope_s=-7 / 300)
    s.put(ZONE, FROM + 300, TO, 208)


def was_hot(s: Script) -> None:
    s.put(ZONE, FROM - 600, FROM - 300, 215, slope_s=2.4 / 300)
    s.put(ZONE, FROM - 300, FROM, 217.4, slope_s=-2.4 / 300)


def cooled_just_before(s: Script) -> None:
    s.put("zone_output:Z3", FROM - 60, FROM + 60, -30)


def all_sag(s: Script) -> None:
    for zone in ("Z2", "ADAPTER", "DIE"):
        s.x[f"zone_temperature:{zone}"][s.span(FROM, TO)] -= 2.5


@pytest.mark.parametrize(
    ("output", "acts", "cause"),
    [
        (95, sags, "heater or part of its bands dead"),
        (0, sags, "zone in manual or switched off"),
        (30, sags, "heater weak"),
        (95, was_hot, "controller hunting: badly tuned for this zone"),
        (30, cooled_just_before, "cooling acts too hard: steam flash, or its pulses too long"),
        (95, all_sag, "heater supply: a phase, fuse or main contactor"),
        (95, colder(ZONE, 7), "couple loose or slipped: it fell faster than steel can"),
    ],
)
def test_causes_follow_what_is_seen_beside_it(output: float, acts: Story, cause: str) -> None:
    s = twin(LOG_S)
    sags(s)
    s.put("zone_output:Z3", FROM, TO, output)
    if acts is not sags:
        acts(s)

    assert only([f for f in told(s, UnderTemperature()) if f.last.channel == ZONE]).last.cause_texts[0] == cause


def test_what_cold_feed_takes_after_a_start_is_let_down_to_the_melting_point() -> None:
    def said(by_c: float) -> float:
        s = twin(LOG_S)
        for key in ("screw_speed", "screw_speed_setpoint", "torque"):
            s.put(key, 1200, 2400, 0)
        s.put(ZONE, 2700, 3000, 215, slope_s=-by_c / 300)
        s.put(ZONE, 3000, LOG_S, 215 - by_c)
        return seconds(only(told(s, UnderTemperature())).last.since) or 0

    assert 3600 <= said(30) <= 3700, "half the time to settle after the start"
    assert 2840 <= said(75) <= 2900, "the melt stiffens"


def dips_by_seven(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 600, 1200, 0)
    s.put(ZONE, 2200, 2300, 215, slope_s=-7 / 100)
    s.put(ZONE, 2300, 2390, 208)


def test_settling_ends_when_the_zone_has_arrived_and_stayed() -> None:
    """A quarter of an hour after a start, ten minutes of it within a degree: what comes then is another matter."""
    s = twin(LOG_S)
    dips_by_seven(s)
    assert 2230 <= (seconds(only(told(s, UnderTemperature())).last.since) or 0) <= 2280

    s = twin(LOG_S)
    s.put(ZONE, 1200, 2200, 213, slope_s=2 / 1000)
    dips_by_seven(s)
    assert told(s, UnderTemperature()) == [], "it was still on its way"


def test_a_controller_that_is_told_less_than_the_recipe_wants() -> None:
    s = twin(LOG_S)
    s.put("zone_setpoint:Z3", 0, LOG_S, 205)
    s.put(ZONE, 1000, 1500, 215, slope_s=-0.02)
    s.put(ZONE, 1500, LOG_S, 205)

    assert only(told(s, UnderTemperature())).last.cause_texts == ("the controller's set-point is below the recipe",)


def test_another_recipe_unsettles_its_zones_whether_set_points_are_logged_or_not() -> None:
    """12 C hotter, as the note says; the zone takes a quarter of an hour, and one that stays behind is said then."""
    hot = changed(R1, recipe={"name": "R1 hot"}, zones={zone: c + 12.0 for zone, c in R1.zones.items()})

    def said(follows: bool) -> list[str]:
        s = twin(LOG_S)
        s.notes += [Note(T0, "recipe", "R1"), Note(T0 + round(CHANGED * NS), "recipe", "R1 hot")]
        for zone, target in hot.zones.items():
            if follows or zone != "Z3":
                s.put(f"zone_temperature:{zone}", CHANGED, CHANGED + 900, target - 12.0, slope_s=12.0 / 900)
                s.put(f"zone_temperature:{zone}", CHANGED + 900, LOG_S, target)
        line = without(s.line, "zone_setpoint")
        monitor = Monitor(line, [R1, hot], conditions=(UnderTemperature(),))
        state, step = monitor.advance(monitor.start(), block_of(s, line))
        return [f.last.channel for f in findings([*step.records, *monitor.finish(state)])]

    assert said(follows=True) == []
    assert said(follows=False) == ["zone_temperature:Z3"]


@pytest.mark.parametrize(("zone", "first"), [("DIE", "heater dead"), ("Z3", "heater dead")])
def test_far_too_cold_without_an_output_in_the_log_is_the_heater_first(zone: str, first: str) -> None:
    """A body has no shear to lose, and no want of shear takes 60 C from a zone whose heater works."""
    line = without(twin(10).line, "zone_output")
    s = twin(LOG_S)
    key = f"zone_temperature:{zone}"
    s.put(key, FROM, TO, float(s.x[key][s.span(0, 60)].mean()), slope_s=-60 / (TO - FROM))
    causes = only(told(s, UnderTemperature(), line=line)).last.cause_texts

    assert causes[0].startswith(first)
    assert zone != "DIE" or not any("shear" in cause for cause in causes)


def test_a_zone_of_the_barrel_a_little_cold_may_lack_shear() -> None:
    line = without(twin(10).line, "zone_output")
    s = twin(LOG_S)
    sags(s)

    assert "less shear" in " ".join(only(told(s, UnderTemperature(), line=line)).last.cause_texts)


@pytest.mark.parametrize(("load", "first"), [(1.0, "heater weak"), (0.85, "less or colder melt from the screw")])
def test_a_body_a_little_cold_follows_its_melt_only_where_the_load_has_fallen(load: float, first: str) -> None:
    line = without(twin(10).line, "zone_output")
    s = twin(LOG_S)
    at = float(s.x["zone_temperature:ADAPTER"][s.span(0, 60)].mean())
    s.put("zone_temperature:ADAPTER", FROM, FROM + 300, at, slope_s=-5 / 300)
    s.put("zone_temperature:ADAPTER", FROM + 300, TO, at - 5)
    s.scale("torque", FROM - 60, TO, load)

    assert only(told(s, UnderTemperature(), line=line)).last.cause_texts[0] == first


def test_zones_that_grow_cold_together_while_their_heaters_answer_lack_what_passes_them() -> None:
    s = twin(LOG_S)
    for zone in ("Z3", "ADAPTER", "DIE"):
        key = f"zone_temperature:{zone}"
        at = float(s.x[key][s.span(0, 60)].mean())
        s.put(key, FROM, FROM + 300, at, slope_s=-5 / 300)
        s.put(key, FROM + 300, TO, at - 5)
        s.put(f"zone_output:{zone}", FROM + 60, TO, 45.0)

    found = told(s, UnderTemperature())

    firsts = {one.last.channel: one.last.cause_texts[0] for one in found}
    assert firsts["zone_temperature:DIE"] == firsts["zone_temperature:ADAPTER"] == "less or colder melt from the screw"
    assert firsts["zone_temperature:Z3"] == "more or colder feed, less shear"
    assert all("2 more zones are cold" in one.last.causes[0].speaks_for for one in found)


@pytest.mark.parametrize(("outer_s", "said"), [(80, True), (40, False)])
def test_the_depth_of_a_swing_need_not_last_where_it_has_been_out_for_two_minutes(outer_s: int, said: bool) -> None:
    """A swing that was hot before is let down to the outer limit; what is out for long is no lump that passes."""
    s = twin(LOG_S)
    for by_c, first, last in ((4.0, 0, 300), (-3.8, 600, 740), (-7.0, 740, 740 + outer_s), (-3.8, 740 + outer_s, 900)):
        s.x["zone_temperature:Z3"][s.span(FROM + first, FROM + last)] += by_c

    found = told(s, UnderTemperature())
    assert bool(found) is said, [f.last.summary for f in found]
    assert not said or seconds(found[0].first_decided_at) == FROM + 740 + 60


@pytest.mark.parametrize(
    ("condition", "key", "by_c", "priority", "at_s"),
    [
        (UnderTemperature(), ZONE, 7, 2, 1200),
        (UnderTemperature(), ZONE, 4.2, 3, 2400),
        (MeltUnderTemperature(), MELT, 14, 2, 900),
        (OverTemperature(), ZONE, -7, 2, 1200),
        (OverTemperature(), ZONE, -4.2, 3, 2400),
        (MeltOverTemperature(), MELT, -14, 2, 900),
    ],
)
def test_what_never_came_inside_is_said_once_it_is_overdue(
    condition: UnderTemperature | OverTemperature, key: str, by_c: float, priority: int, at_s: int
) -> None:
    """A heater that died in heat-up, a log that begins with the fault: there is nothing to wait for any more."""
    s = twin(LOG_S)
    colder(key, by_c, 0, LOG_S)(s)

    finding = only(told(s, condition))

    assert "not once inside it since the line runs" in finding.last.summary and finding.last.priority == priority
    assert at_s - 10 <= (seconds(finding.last.since) or 0) <= at_s + 60


def test_a_zone_below_the_melting_point_with_the_screw_turning_is_not_waited_for() -> None:
    s = twin(LOG_S)
    colder(ZONE, 60, 0, LOG_S)(s)

    finding = only(told(s, UnderTemperature()))

    assert finding.last.priority == 2 and (seconds(finding.last.since) or 0) <= 800


def test_a_zone_that_comes_up_at_a_loops_pace_is_let_and_one_that_creeps_is_not() -> None:
    """A third of what is missing in ten minutes, and a twentieth."""
    said = []
    for share in (1 / 3, 1 / 20):
        s = twin(LOG_S)
        for at in range(LOG_S):
            s.x[ZONE][s.span(at, at + 1)] -= 30 * (1 - share) ** (at / 600)
        said.append(told(s, UnderTemperature()))
    assert [len(found) for found in said] == [0, 1]


@pytest.mark.parametrize(("torque", "speed", "thinner"), [(0.88, 1.0, True), (1.0, 1.0, False), (0.88, 0.9, False)])
def test_a_melt_colder_at_less_load_and_the_same_speed_is_thinner(torque: float, speed: float, thinner: bool) -> None:
    s = twin(LOG_S)
    colder(MELT, 14)(s)
    s.scale("torque", FROM, TO, torque)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, TO, speed)
    found = [f for f in told(s, MeltUnderTemperature()) if f.last.channel == MELT]

    assert all(f.last.causes[0].text.startswith("thinner melt") == thinner for f in found) and (found or speed < 1)
