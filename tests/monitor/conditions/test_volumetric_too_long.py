"""A feeder left in volumetric; a refill by hand is not that."""

from __future__ import annotations

import pytest

from monitor.conditions.volumetric_too_long import VolumetricTooLong
from tests.monitor.conditions.feeder_stories import FROM, all_filled_at_once, calm
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.world_feeders import SETS, feeder_recipe


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
