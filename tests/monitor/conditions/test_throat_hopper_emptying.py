"""The hopper over a flood-fed throat whose loader brings nothing."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.throat_hopper_emptying import ThroatHopperEmptying
from monitor.records import Finding
from tests.monitor.conditions.told import SINGLE, only, seconds, told
from tests.monitor.scripted_world import Script, scripted_recipe
from tests.monitor.world_fill import HOPPER, loaded, with_hopper

LOG_S, FROM = 7200, 5000


def story(until_s: float = LOG_S, empty_in_s: float = 1200.0) -> Script:
    s = Script(with_hopper(SINGLE), LOG_S, 3)
    loaded(s, until_s, empty_in_s)
    return s


def said(s: Script) -> list[Finding]:
    return told(s, ThroatHopperEmptying(), line=with_hopper(SINGLE), recipe=scripted_recipe("single-screw"))


def test_a_loader_at_work_is_not_one_that_stopped() -> None:
    assert said(story()) == []


def test_it_is_said_minutes_before_it_is_empty_and_how_long_it_lasts() -> None:
    first = only(said(story(FROM)))
    decided = seconds(first.first_decided_at) or 0

    assert FROM < decided < FROM + 420, "a tenth under its lowest within three minutes of 20"
    left = next(e.value for e in first.last.evidence if e.what == "time to empty")
    assert left is not None and left >= 0
    assert first.last.priority == 2 and first.last.until is None


def test_a_slow_fall_leaves_time_and_is_looked_at_this_shift() -> None:
    found = only(said(story(FROM, 3300))).last

    assert found.priority == 3 and "empty in" in found.summary


def test_it_ends_when_the_loader_brings_again() -> None:
    s = story(FROM)
    part = s.span(FROM + 900, LOG_S)
    s.x[HOPPER][part] = 80.0

    assert (seconds(only(said(s)).last.until or 0) or 0) == pytest.approx(FROM + 900, abs=180)


def test_what_was_never_seen_full_says_nothing() -> None:
    s = story(FROM)
    s.x[HOPPER][: s.span(0, FROM - 600).stop] = np.nan

    assert said(s) == []


def test_what_stood_full_before_the_line_ran_is_no_level_it_usually_gets_to() -> None:
    """At 95 % through an hour of standing; then the loader calls at 70 %, as it always does."""
    s = story()
    for key in ("screw_speed", "torque", "line_rate"):
        s.put(key, 0, 3600, 0.0)
    s.x[HOPPER][: s.span(0, 3600).stop] = 95.0

    assert said(s) == []
