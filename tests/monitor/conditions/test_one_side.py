"""A finding keeps the side it began with; what a controller does while it comes back is told as that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor import one_side
from monitor.conditions.feeder_off_target import FeederOffTarget
from monitor.conditions.feeder_stopped import FeederBridged
from monitor.conditions.flushing import Flushing
from monitor.contract import DISARMED
from monitor.records import Finding
from tests.monitor.conditions.feeder_stories import FROM, calm
from tests.monitor.conditions.told import only, seconds, told, without
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe

SHORT_S, OVER_S = 900, 120


def short_then_over(s: FeederScript, over: float = 1.5) -> None:
    """A quarter missing for a quarter of an hour, the drive climbing; then half too much while it comes down."""
    back = FROM + SHORT_S
    s.scale("feeder_rate:F2", FROM, back, 0.75)
    s.put("feeder_drive:F2", FROM, back, 95)
    s.scale("feeder_rate:F2", back, back + OVER_S, over)


def off_target(drive: bool = True) -> list[Finding]:
    s = calm()
    short_then_over(s)
    line = feeder_line() if drive else without(feeder_line(), "feeder_drive")
    return [f for f in told(s, FeederOffTarget(), line=line, recipe=feeder_recipe()) if "F2" in f.last.channel]


@pytest.mark.parametrize("drive", [True, False])
def test_a_shortage_that_ends_in_an_overshoot_stays_a_shortage(drive: bool) -> None:
    short, over = off_target(drive)

    assert "below its set-point" in short.last.summary and "above its set-point" in over.last.summary
    end = seconds(short.last.until) or 0
    assert FROM + SHORT_S <= end <= FROM + SHORT_S + 60 and (seconds(over.last.since) or 0) >= end


def test_an_overshoot_just_after_a_shortage_is_the_controller_and_not_urgent() -> None:
    _, over = off_target()

    assert "comes down" in over.last.cause_texts[0] and over.last.priority == 3


def test_too_much_with_nothing_before_it_is_flushing_first_and_urgent() -> None:
    s = calm()
    s.scale("feeder_rate:F2", FROM, FROM + 300, 1.5)
    last = only(told(s, FeederOffTarget(), recipe=feeder_recipe())).last

    assert last.cause_texts[0] == "powder flushing" and last.priority == 2


def test_a_large_shortage_without_a_drive_in_the_log_is_no_matter_of_tuning() -> None:
    short, _ = off_target(drive=False)

    assert "bridging" in short.last.cause_texts[0]


def weight_falls_as_the_drive_turns(s: FeederScript, drive: float) -> None:
    """A refill, then half as much again and more out of the hopper, at this drive."""
    s.refill("F2", FROM, 20)
    usual = float(np.median(s.x["feeder_drive:F2"]))
    s.loses("F2", FROM + 60, FROM + 150, 1.2 * SETS["F2"])
    s.put("feeder_drive:F2", FROM + 60, FROM + 150, drive * usual)
    s.scale("feeder_rate:F2", FROM + 60, FROM + 150, 2.2)


def test_what_the_drive_accounts_for_is_no_flushing() -> None:
    """The weight falls at 2.2 times the set rate: at 2.2 times the drive that is feeding, at the usual one powder."""
    turned, ran = calm(), calm()
    weight_falls_as_the_drive_turns(turned, 2.2)
    weight_falls_as_the_drive_turns(ran, 1.0)

    assert told(turned, Flushing(), recipe=feeder_recipe()) == []
    assert "runs through" in only(told(ran, Flushing(), recipe=feeder_recipe())).last.summary


def test_an_undershoot_after_too_much_is_no_bridge_but_one_that_stays_is() -> None:
    def said(low_s: float) -> list[Finding]:
        s = calm()
        s.scale("feeder_rate:F2", FROM, FROM + 180, 1.8)
        s.scale("feeder_rate:F2", FROM + 180, FROM + 180 + low_s, 0.4)
        s.put("feeder_drive:F2", FROM, FROM + 180 + low_s, 12)
        line = without(feeder_line(), "feeder_drive")
        return told(s, FeederBridged(), line=line, recipe=feeder_recipe())

    assert said(50) == []
    assert (seconds(only(said(600)).first_decided_at) or 0) <= FROM + 180 + 120


def test_the_first_cell_on_the_other_side_ends_it_whatever_the_cut() -> None:
    level = np.array([[0, 1, 1, 0, 1, 1, 0, 0, 0, 1]], np.int8)
    value = np.array([[0.0, -5, -5, 0, 7, 7, 0, 0, 0, -5]])
    whole, after = one_side.one_side(one_side.start(1), level, value, 3)
    state, parts = one_side.start(1), []
    for cell in range(level.shape[1]):
        part, state = one_side.one_side(state, level[:, [cell]], value[:, [cell]], 3)
        parts.append(part)

    assert whole.tolist() == [[0, 1, 1, 0, DISARMED, 1, 0, 0, 0, 1]], "a side that has been clear for long is forgotten"
    assert np.array_equal(np.concatenate(parts, axis=1), whole)
    assert all(np.array_equal(state[name], after[name]) for name in after)
