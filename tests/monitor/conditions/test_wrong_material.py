"""Another material after a refill; a new lot, a lying scale and moves without a refill are not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.wrong_material import WrongMaterial
from tests.monitor.conditions.feeder_stories import FROM, LOG_S, Story, calm, rate_changed, small_new_lot
from tests.monitor.conditions.told import changed, only, seconds, told, without, words
from tests.monitor.world_feeders import FeederScript, feeder_line, feeder_recipe


def wrong_bag(s: FeederScript) -> None:
    """A denser filler: a seventh less drive from half a minute after the refill, torque up two minutes later."""
    s.refill("F2", FROM, 25)
    s.scale("feeder_drive:F2", FROM + 40, LOG_S, 0.86)
    s.scale("torque", FROM + 130, LOG_S, 1.06)
    s.scale("melt_pressure:P1", FROM + 130, LOG_S, 1.05)


def wrong_bag_unmarked(s: FeederScript) -> None:
    wrong_bag(s)
    s.put("feeder_refill:F2", 0, LOG_S, 0)


def thinner_polymer(s: FeederScript) -> None:
    """Base of another melt flow: pressure alone, and the granules pack worse."""
    s.even_weight("F1", 400, 0, LOG_S)
    s.refill("F1", FROM, 60)
    s.scale("feeder_drive:F1", FROM + 40, LOG_S, 1.1)
    s.scale("melt_pressure:P1", FROM + 130, LOG_S, 0.85)
    s.scale("torque", FROM + 130, LOG_S, 0.93)


def no_refill(s: FeederScript) -> None:
    s.scale("feeder_drive:F2", FROM, LOG_S, 0.86)
    s.scale("torque", FROM + 130, LOG_S, 1.06)


def machine_stays(s: FeederScript) -> None:
    s.refill("F2", FROM, 25)
    s.scale("feeder_drive:F2", FROM + 40, LOG_S, 0.86)


def drive_stays(s: FeederScript) -> None:
    s.refill("F2", FROM, 25)
    s.scale("torque", FROM + 130, LOG_S, 1.06)


def all_feeders(s: FeederScript) -> None:
    """Something common: a supply, not a bag."""
    s.refill("F2", FROM, 25)
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_drive:{feeder}", FROM + 40, LOG_S, 0.88)
    s.scale("torque", FROM + 130, LOG_S, 1.06)


def rate_off(s: FeederScript) -> None:
    wrong_bag(s)
    s.scale("feeder_rate:F2", FROM + 40, LOG_S, 1.08)


def mixed_bag(s: FeederScript) -> None:
    """It mixes with what was left in the hopper, and comes over five minutes."""
    s.refill("F2", FROM, 25)
    at = np.arange(s.n) * s.cadence
    s.x["feeder_drive:F2"] *= np.interp(at, [FROM + 40, FROM + 340], [1.0, 0.84])
    s.x["torque"] *= np.interp(at, [FROM + 130, FROM + 430], [1.0, 1.08])


def load_goes_first(s: FeederScript) -> None:
    """A screen or another feeder fails by chance two minutes after a refill; regrind wanders three minutes later."""
    s.refill("F2", FROM, 25)
    s.scale("torque", FROM + 120, LOG_S, 0.94)
    s.scale("melt_pressure:P1", FROM + 120, LOG_S, 0.85)
    s.scale("feeder_drive:F2", FROM + 420, LOG_S, 0.86)


def led_set_point(s: FeederScript) -> None:
    """Some minutes after a refill the set-point is led up, the drive ahead of it, and the load goes down."""
    s.refill("F2", FROM, 25)
    at = np.arange(s.n) * s.cadence
    for key in ("feeder_setpoint:F2", "feeder_rate:F2"):
        s.x[key] *= np.interp(at, [FROM + 300, FROM + 420], [1.0, 1.06])
    s.x["feeder_drive:F2"] *= np.interp(at, [FROM + 240, FROM + 300, FROM + 480, FROM + 600], [1.0, 1.17, 1.17, 1.06])
    s.scale("torque", FROM + 360, LOG_S, 0.94)


@pytest.mark.parametrize("story", [wrong_bag, wrong_bag_unmarked, thinner_polymer, mixed_bag])
def test_speaks(story: Story) -> None:
    s = calm()
    story(s)
    finding = only(told(s, WrongMaterial(), recipe=feeder_recipe()))

    assert finding.last.causes[0].text == "wrong material in this hopper"
    assert FROM + 130 < (seconds(finding.first_decided_at) or 0) <= FROM + 460


@pytest.mark.parametrize(
    "story",
    [
        no_refill,
        machine_stays,
        drive_stays,
        all_feeders,
        rate_off,
        load_goes_first,
        led_set_point,
        small_new_lot,
        rate_changed,
    ],
)
def test_stays_silent(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, WrongMaterial(), recipe=feeder_recipe()) == []


@pytest.mark.parametrize(("feed", "said"), [("starved", 0), ("flooded", 1)])
def test_what_a_lying_scale_explains_as_well_is_left_to_it(feed: str, said: int) -> None:
    """More drive on three quarters of the feed, torque up as much, pressure a third: over-fed. A flood-fed screw takes
    no more for it."""
    s = calm()
    s.even_weight("F1", 400, 0, LOG_S)
    s.refill("F1", FROM, 60)
    s.scale("feeder_drive:F1", FROM + 40, LOG_S, 1.12)
    s.scale("torque", FROM + 60, LOG_S, 1.08)
    s.scale("melt_pressure:P1", FROM + 60, LOG_S, 1.03)

    line = changed(feeder_line(), line={"feed": feed})
    assert len(told(s, WrongMaterial(), line=line, recipe=feeder_recipe())) == said


@pytest.mark.parametrize("role", ["torque", "melt_pressure"])
def test_torque_or_pressure_alone_is_enough(role: str) -> None:
    s = calm()
    wrong_bag(s)

    assert "feed factor" in words(
        only(told(s, WrongMaterial(), line=without(feeder_line(), role), recipe=feeder_recipe()))
    )


def test_the_next_refill_does_not_end_what_was_found() -> None:
    """Four minutes of filling: nothing is known of the feed factor meanwhile."""
    s = calm()
    wrong_bag(s)
    s.refill("F2", FROM + 900, 40, over_s=240)

    finding = only(told(s, WrongMaterial(), recipe=feeder_recipe()))

    assert finding.last.kind != "closed"


def screen_tears_after_a_refill(s: FeederScript) -> None:
    """Its drive has moved with its set-point since, and a quarter of the pressure is gone."""
    s.refill("F2", FROM, 25)
    s.scale("feeder_drive:F2", FROM + 40, LOG_S, 0.86)
    s.scale("torque", FROM + 130, LOG_S, 1.02)
    s.scale("melt_pressure:P1", FROM + 130, LOG_S, 0.74)


def refilled_after_a_trip(s: FeederScript) -> None:
    """It stood empty for ten minutes; filled, its load comes back."""
    for role in ("rate", "drive"):
        s.put(f"feeder_{role}:F2", FROM - 700, FROM - 100, 0.0)
    s.scale("torque", FROM - 700, FROM + 60, 0.88)
    s.scale("melt_pressure:P1", FROM - 700, FROM + 60, 0.92)
    s.refill("F2", FROM, 25)
    s.scale("feeder_drive:F2", FROM + 40, LOG_S, 0.92)


@pytest.mark.parametrize("story", [screen_tears_after_a_refill, refilled_after_a_trip])
def test_what_another_fault_did_to_load_and_pressure_is_no_other_bag(story: Story) -> None:
    s = calm()
    story(s)

    assert told(s, WrongMaterial(), line=feeder_line(), recipe=feeder_recipe()) == []
