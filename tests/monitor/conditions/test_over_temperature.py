"""Zones and melt too hot; settling, a moved set-point and a broken couple are not. The ceiling always is."""

from __future__ import annotations

import pytest

from monitor.conditions.over_temperature import MeltOverTemperature, OverTemperature
from tests.monitor.conditions.told import R1, Story, changed, only, seconds, told, twin, words
from tests.monitor.scripted_world import TARGETS, Script

LOG_S, FROM, TO = 4800, 3000, 3900
ZONE, MELT = "zone_temperature:Z3", "melt_temperature:MT1"


def hotter(key: str, by_c: float, from_s: float = FROM, to_s: float = TO) -> Story:
    def story(s: Script) -> None:
        s.x[key][s.span(from_s, to_s)] += by_c

    story.__name__ = f"{key}_{by_c:+g}_from_{from_s}"
    return story


def couple_open(s: Script) -> None:
    s.put(ZONE, FROM, TO, 400)


def set_point_lowered(s: Script) -> None:
    """Steel cools by a degree in two minutes: 20 C lower takes its time."""
    s.put("zone_setpoint:Z3", FROM, LOG_S, 195)
    s.put(ZONE, FROM, LOG_S, 215.0, slope_s=-20 / 1800)


def overshoot_after_the_start(s: Script) -> None:
    """Started at 600 s: load heats the zones by 4 C until the controllers have caught up."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, 600, 0.0)
    s.x[ZONE][s.span(700, 1500)] += 4


@pytest.mark.parametrize(
    ("condition", "story", "priority", "word"),
    [
        (OverTemperature(), hotter(ZONE, 4.2), 3, "above its limit of 218"),
        (OverTemperature(), hotter(ZONE, 7), 2, "above its limit of 218"),
        (MeltOverTemperature(), hotter(MELT, 9), 3, "melt temperature MT1"),
        (MeltOverTemperature(), hotter(MELT, 14), 2, "above its limit of 236"),
    ],
)
def test_speaks(condition: OverTemperature, story: Story, priority: int, word: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, condition))

    assert word in finding.last.summary and finding.last.priority == priority
    assert FROM <= (seconds(finding.last.since) or 0) <= FROM + 60
    assert TO <= (seconds(finding.last.until) or 0) <= TO + 60


SILENT = [
    (OverTemperature(), hotter(ZONE, 2)),
    (OverTemperature(), hotter(ZONE, 6, FROM, FROM + 40)),
    (OverTemperature(), couple_open),
    (OverTemperature(), overshoot_after_the_start),
    (MeltOverTemperature(), hotter(MELT, 6)),
    (MeltOverTemperature(), hotter(MELT, 9, FROM, FROM + 20)),
]


@pytest.mark.parametrize(("condition", "story"), SILENT, ids=lambda value: getattr(value, "__name__", ""))
def test_stays_silent(condition: OverTemperature, story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, condition) == []


def test_a_set_point_below_the_recipes_is_judged_by_the_recipe() -> None:
    """The recipe wants 215: a zone that is told 195 and cools toward it is not too hot."""
    s = twin(LOG_S)
    set_point_lowered(s)

    assert told(s, OverTemperature()) == []
    no_zones = type(R1)(**{**R1.model_dump(), "zones": {}})
    assert told(s, OverTemperature(), recipe=no_zones) == [], "nor by its own set-point while it settles"


def test_the_ceiling_counts_always_and_says_whether_it_is_the_wall_or_the_melt() -> None:
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, LOG_S, 0.0)
    s.put(ZONE, 0, 600, 270, slope_s=0.03)
    s.put(ZONE, 600, LOG_S, 288)
    wall = only(told(s, OverTemperature()))

    assert "the wall, not yet the melt" in wall.last.summary and wall.last.priority == 2
    assert "contactor stuck on" in words(wall) or "set-point above the recipe" in words(wall)
    s = twin(LOG_S)
    s.put(MELT, FROM, FROM + 600, 228, slope_s=0.1)
    s.put(MELT, FROM + 600, TO, 285)
    melt = only(told(s, MeltOverTemperature()))
    assert melt.last.priority == 1 and "above the ceiling of the material of 280" in melt.last.summary
    assert "Keep people away" in melt.last.caution


def test_running_each_kilogram_sees_its_residence_time_only() -> None:
    s = twin(LOG_S)
    hotter(ZONE, 7)(s)
    finding = only(told(s, OverTemperature()))

    evidence = {item.what: item for item in finding.last.evidence}
    seconds_each = evidence["each kilogram is exposed for at most"]
    dose = evidence["dose of each kilogram, excess x residence time"]
    excess = (evidence["zone Z3"].value or 0) - 218
    assert seconds_each.unit == "s" and dose.unit == "C min"
    assert dose.value == pytest.approx(excess * (seconds_each.value or 0) / 60)
    minutes = evidence["over the limit by then"].value or 0
    assert minutes <= 4.5 * (TO - FROM) / 60
    assert 0 < (evidence["passed by then"].value or 0) <= 305 * (TO - FROM) / 3600, "300 kg/h"
    assert "standing" not in words(finding)


def test_standing_the_dose_is_degree_minutes_over_the_ceiling() -> None:
    """288 C for an hour, ceiling 280: 8 C times the minutes up to the worst reading."""
    s = twin(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 0, LOG_S, 0.0)
    s.put(ZONE, 0, 600, 250, slope_s=0.05)
    s.put(ZONE, 600, LOG_S, 285, slope_s=3 / 4200)
    evidence = {item.what: item for item in only(told(s, OverTemperature())).last.evidence}

    assert evidence["standing, over the ceiling"].value == pytest.approx(6.5 * 4200 / 60, rel=0.02)
    assert "passed by then" not in evidence


def test_a_reading_that_is_missing_does_not_wipe_out_the_dose() -> None:
    def dose(gap: bool) -> float:
        s = twin(LOG_S)
        hotter(ZONE, 7)(s)
        if gap:
            s.put(ZONE, 3600, 3630, float("nan"))
        return next(
            e.value or 0 for e in only(told(s, OverTemperature())).last.evidence if e.what == "over the limit by then"
        )

    assert dose(gap=True) == pytest.approx(dose(gap=False), rel=0.05)


def test_causes_follow_the_output_of_the_zone() -> None:
    def causes(output: float) -> str:
        s = twin(LOG_S)
        hotter(ZONE, 7)(s)
        s.put("zone_output:Z3", FROM, TO, output)
        return only(told(s, OverTemperature())).last.cause_texts[0]

    assert causes(-60) == "shear heat: goes with speed and load"
    assert causes(30) == "set-point above the recipe"


def test_without_a_recipe_the_set_point_is_the_measure() -> None:
    s = twin(LOG_S)
    hotter(ZONE, 7)(s)

    assert only(told(s, OverTemperature(), recipes=False)).last.channel == ZONE
    assert changed(R1, zones=TARGETS).zones == TARGETS
