"""Powder that runs through; refills, emptying and hands on the hopper are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.flooded import Flooded
from monitor.conditions.flushing import Flushing
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, told_of
from tests.monitor.conditions.told import changed, only, seconds, told, without, words
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe


def in_the_hold(s: FeederScript) -> None:
    """A marked refill of 20 s, hold for 60 s, rate frozen on set, the weight falling at four times the rate."""
    s.refill("F2", FROM, 20)
    s.put("feeder_refill:F2", FROM, FROM + 60, 1)
    s.put("feeder_rate:F2", FROM, FROM + 90, SETS["F2"])
    s.loses("F2", FROM + 20, FROM + 85, 3 * SETS["F2"])


def nobody_marked(s: FeederScript) -> None:
    in_the_hold(s)
    s.put("feeder_refill:F2", 0, FROM + 200, 0)


def through_a_stopped_feeder(s: FeederScript) -> None:
    s.put("feeder_drive:F2", FROM, FROM + 120, 0)
    s.loses("F2", FROM, FROM + 120, 3 * SETS["F2"])


def back_in_gravimetric(s: FeederScript) -> None:
    """The controller has found out: rate half as much again as set at minimum drive."""
    s.refill("F2", FROM, 20)
    s.scale("feeder_rate:F2", FROM + 55, FROM + 140, 1.5)
    s.put("feeder_drive:F2", FROM + 55, FROM + 140, 5)


def emptied_by_hand(s: FeederScript) -> None:
    s.loses("F2", FROM, FROM + 120, 20 * SETS["F2"])


def hand_taken_off(s: FeederScript) -> None:
    s.x["feeder_weight:F2"][s.span(FROM, FROM + 90)] += 8


def overshoot(s: FeederScript) -> None:
    """A refill and a controller that feeds 10 % too much for a minute and a half."""
    s.refill("F2", FROM, 20)
    s.scale("feeder_rate:F2", FROM + 50, FROM + 140, 1.1)
    s.loses("F2", FROM + 50, FROM + 140, 0.1 * SETS["F2"])


def leaps(s: FeederScript, at_s: float, torque: float = 1.3, pressure: float = 1.25) -> None:
    """For 40 s more is in the screws than the feeders say."""
    s.scale("torque", at_s, at_s + 40, torque)
    s.scale("melt_pressure:P1", at_s + 5, at_s + 45, pressure)


def while_it_is_filled(s: FeederScript) -> None:
    """The hopper is filled for 40 s, no other one is, its rate and drive are held, and load and pressure leap."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    s.put("feeder_rate:F2", FROM, FROM + 45, SETS["F2"])
    leaps(s, FROM)


def load_leaps_alone(s: FeederScript) -> None:
    """A lump, and no refill in the whole log."""
    s.even_weight("F1", 900, 0, LOG_S)
    leaps(s, FROM)


def two_filled_at_once(s: FeederScript) -> None:
    """Nobody can say which of the two it was: `flooded` says that more comes in."""
    while_it_is_filled(s)
    s.refill("F1", FROM, 20, over_s=40)


def pressure_stays(s: FeederScript) -> None:
    """A drive that is started or a reading that leaps: more feed would show at the die."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    leaps(s, FROM, pressure=1.0)


def a_die_shuts(s: FeederScript) -> None:
    """Meanwhile the pressure goes up further than the load, and stays: screws that push against more."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    s.scale("melt_pressure:P1", FROM + 5, LOG_S, 1.45)
    s.scale("torque", FROM + 5, LOG_S, 1.15)


def a_screen_is_slid(s: FeederScript) -> None:
    """Meanwhile half of the screen is shut for 40 s: pressure, and after it some load."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    for at, torque, pressure in ((FROM, 1.02, 1.25), (FROM + 10, 1.05, 1.4), (FROM + 20, 1.1, 1.4)):
        s.scale("melt_pressure:P1", at, at + (10 if at < FROM + 20 else 20), pressure)
        s.scale("torque", at, at + (10 if at < FROM + 20 else 20), torque)


def more_filler(s: FeederScript) -> None:
    """More filler in the melt: it is thicker, the pressure goes further than the load, until the refill ends."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    s.put("feeder_rate:F2", FROM, FROM + 45, SETS["F2"])
    leaps(s, FROM, torque=1.15, pressure=1.45)


