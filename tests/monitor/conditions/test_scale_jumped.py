"""A scale that jumps: the rate leaves its set-point for a minute, the load steps the other way and stays."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.scale_jumped import ScaleJumped
from monitor.records import Finding
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, told_of, undisturbed
from tests.monitor.conditions.told import only, seconds, told, words
from tests.monitor.world_feeders import SETS, FeederScript, feeder_recipe
from tests.monitor.world_lots import jump

AFTER = FROM + 1800


def quiet(seed: int = 31, cadence_s: float = 1.0) -> FeederScript:
    """No refill of the feeder that is to jump."""
    s = calm(seed=seed, cadence_s=cadence_s)
    s.even_weight("F1", 900, 0, LOG_S)
    return s


def machine(s: FeederScript, torque: float, pressure: float, start: float = FROM, end: float = LOG_S) -> None:
    s.scale("torque", start + 15, end, torque)
    s.scale("melt_pressure:P1", start + 20, end, pressure)


def shows_too_little(s: FeederScript) -> None:
    jump(s, "F1", -0.1, FROM)
    machine(s, 1.07, 1.03)


def shows_too_much(s: FeederScript) -> None:
    jump(s, "F1", 0.1, FROM)
    machine(s, 0.93, 0.97)


def zones_move(s: FeederScript) -> None:
    """A wiggle of the main rate as any, while the zones go 6 C up by a new set: the load falls by what that does."""
    jump(s, "F1", 0.07, FROM)
    machine(s, 0.955, 0.965)
    part = s.span(FROM - 240, LOG_S)
    for key in [key for key in s.x if key.startswith("zone_temperature:")]:
        s.x[key][part] += 6 * np.minimum(np.arange(len(s.x[key][part])) * s.cadence / 480, 1)


def zones_stand(s: FeederScript) -> None:
    zones_move(s)
    for key in [key for key in s.x if key.startswith("zone_temperature:")]:
        s.x[key][:] = s.x[key][0]


def oil_shows_too_much(s: FeederScript) -> None:
    """Less oil than is shown: torque rises."""
    jump(s, "L4", 0.3, FROM)
    machine(s, 1.04, 1.01)


def a_little_less_filler(s: FeederScript) -> None:
    """Two per cent of pressure and no torque to speak of, a quarter of an hour ago and still."""
    jump(s, "F2", 0.06, FROM)
    machine(s, 0.998, 0.98)


def a_little_less_filler_for_a_while(s: FeederScript) -> None:
    jump(s, "F2", 0.06, FROM)
    machine(s, 0.998, 0.98, FROM, AFTER)
    jump(s, "F2", -0.06, at=AFTER)


def pressure_creeps(s: FeederScript) -> None:
    """As far, but over the hour: the screen fills, and the jump has nothing to do with it."""
    jump(s, "F2", 0.06, FROM)
    pressure = s.x["melt_pressure:P1"]
    pressure *= 1 - 0.12 * np.arange(len(pressure)) / len(pressure)


def held_before(s: FeederScript) -> None:
    """The rate was held on set, as in a refill that nothing marks: what comes then may be another lot."""
    s.put("feeder_rate:F2", FROM - 60, FROM, SETS["F2"])
    a_little_less_filler(s)


def left_held(s: FeederScript) -> None:
    """It is calculated from then on, and not weighed."""
    a_little_less_filler(s)
    s.put("feeder_rate:F2", FROM + 200, LOG_S, SETS["F2"])


def screen_torn(s: FeederScript) -> None:
    """Most of the feed jumps by chance, and no torque goes with it: the pressure is of another make."""
    jump(s, "F1", 0.06, FROM)
    machine(s, 0.998, 0.93)


def no_jump(s: FeederScript) -> None:
    machine(s, 0.998, 0.98)


def back_soon(s: FeederScript) -> None:
    """The pressure comes back after three minutes."""
    jump(s, "F2", 0.06, FROM)
    machine(s, 0.998, 0.98, FROM, FROM + 180)


def repaired(s: FeederScript) -> None:
    """The hopper is freed after half an hour: rate and load go back the other way."""
    jump(s, "F1", -0.1, FROM)
    machine(s, 1.07, 1.03, FROM, AFTER)
    jump(s, "F1", 0.1, at=AFTER)


def feed_dips(s: FeederScript) -> None:
    """Less really comes, for a while: the load goes with the rate."""
    jump(s, "F1", -0.1, FROM)
    machine(s, 0.94, 0.98)


def hand_on_the_scale(s: FeederScript) -> None:
    """It reads low as long as the hand is there and as much too high after: the load comes back."""
    jump(s, "F1", -0.1, FROM)
    jump(s, "F1", 0.1, at=FROM + 60)
    machine(s, 1.07, 1.03, FROM, FROM + 60)


def catch_sample(s: FeederScript) -> None:
    """The rate swings with a refill, and what is caught for a minute never comes."""
    jump(s, "F1", 0.05, FROM)
    machine(s, 0.9, 0.93, FROM + 60, FROM + 125)


def trimmed(s: FeederScript) -> None:
    """All set-points go down by 3 % within two minutes, and the rates follow."""
    for feeder in ("F1", "F2", "F3", "L4"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM + 60, LOG_S, 0.97)
    jump(s, "F1", 0.05, FROM)
    machine(s, 0.96, 0.98, FROM + 60)


def trimmed_untold(s: FeederScript) -> None:
    """As before, but no set-point tells of it."""
    for feeder in ("F1", "F2", "F3", "L4"):
        s.scale(f"feeder_rate:{feeder}", FROM + 60, LOG_S, 0.983)
    jump(s, "F1", 0.05, FROM)
    machine(s, 0.96, 0.98, FROM + 60)


def back_to_usual(s: FeederScript) -> None:
    """Torque was up for some minutes before and goes back."""
    jump(s, "F1", 0.05, FROM)
    machine(s, 1.06, 1.03, FROM - 420, FROM)


def other_lot(s: FeederScript) -> None:
    """Thicker melt and a rate that holds."""
    machine(s, 1.07, 1.06)


def pressure_other_way(s: FeederScript) -> None:
    jump(s, "F1", -0.1, FROM)
    machine(s, 1.07, 0.9)


def small_ingredient(s: FeederScript) -> None:
    """2 % of the feed make no 7 % of torque."""
    jump(s, "L4", 0.03, FROM)
    machine(s, 1.07, 1.03)


def speed_set_up(s: FeederScript) -> None:
    jump(s, "F1", -0.1, FROM)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, FROM, LOG_S, 1.08)
    machine(s, 1.05, 1.03)


def refilled(s: FeederScript) -> None:
    """Rates swing after a refill, and the new material is stiffer."""
    s.refill("F1", FROM - 60, 30)
    jump(s, "F1", -0.1, at=FROM - 50, fades_s=20)
    machine(s, 1.07, 1.03, FROM - 50)


def found(story: Story, cadence_s: float = 1.0, seed: int = 31) -> list[Finding]:
    """What is said of a story."""
    return told_of(quiet(seed, cadence_s), story, ScaleJumped())


@pytest.mark.parametrize("cadence_s", [1.0, 5.0])
@pytest.mark.parametrize(
    ("story", "said"),
    [
        (shows_too_little, "its scale shows too little, more is fed"),
        (shows_too_much, "its scale shows too much, less is fed"),
        (oil_shows_too_much, "its scale shows too much, less is fed"),
    ],
)
def test_speaks_within_minutes(story: Story, said: str, cadence_s: float) -> None:
    finding = only(found(story, cadence_s))

    assert said in finding.last.summary and finding.last.confidence == "medium"
    assert "catch sample" in finding.last.checks[0] and "span of the load cell" in words(finding)
    assert (finding.first_decided_at - finding.last.since) / 1e9 <= 150


@pytest.mark.parametrize("cadence_s", [1.0, 5.0])
def test_what_is_too_small_for_torque_is_told_by_minutes_of_pressure(cadence_s: float) -> None:
    finding = only(found(a_little_less_filler, cadence_s))

    assert (
        finding.last.channel == "feeder_rate:F2" and FROM + 300 < (seconds(finding.first_decided_at) or 0) < FROM + 720
    )
    assert "pressure went -2 % and stayed: its scale shows too much, less is fed" in finding.last.summary


@pytest.mark.parametrize(
    ("story", "said"), [(repaired, "shows too little"), (a_little_less_filler_for_a_while, "shows too much")]
)
def test_ends_when_the_scale_is_freed_and_says_nothing_new(story: Story, said: str) -> None:
    last = only(found(story)).last

    assert last.until is not None and said in last.summary


def slide_shut_again(s: FeederScript, left: float = 1.0) -> None:
    """A refill slide has passed for half an hour, unnoticed as it began, and is shut while all runs."""
    machine(s, 1.07, 1.03, FROM, AFTER)
    jump(s, "F1", 0.1, at=AFTER)
    machine(s, left, left, AFTER)


def long_quiet() -> FeederScript:
    s = calm(seconds=LOG_S + 1800)
    s.even_weight("F1", 900, 0, LOG_S + 1800)
    return s


def test_a_scale_that_is_right_again_is_told_as_an_end_and_not_for_long() -> None:
    last = only(told_of(long_quiet(), slide_shut_again, ScaleJumped())).last

    assert "right again" in last.summary and last.priority == 3
    assert last.causes[0].text.startswith("its scale showed wrong until now")
    assert (seconds(last.since) or 0) > AFTER and (seconds(last.until) or 1e9) <= AFTER + 1500


def test_a_load_that_goes_on_below_where_it_was_has_not_gone_back() -> None:
    last = only(told_of(long_quiet(), lambda s: slide_shut_again(s, 0.9), ScaleJumped())).last

    assert "its scale shows too much, less is fed" in last.summary and last.priority == 2


@pytest.mark.parametrize(
    "story",
    [
        feed_dips,
        hand_on_the_scale,
        catch_sample,
        trimmed,
        trimmed_untold,
        back_to_usual,
        other_lot,
        pressure_other_way,
        small_ingredient,
        speed_set_up,
        refilled,
        pressure_creeps,
        held_before,
        left_held,
        no_jump,
        screen_torn,
        back_soon,
    ],
)
def test_stays_silent(story: Story) -> None:
    assert found(story) == []


@pytest.mark.parametrize(("usual", "said"), [(0.12, 0), (0.04, 1)])
def test_a_rate_that_comes_back_as_far_after_each_of_its_refills_has_not_jumped(usual: float, said: int) -> None:
    """The logged rate goes on through a refill nobody marks, and rises each time before its controller has it again."""
    s = quiet()
    for at in range(300, FROM - 300, 600):
        jump(s, "F1", usual, at=at)
    shows_too_much(s)

    assert len(told(s, ScaleJumped(), recipe=feeder_recipe())) == said


@pytest.mark.parametrize("seed", range(4))
def test_plain_running_says_nothing(seed: int) -> None:
    assert found(undisturbed, seed=seed) == []


def test_a_load_that_goes_with_the_zones_is_left_to_them() -> None:
    assert only(found(zones_stand)).last.channel == "feeder_rate:F1"
    assert found(zones_move) == []
