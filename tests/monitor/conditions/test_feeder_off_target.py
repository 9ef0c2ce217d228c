"""A feeder off its set-point by a few percent; refills, dips and moved set-points are not."""

from __future__ import annotations

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
    """Five minutes of filling by hand, marked: the rate shown means nothing."""
    s.put("feeder_refill:F2", FROM, FROM + 300, 1)
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