def to_the_limit(s: FeederScript, feeder: str = "F2") -> None:
    """For 15 s torque is at the limit of the drive; the drive gives way, and feeds and pressure with it."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill(feeder, FROM, 20, over_s=40)
    at_limit(s, FROM + 10)


def at_limit(s: FeederScript, at_s: float) -> None:
    s.put("torque", at_s, at_s + 20, 105)
    for key in ("screw_speed", "melt_pressure:P1"):
        s.scale(key, at_s + 5, at_s + 60, 0.7)


def at_the_limit_alone(s: FeederScript) -> None:
    """Nothing is filled: a lump."""
    s.even_weight("F1", 900, 0, LOG_S)
    at_limit(s, FROM + 10)


def at_the_limit_again_and_again(s: FeederScript) -> None:
    """Its load leaps every minute and a half, and one of these falls into a refill."""
    to_the_limit(s)
    for k in (1, 2):
        s.put("torque", FROM + 10 - 90 * k, FROM + 30 - 90 * k, 102)


def high_before(s: FeederScript) -> None:
    """Load and pressure have been up for two minutes when the refill comes."""
    s.even_weight("F1", 900, 0, LOG_S)
    s.refill("F2", FROM, 20, over_s=40)
    leaps(s, FROM - 120)
    leaps(s, FROM - 80)
    leaps(s, FROM - 40)
    leaps(s, FROM)


@pytest.mark.parametrize("story", [in_the_hold, nobody_marked, through_a_stopped_feeder, back_in_gravimetric])
def test_speaks(story: Story) -> None:
    finding = only(told_of(calm(), story, Flushing()))

    assert "runs through" in finding.last.summary and finding.last.priority == 2
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 100
    assert finding.last.causes[0].text == "powder aerated by the refill: flushing"


@pytest.mark.parametrize(
    "story",
    [
        emptied_by_hand,
        hand_taken_off,
        overshoot,
        load_leaps_alone,
        two_filled_at_once,
        pressure_stays,
        a_die_shuts,
        a_screen_is_slid,
        high_before,
        at_the_limit_alone,
        at_the_limit_again_and_again,
    ],
)
def test_stays_silent(story: Story) -> None:
    assert told_of(calm(), story, Flushing()) == []


def test_without_weights_the_rate_at_minimum_drive_tells() -> None:
    found = told_of(calm(), back_in_gravimetric, Flushing(), ("feeder_weight",))

    assert "kg/h at 57.0 set" in words(only(found))


def test_without_drives_the_weight_tells() -> None:
    assert told_of(calm(), in_the_hold, Flushing(), ("feeder_drive",))


def test_load_and_pressure_that_leap_while_it_is_filled_tell_what_the_weight_cannot() -> None:
    finding = only(told_of(calm(), while_it_is_filled, Flushing()))

    assert finding.last.channel == "feeder_rate:F2" and "while it is refilled, all feeders on set" in words(finding)
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 40


def test_a_rate_that_is_held_on_set_marks_a_refill_where_nothing_else_does() -> None:
    finding = only(told_of(calm(), while_it_is_filled, Flushing(), ("feeder_weight", "feeder_drive", "feeder_refill")))

    assert finding.last.channel == "feeder_rate:F2" and "while it is refilled, all feeders on set" in words(finding)
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 60


def at_every_refill(s: FeederScript) -> None:
    """Filled every five minutes, and each time powder runs through."""
    s.even_weight("F1", 900, 0, LOG_S)
    for at in range(FROM, FROM + 1800, 300):
        s.refill("F2", at, 20, over_s=40)
        s.put("feeder_rate:F2", at, at + 45, SETS["F2"])
        leaps(s, at)


def test_a_feeder_that_flushes_at_every_refill_is_told_the_first_time_and_once_more_with_how_often() -> None:
    first, second = told_of(calm(), at_every_refill, Flushing())

    assert (seconds(first.last.since) or 0) < FROM + 60 < FROM + 300 <= (seconds(second.last.since) or 0) < FROM + 360
    assert "came back 5 times" in second.last.summary
    assert any(fact.what == "came back" and fact.value == 5 for fact in second.last.evidence)


@pytest.mark.parametrize("plain", [False, True])
def test_more_filler_is_told_when_it_has_gone_back_with_the_refill_and_the_next_time_as_it_comes(plain: bool) -> None:
    """Where only a rate that stands may mark a refill it has to come twice."""
    s = calm()
    more_filler(s)
    s.refill("F2", FROM + 1200, 20, over_s=40)
    s.put("feeder_rate:F2", FROM + 1200, FROM + 1245, SETS["F2"])
    leaps(s, FROM + 1200, torque=1.15, pressure=1.45)
    gone = ("feeder_weight", "feeder_drive", "feeder_refill", "feeder_setpoint") if plain else ()
    *first, second = told_of(s, lambda _: None, Flushing(), gone)

    assert len(first) == (0 if plain else 1)
    assert FROM + 1200 < (seconds(second.first_decided_at) or 0) <= FROM + 1200 + 60
    for finding in (*first, second):
        assert (seconds(finding.first_decided_at) or 0) - (seconds(finding.last.since) or 0) <= 30
        assert finding.last.channel == "feeder_rate:F2" and "while it is refilled" in finding.last.summary
        assert any("no screen and no die" in why for why in finding.last.causes[0].speaks_for)


def test_a_drive_driven_to_its_limit_by_a_refill_tells_though_it_gives_way() -> None:
    finding = only(told_of(calm(), to_the_limit, Flushing()))

    assert finding.last.channel == "feeder_rate:F2" and "load leaps to 10" in finding.last.summary
    assert (seconds(finding.first_decided_at) or 0) <= FROM + 60
    assert any("limit of the drive while it alone was filled" in why for why in finding.last.causes[0].speaks_for)


def test_what_comes_after_a_lack_is_told_with_what_has_cleared_first() -> None:
    finding = only(told_of(calm(), short_before, Flooded()))

    assert finding.last.causes[0].text.endswith("a chute or an intake has cleared")
    assert "until just before" in finding.last.causes[0].speaks_for[0]


def short_before(s: FeederScript) -> None:
    """A throat that stood full clears as a hopper happens to be filled: the load was short for minutes before."""
    while_it_is_filled(s)
    s.scale("torque", FROM - 1200, FROM, 0.8)
    s.scale("melt_pressure:P1", FROM - 1200, FROM, 0.93)


def wound_up(s: FeederScript) -> None:
    """Its drive stood at its limit over an empty hopper until the refill came."""
    while_it_is_filled(s)
    s.put("feeder_drive:F2", FROM - 600, FROM + 20, 100)
    s.scale("feeder_rate:F2", FROM - 600, FROM, 0.05)


@pytest.mark.parametrize("gone", [(), ("feeder_drive",)])
@pytest.mark.parametrize("story", [short_before, wound_up])
def test_what_was_held_back_is_no_powder_that_runs_through(story: Story, gone: tuple[str, ...]) -> None:
    assert told_of(calm(), story, Flushing(), gone) == []


def test_a_rate_that_comes_down_behind_its_set_point_is_no_powder_that_runs_through() -> None:
    """The blender over a flood-fed screw that takes nothing any more: its set-points and drives go down with that, the
    rate shown is a mean over half a minute."""
    s = calm()
    for feeder in SETS:
        s.put(f"feeder_drive:{feeder}", FROM, LOG_S, 0) if feeder != "L4" else None
        s.scale(f"feeder_setpoint:{feeder}", FROM, LOG_S, 0.02)
        rate = s.x[f"feeder_rate:{feeder}"][s.span(FROM, LOG_S)]
        rate *= 0.02 + 0.98 * np.exp(-np.arange(len(rate)) / 15)
    line = changed(without(feeder_line(), "feeder_weight"), line={"kind": "single-screw"})

    assert told(s, Flushing(), line=line, recipe=feeder_recipe()) == []


def shot_after_each(s: FeederScript, held: bool = True) -> None:
    """For some seconds after each of three refills its rate shows three times what is set, the weight falls as steeply;
    in the hold it stands on set, or is driven low by who leans on the hopper to fill it."""
    s.even_weight("F1", 900, 0, LOG_S)
    for at in range(FROM, FROM + 1800, 600):
        s.refill("F2", at, 20, over_s=30)
        s.put("feeder_rate:F2", at, at + 30, SETS["F2"] if held else 0.3 * SETS["F2"])
        s.scale("feeder_rate:F2", at + 30, at + 60, 3.0)
        s.loses("F2", at + 30, at + 42, 40 * SETS["F2"])


def test_what_runs_through_for_seconds_after_each_refill_is_told_the_second_time() -> None:
    found = told_of(calm(), shot_after_each, Flushing())

    assert FROM + 600 < (seconds(found[0].first_decided_at) or 0) <= FROM + 700
    assert any("after the refill before, too" in why for why in found[0].last.causes[0].speaks_for)


def test_a_hand_that_leans_on_the_hopper_at_each_filling_is_no_powder() -> None:
    assert told_of(calm(), lambda s: shot_after_each(s, held=False), Flushing()) == []
