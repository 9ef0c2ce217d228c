"""A feeder left in volumetric; a refill by hand is not that."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.volumetric_too_long import VolumetricTooLong
from tests.monitor.conditions.feeder_stories import (
    FROM,
    LOG_S,
    Story,
    all_filled_at_once,
    calm,
    told_of,
    undisturbed,
)
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.world_feeders import SETS, FeederScript, feeder_recipe


def test_speaks_after_five_minutes() -> None:
    s = calm()
    s.put("feeder_gravimetric:F2", FROM, FROM + 900, 0)
    s.put("feeder_rate:F2", FROM, FROM + 900, SETS["F2"])
    finding = only(told(s, VolumetricTooLong(), recipe=feeder_recipe()))

    assert (seconds(finding.first_decided_at) or 0) == FROM + 300
    assert "to the digit" in finding.last.causes[0].speaks_for[0]


def test_four_minutes_or_a_refill_by_hand_are_usual() -> None:
    s = calm()
    s.put("feeder_gravimetric:F2", FROM - 900, FROM - 660, 0)
    all_filled_at_once(s)

    assert told(s, VolumetricTooLong(), recipe=feeder_recipe()) == []


def test_a_refill_does_not_hide_that_it_was_left_in_volumetric() -> None:
    s = calm()
    s.put("feeder_gravimetric:F2", FROM, FROM + 1500, 0)
    s.refill("F2", FROM + 100, 20)

    assert only(told(s, VolumetricTooLong(), recipe=feeder_recipe())).last.channel == "feeder_gravimetric:F2"


def test_a_feeder_switched_off_may_be_in_any_mode() -> None:
    s = calm()
    s.put("feeder_gravimetric:F2", FROM, FROM + 1500, 0)
    s.put("feeder_setpoint:F2", FROM, FROM + 1500, 0)

    assert told(s, VolumetricTooLong(), recipe=feeder_recipe()) == []


@pytest.mark.parametrize(("minutes", "priority"), [(8, 4), (20, 3)])
def test_what_work_by_hand_takes_is_a_note(minutes: float, priority: int) -> None:
    s = calm()
    s.put("feeder_gravimetric:F2", FROM, FROM + 60 * minutes, 0)

    assert only(told(s, VolumetricTooLong(), recipe=feeder_recipe())).last.priority == priority


UNTOLD = ("feeder_gravimetric", "feeder_weight", "feeder_refill", "feeder_drive")


def held(s: FeederScript, digits: int = 3, feeders: tuple[str, ...] = ("F2",)) -> None:
    """From one moment on the rate is what is asked for, logged with its own digits; before it was measured."""
    for feeder in feeders:
        s.put(f"feeder_rate:{feeder}", FROM, LOG_S, round(SETS[feeder] + 0.0042, digits))
        s.put(f"feeder_setpoint:{feeder}", 0, LOG_S, SETS[feeder] + 0.0042)


@pytest.mark.parametrize("digits", [4, 2])
def test_where_no_mode_is_logged_a_rate_held_longer_than_any_refill_tells(digits: int) -> None:
    found = told_of(calm(), lambda s: held(s, digits), VolumetricTooLong(), UNTOLD)
    finding = only(found)

    assert finding.last.channel == "feeder_rate:F2" and finding.last.priority == 3
    assert "was measured and has become its set-point" in finding.last.summary
    assert FROM + 890 <= (seconds(finding.first_decided_at) or 0) <= FROM + 930


def others_stand(s: FeederScript, start_s: float, end_s: float, share: float = 1.0) -> None:
    """Small rates in few digits: all other feeders read the same for this share of every five minutes."""
    at = np.arange(len(s.x["feeder_rate:F1"])) * s.cadence
    stand = (at >= start_s) & (at < end_s) & (at % 300 < 300 * share)
    for feeder in ("F1", "F3", "L4"):
        s.x[f"feeder_rate:{feeder}"] = np.where(stand, SETS[feeder], s.x[f"feeder_rate:{feeder}"])


def test_that_all_stand_for_a_moment_does_not_end_what_one_feeder_is_told_by() -> None:
    def story(s: FeederScript) -> None:
        held(s, 4)
        others_stand(s, 0, LOG_S, 0.1)

    finding = only(told_of(calm(), story, VolumetricTooLong(), UNTOLD))

    assert finding.last.channel == "feeder_rate:F2"
    assert FROM + 890 <= (seconds(finding.first_decided_at) or 0) <= FROM + 1100


def held_until_nothing_moves(s: FeederScript) -> None:
    """For eight minutes alone, as in a refill by hand; then the data of all stand still."""
    held(s, 4)
    others_stand(s, FROM + 480, LOG_S)


def filled_by_hand(s: FeederScript) -> None:
    """For ten minutes, held on set meanwhile."""
    s.put("feeder_rate:F2", FROM, FROM + 600, SETS["F2"])


def stands_now_and_then(s: FeederScript) -> None:
    """A coarse reading that does not move for minutes."""
    at = np.arange(len(s.x["feeder_rate:F2"])) * s.cadence
    s.x["feeder_rate:F2"] = np.where(at % 360 < 240, SETS["F2"], SETS["F2"] + 0.5)
    s.put("feeder_rate:F2", FROM, FROM + 1500, SETS["F2"])


def all_held(s: FeederScript) -> None:
    """No rate moves: nothing is known of any, data stand still."""
    held(s, 4, ("F1", "F2", "F3", "L4"))


@pytest.mark.parametrize(
    "story", [undisturbed, filled_by_hand, stands_now_and_then, all_held, held_until_nothing_moves]
)
def test_what_is_held_shortly_often_or_with_all_others_is_not_that(story: Story) -> None:
    assert told_of(calm(), story, VolumetricTooLong(), UNTOLD) == []


def test_a_weight_tells_better() -> None:
    assert told_of(calm(), held, VolumetricTooLong(), ("feeder_gravimetric",)) == []
