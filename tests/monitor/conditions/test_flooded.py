"""Flooded: over-fed, intake-limited or torque-limited, and told from thick melt, restriction and a blocked path."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.flooded import Flooded
from tests.monitor.conditions.told import Story, only, seconds, single, told, twin, words
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO = 3600, 1500, 2400


def flushing(s: Script) -> None:
    """Powder flushes through a feeder in its refill hold: rates read on set, torque jumps, pressure a third as much."""
    s.scale("torque", FROM, TO, 1.25)
    s.scale("melt_pressure:P1", FROM + 5, TO, 1.08)


def rates_above_set(s: Script) -> None:
    for feeder in ("F1", "F2", "F3"):
        s.scale(f"feeder_rate:{feeder}", FROM, TO, 1.15)
    s.scale("torque", FROM + 5, TO, 1.13)
    s.scale("melt_pressure:P1", FROM + 10, TO, 1.05)


def rate_raised_and_not_taken(s: Script) -> None:
    """The rate goes up by 8 %; torque falls by 6 % instead of rising."""
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.08)
    s.scale("torque", FROM + 10, LOG_S, 0.94)


def fluffy_lot(s: Script) -> None:
    """Bulk density falls: the main feeder turns a fifth faster for its rate, and the screws take less."""
    s.scale("feeder_drive:F1", FROM, TO, 1.2)
    s.scale("torque", FROM + 60, TO, 0.85)
    s.scale("melt_pressure:P1", FROM + 70, TO, 0.95)


def at_the_torque_limit(s: Script) -> None:
    """Torque climbs to its limit within forty minutes, at full rate."""
    part = s.span(600, 3000)
    s.x["torque"][part] = np.linspace(60, 96, len(s.x["torque"][part]))
    s.put("torque", 3000, LOG_S, 96.0)


def thick_melt(s: Script) -> None:
    s.scale("torque", FROM, TO, 1.2)
    s.scale("melt_pressure:P1", FROM, TO, 1.3)


def restriction(s: Script) -> None:
    s.scale("melt_pressure:P1", FROM, TO, 1.4)
    s.scale("torque", FROM + 30, TO, 1.05)


def path_blocked(s: Script) -> None:
    s.scale("torque", FROM, TO, 0.68)
    s.scale("melt_pressure:P1", FROM + 10, TO, 0.87)


def rate_raised_and_taken(s: Script) -> None:
    for feeder in ("F1", "F2", "F3"):
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.08)
    s.scale("torque", FROM + 10, LOG_S, 1.07)
    s.scale("melt_pressure:P1", FROM + 15, LOG_S, 1.03)


def slow_rise(s: Script) -> None:
    """The melt grows colder over half an hour: torque and pressure rise, nothing is over-fed."""
    for key, share in (("torque", 0.2), ("melt_pressure:P1", 0.1)):
        part = s.span(FROM, LOG_S)
        n = len(s.x[key][part])
        s.x[key][part] *= [1 + share * i / n for i in range(n)]


def more_drive_and_all_taken(s: Script) -> None:
    """A light lot alone: the feeder turns faster, the screws take everything."""
    s.scale("feeder_drive:F1", FROM, TO, 1.2)


SPEAKS = [
    (flushing, "over-fed: torque up"),
    (rates_above_set, "over-fed"),
    (rate_raised_and_not_taken, "rate over speed was raised came first"),
    (fluffy_lot, "bulk density or feed factor down came first"),
    (at_the_torque_limit, "torque-limited: torque 9"),
]


@pytest.mark.parametrize(("story", "word"), SPEAKS, ids=lambda value: getattr(value, "__name__", ""))
def test_speaks(story: Story, word: str) -> None:
    s = twin(LOG_S)
    story(s)

    finding = told(s, Flooded())[0]

    assert word in words(finding), words(finding)
    begins = 2700 if story is at_the_torque_limit else FROM
    assert begins <= (seconds(finding.last.since) or 0) <= begins + 400


@pytest.mark.parametrize(
    "story", [thick_melt, restriction, path_blocked, rate_raised_and_taken, slow_rise, more_drive_and_all_taken]
)
def test_stays_silent(story: Story) -> None:
    s = twin(LOG_S)
    story(s)

    assert told(s, Flooded()) == []


def test_a_flood_fed_screw_is_always_full() -> None:
    s = single(LOG_S)
    s.put("torque", FROM, TO, 96.0)
    s.scale("line_rate", FROM, TO, 1.2)

    assert told(s, Flooded()) == []


def test_it_ends_when_the_rate_is_taken_again() -> None:
    s = twin(LOG_S)
    flushing(s)

    assert TO <= (seconds(only(told(s, Flooded())).last.until) or 0) <= TO + 30
