"""A feeder off its set-point by a few percent; refills, dips and moved set-points are not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.feeder_off_target import FeederOffTarget
from tests.monitor.conditions.told import Story, only, seconds, told, twin
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 3000, 900, 1800


def off_by(feeder: str, percent: float) -> Story:
    def story(s: Script) -> None:
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 1 + percent / 100)

    story.__name__ = f"{feeder}_{percent:+g}"
    return story


def refill_overshoot(s: Script) -> None:
    """Rate a tenth high in the hold and for a minute and a half after it, and nothing marks the refill."""
    s.scale("feeder_rate:F2", FROM, FROM + 60, 1.08)


def long_refill(s: Script) -> None:
    """Five minutes of filling by hand, marked and weighed: the rate shown means nothing."""
    s.put("feeder_refill:F2", FROM, FROM + 300, 1)
    s.put("feeder_weight:F2", FROM, FROM + 300, 60.0, slope_s=0.1)
    s.scale("feeder_rate:F2", FROM, FROM + 325, 0.9)


def catch_sample(s: Script) -> None:
    s.scale("feeder_rate:F2", FROM, FROM + 15, 0.7)


def set_point_moved(s: Script) -> None:
    s.scale("feeder_setpoint:F2", FROM, LOG_S, 1.1)
    s.scale("feeder_rate:F2", FROM, LOG_S, 1.1)


def nothing_comes(s: Script) -> None:
    """Half gone and more: bridged, empty or tripped, which other conditions say."""
    s.scale("feeder_rate:F2", FROM, TO, 0.3)


@pytest.mark.parametrize(
    ("story", "word", "priority"),
    [
        (off_by("F2", -6), "6.", 3),
        (off_by("F2", 6), "above its set-point", 3),
        (off_by("F2", -15), "below its set-point", 2),
        (off_by("F3", -8), "below its set-point", 3),
    ],
)
def test_speaks(story: Story, word: str, priority: int) -> None:
    s = twin(LOG_S)
    story(s)

    finding = only(told(s, FeederOffTarget()))

    assert word in finding.last.summary and finding.last.priority == priority
    assert FROM < (seconds(finding.first_decided_at) or 0) <= FROM + 360


@pytest.mark.parametrize(
    "story",
    [off_by("F2", -2), off_by("F3", 4), refill_overshoot, long_refill, catch_sample, set_point_moved, nothing_comes],
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, FeederOffTarget()) == []


def test_the_drive_near_its_limit_says_why() -> None:
    s = twin(LOG_S)
    off_by("F2", -8)(s)
    s.put("feeder_drive:F2", FROM, TO, 97)

    assert "drive near its limit" in only(told(s, FeederOffTarget())).last.cause_texts[0]


def test_a_refill_mark_stuck_at_zero_hides_no_refill() -> None:
    """Five minutes of filling by hand, the mark at 0 all day: the weight shows it."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        s.put(f"feeder_refill:{feeder}", 0, LOG_S, 0)
    weight = s.x["feeder_weight:F2"]
    part = s.span(FROM, FROM + 300)
    weight[part] += np.linspace(0, 25, len(weight[part]))
    weight[s.span(FROM + 300, LOG_S)] += 25
    s.scale("feeder_rate:F2", FROM + 10, FROM + 320, 0.9)

    assert told(s, FeederOffTarget()) == []


def test_whole_numbers_may_be_half_a_unit_off() -> None:
    """3.3 kg/h wanted, 3 logged: a tenth of nothing. 3.3 wanted and 2 logged is something."""
    rounded, low = twin(LOG_S), twin(LOG_S)
    for s, rate in ((rounded, 3.0), (low, 2.0)):
        s.put("feeder_setpoint:F3", 0, LOG_S, 3.3)
        s.put("feeder_rate:F3", 0, LOG_S, rate)

    assert told(rounded, FeederOffTarget()) == []
    assert "F3" in only(told(low, FeederOffTarget())).last.summary


@pytest.mark.parametrize(("drive", "first"), [(97, "bridging or low bulk density"), (40, "controller tuning")])
def test_room_left_in_the_drive_speaks_against_a_bridge(drive: float, first: str) -> None:
    s = twin(LOG_S)
    off_by("F2", -8)(s)
    s.put("feeder_drive:F2", FROM, TO, drive)
    causes = only(told(s, FeederOffTarget())).last.causes

    assert causes[0].text.startswith(first)
    assert any("room left" in text for cause in causes for text in cause.speaks_against) == (drive < 90)


def test_all_feeders_over_one_throat_below_set_point_at_the_throat() -> None:
    """What several feeders do at once is done to them by the chute they stand over."""
    s = twin(LOG_S)
    for feeder in ("F1", "F2", "F3"):
        off_by(feeder, -8)(s)
    together = {f.last.channel: f.last.causes[0].text for f in told(s, FeederOffTarget())}
    s = twin(LOG_S)
    off_by("F2", -8)(s)
    alone = only(told(s, FeederOffTarget())).last.causes

    assert set(together.values()) == {"chute or throat stands full: path blocked or intake flooded"}
    assert all("chute" not in cause.text for cause in alone)


@pytest.mark.parametrize("most", [0.7, 1.3])
@pytest.mark.parametrize("follows", [True, False])
def test_a_set_point_that_is_led_along_is_followed_a_minute_later(most: float, follows: bool) -> None:
    """The level of a throat hopper or the speed of a screw moves it, in steps of two percent."""
    s = twin(LOG_S)
    at = np.arange(s.n) * s.cadence
    s.x["feeder_setpoint:F2"] *= np.interp(at // 10 * 10, (FROM, FROM + 150), (1.0, most))
    if follows:
        s.x["feeder_rate:F2"] *= np.interp(at - 75, (FROM, FROM + 150), (1.0, most))

    assert bool(told(s, FeederOffTarget())) is not follows


def test_too_little_after_far_too_much_is_a_controller_that_has_turned_its_feeder_down() -> None:
    s = twin(LOG_S)
    s.put("feeder_refill:F2", FROM - 60, FROM, 1)
    s.scale("feeder_rate:F2", FROM - 30, FROM, 2.5)
    s.scale("feeder_rate:F2", FROM, FROM + 280, 0.93)
    found = only(told(s, FeederOffTarget())).last

    assert "below its set-point" in found.summary
    assert found.causes[0].text.startswith("its controller has turned it down")
    assert "flushing" in found.causes[0].shown_by
