"""Zones and melt too hot; settling, a moved set-point and a broken couple are not. The ceiling always is."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.over_temperature import MeltOverTemperature, OverTemperature
from monitor.conditions.under_temperature import UnderTemperature
from tests.monitor.conditions.told import R1, TWIN, Story, changed, only, seconds, told, twin, without, words
from tests.monitor.scripted_world import FEEDERS, TARGETS, Script

LOG_S, FROM, TO = 4800, 3000, 3900
ZONE, MELT = "zone_temperature:Z3", "melt_temperature:MT1"


def hotter(key: str, by_c: float, from_s: float = FROM, to_s: float = TO) -> Story:
    def story(s: Script) -> None:
        s.x[key][s.span(from_s, to_s)] += by_c

    story.__name__ = f"{key}_{by_c:+g}_from_{from_s}"
    return story


def lump(key: str, by_c: float, lasts_s: float) -> Story:
    """Something passes: pressure is up for a minute, and hotter melt heats the zone a while longer."""

    def story(s: Script) -> None:
        s.scale("melt_pressure:P1", FROM - 20, FROM + 40, 1.12)
        hotter(key, by_c, FROM, FROM + lasts_s)(s)

    story.__name__ = f"{key}_{by_c:+g}_with_a_lump"
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
    (OverTemperature(), lump(ZONE, 6, 100)),
    (OverTemperature(), couple_open),
    (OverTemperature(), overshoot_after_the_start),
    (MeltOverTemperature(), hotter(MELT, 6)),
    (MeltOverTemperature(), hotter(MELT, 9, FROM, FROM + 20)),
    (MeltOverTemperature(), lump(MELT, 9, 70)),
]


@pytest.mark.parametrize(("condition", "story"), SILENT, ids=lambda value: getattr(value, "__name__", ""))
def test_stays_silent(condition: OverTemperature, story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, condition) == []


@pytest.mark.parametrize(
    ("condition", "key", "passing_s", "sure_s"),
    [(OverTemperature(), ZONE, 120, 60), (MeltOverTemperature(), MELT, 90, 30)],
)
def test_what_may_pass_is_waited_for_but_not_above_the_ceiling(
    condition: OverTemperature, key: str, passing_s: int, sure_s: int
) -> None:
    by_c, burns = (14, 235.0) if key == MELT else (7, 221.5)

    def waits(story: Story, ceiling_c: float = 300.0) -> float:
        s = twin(LOG_S)
        story(s)
        said = only(told(s, condition, recipe=changed(R1, recipe={"ceiling_c": ceiling_c}))).first_decided_at
        return (seconds(said) or 0) - FROM

    assert waits(hotter(key, by_c)) == sure_s
    assert waits(lump(key, by_c, 600)) == passing_s
    assert waits(lump(key, by_c, 600), burns) == sure_s


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


def test_kilograms_are_not_told_of_rates_whose_unit_is_not_known() -> None:
    s = twin(LOG_S)
    hotter(ZONE, 7)(s)
    sensors = tuple(
        one.model_copy(update={"unit": "relative"}) if one.role == "feeder_rate" else one for one in s.line.sensor
    )

    finding = only(
        told(s, OverTemperature(), line=s.line.model_copy(update={"sensor": sensors, "version": "relative"}))
    )

    assert "over the limit by then" in words(finding)
    assert "passed by then" not in words(finding) and "kg" not in words(finding)


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


def climbs(s: Script, output: float) -> None:
    """By 7 C in five minutes, as steel does."""
    s.put(ZONE, FROM, FROM + 300, 215, slope_s=7 / 300)
    s.put(ZONE, FROM + 300, TO, 222)
    s.put("zone_output:Z3", FROM, TO, output)


def test_causes_follow_what_is_seen_beside_it() -> None:
    def cause(output: float, usual: float, *acts: Story) -> str:
        s = twin(LOG_S)
        s.put("zone_output:Z3", 0, LOG_S, usual)
        climbs(s, output)
        for act in acts:
            act(s)
        return only(told(s, OverTemperature())).last.cause_texts[0]

    def more_load(s: Script) -> None:
        s.x["torque"][s.span(FROM, TO)] *= 1.15

    def others_hot(s: Script) -> None:
        others = [key for key in s.x if key.startswith("zone_temperature:") and key != ZONE]
        assert len(others) >= 2
        for key in others:
            s.x[key][s.span(FROM, TO)] += 2.0

    def was_cold(s: Script) -> None:
        s.put(ZONE, FROM - 600, FROM - 300, 215, slope_s=-2.4 / 300)
        s.put(ZONE, FROM - 300, FROM, 212.6, slope_s=2.4 / 300)

    assert cause(-60, 30) == "contactor stuck on: its heater current would show it", (
        "it took heat here, load is as usual"
    )
    assert cause(-95, -20) == "cooling does not act"
    assert cause(-60, 30, more_load) == "shear heat: goes with speed and load"
    assert cause(-60, 30, was_cold) == "controller hunting: badly tuned for this zone"
    assert cause(30, 30) == "controller in manual"
    assert cause(15, 30, more_load) == "shear heat: goes with speed and load", "a controller that answers is no manual"
    assert cause(15, 30, others_hot) == "shear heat: goes with speed and load"
    assert cause(15, 30, was_cold, others_hot) == "shear heat: goes with speed and load", "tuning is of one zone"
    assert cause(15, 30) == "contactor stuck on: its heater current would show it", "nothing else has moved"
    assert cause(30, 30, lambda s: s.put("zone_setpoint:Z3", 0, LOG_S, 222)) == "set-point above the recipe"
    assert cause(30, 30, hotter(ZONE, 7)) == "couple, plug or input: it rose faster than steel can"


def restarted(at_s: float) -> Story:
    """The screw stands for ten minutes up to then."""

    def story(s: Script) -> None:
        for key in ("screw_speed", "screw_speed_setpoint", "torque"):
            s.put(key, at_s - 600, at_s, 0.0)

    return story


def rate_cut(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.x[key][s.span(600, LOG_S)] *= 0.7


@pytest.mark.parametrize("upset", [restarted(600), rate_cut], ids=["restart", "another speed"])
def test_an_overshoot_that_decays_after_a_change_is_the_loop_at_work(upset: Story) -> None:
    def said(over_c: float, tau_s: float) -> list[float]:
        s = twin(2 * LOG_S)
        upset(s)
        at = np.fmax(np.arange(s.n) * s.cadence - 600, 0)
        s.x[ZONE] += over_c * (1 - np.exp(-at / 120)) * np.exp(-at / tau_s)
        return [seconds(f.last.since) or 0 for f in told(s, OverTemperature())]

    assert said(14, 1200) == []
    assert 600 + 1200 <= said(8, 1e9)[0] <= 600 + 1300, "one that stays is said after half the time to settle"


def test_a_stop_leaves_the_heat_of_the_cold_feed_in_the_steel() -> None:
    s = twin(2 * LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint", "torque", *(f"feeder_rate:{name}" for name in FEEDERS)):
        s.put(key, 2400, s.n * s.cadence, 0.0)
    at = np.fmax(np.arange(s.n) * s.cadence - 2400, 0)
    s.x[ZONE] += 16 * (1 - np.exp(-at / 120)) * np.exp(-at / 1500)

    assert told(s, OverTemperature()) == []


def test_a_zone_that_was_far_under_its_target_may_run_past_it() -> None:
    s = twin(2 * LOG_S)
    s.put(ZONE, 3000, 3900, 215, slope_s=-30 / 900)
    s.put(ZONE, 3900, 4500, 185, slope_s=36 / 600)
    s.put(ZONE, 4500, 6900, 221, slope_s=-6 / 2400)

    assert told(s, OverTemperature()) == []


def test_a_zone_that_comes_and_goes_is_said_once() -> None:
    s = twin(LOG_S)
    for first in range(3000, 4200, 400):
        hotter(ZONE, 7, first, first + 150)(s)

    only(told(s, OverTemperature()))


@pytest.mark.parametrize(("cold_s", "swings_back"), [(1500, True), (300, False)])
def test_a_zone_that_was_cold_for_long_swings_back_past_its_set_point(cold_s: int, swings_back: bool) -> None:
    """What a controller at full heat for half an hour does when its heater is repaired; a hunting loop is quicker."""
    s = twin(FROM + 3000)
    hotter(ZONE, -12, FROM - cold_s + 150, FROM)(s)
    s.x[ZONE][s.span(FROM - cold_s, FROM - cold_s + 150)] += np.linspace(0, -12, 150)
    s.x[ZONE][s.span(FROM, FROM + 300)] += np.linspace(-12, 7, 300)
    hotter(ZONE, 7, FROM + 300, FROM + 1300)(s)
    found = {f.last.condition: f.last for f in told(s, OverTemperature(), UnderTemperature())}
    hot = found["zone_over_temperature"]

    assert hot.causes[0].text.startswith("swings back") == swings_back
    assert not swings_back or hot.part_of == found["zone_under_temperature"].finding


def test_without_a_recipe_the_set_point_is_the_measure() -> None:
    s = twin(LOG_S)
    hotter(ZONE, 7)(s)

    assert only(told(s, OverTemperature(), recipes=False)).last.channel == ZONE
    assert changed(R1, zones=TARGETS).zones == TARGETS


@pytest.mark.parametrize("zone", ["DIE", "ADAPTER"])
@pytest.mark.parametrize("logged", [True, False])
def test_a_body_too_hot_is_its_heater_before_any_melt(zone: str, logged: bool) -> None:
    line = twin(10).line if logged else without(twin(10).line, "zone_output")
    s = twin(LOG_S)
    at = float(s.x[f"zone_temperature:{zone}"][s.span(0, 60)].mean())
    s.put(f"zone_temperature:{zone}", FROM, TO, at, slope_s=30 / (TO - FROM))
    s.put(f"zone_output:{zone}", FROM, TO, 0)
    s.scale("torque", FROM, TO, 1.1)
    causes = only(told(s, OverTemperature(), line=line)).last.cause_texts

    assert "stuck on" in causes[0] and causes[-1] == "hotter melt from the screw"
    assert not any("shear" in cause for cause in causes)


def test_a_body_behind_a_zone_that_runs_away_is_heated_by_its_melt() -> None:
    """Z3 goes 60 C over, the die by 8."""
    s = twin(LOG_S)
    s.put("zone_output:Z3", FROM, TO, 0)
    s.put("zone_output:DIE", FROM, TO, 0)
    for zone, over_c in (("Z3", 60.0), ("DIE", 8.0)):
        at = float(s.x[f"zone_temperature:{zone}"][s.span(0, 60)].mean())
        s.put(f"zone_temperature:{zone}", FROM, TO, at, slope_s=over_c / (TO - FROM))
    causes = {one.last.channel: one.last.cause_texts for one in told(s, OverTemperature())}

    assert causes["zone_temperature:DIE"][0] == "hotter melt from the screw"
    assert causes[ZONE][0].startswith("contactor stuck on"), "hotter than the melt and its neighbours"


def test_one_zone_hot_at_a_load_as_usual_is_no_shear_where_no_output_is_logged() -> None:
    s = twin(LOG_S)
    climbs(s, 0)
    line = without(twin(10).line, "zone_output")
    causes = only(told(s, OverTemperature(), line=line)).last.cause_texts

    assert "stuck on" in causes[0] and causes[-1].startswith("shear heat")


def test_a_heater_that_draws_no_current_does_not_hang_on() -> None:
    line = TWIN.model_dump()
    line["sensor"] = [*line["sensor"], {"tag": "I.Z3", "role": "zone_current", "at": "Z3", "unit": "A"}]
    drawing = type(TWIN).model_validate({**line, "version": "with a current"})
    s = Script(drawing, LOG_S, 11)
    s.put("zone_output:Z3", 0, LOG_S, 30)
    s.put("zone_current:Z3", 0, LOG_S, 6.0)
    climbs(s, -60)
    s.put("zone_current:Z3", FROM, TO, 0.0)
    causes = only(told(s, OverTemperature(), line=drawing)).last.causes

    assert "contactor stuck on" in causes[-1].text and "draws no current" in str(causes[-1].speaks_against)


@pytest.mark.parametrize(("pressure", "first"), [(1.0, True), (0.85, False)])
def test_a_pressure_that_fell_as_the_melt_grew_hotter_speaks_for_the_probe(pressure: float, first: bool) -> None:
    """Heated behind the screws, over half an hour: the load is as usual, the pressure of the die is not."""
    s = twin(LOG_S)
    part = s.span(FROM, LOG_S)
    way = np.minimum(np.arange(LOG_S - FROM) / 1800, 1.0)
    s.x[MELT][part] += 14 * way
    s.x["melt_pressure:P1"][part] *= 1 - (1 - pressure) * way
    causes = only(told(s, MeltOverTemperature())).last.causes
    probe = next(cause for cause in causes if cause.text.startswith("probe"))
    assert (causes[0] == probe) == first and bool(probe.speaks_against) == (not first)
