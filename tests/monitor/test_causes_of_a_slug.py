"""What was held back and comes at once stands under what held it back; what comes long after or goes down does not."""

from __future__ import annotations

import pytest

from monitor.explains_slug import COMES, STOOD, WOUND_UP
from tests.monitor.desk import Desk

UP, DOWN = {"torque": 0.25, "pressure": 0.2}, {"torque": -0.25, "pressure": -0.1}


@pytest.mark.parametrize("effect", COMES)
@pytest.mark.parametrize("cause", [*STOOD, *WOUND_UP])
def test_a_slug_is_no_story_of_its_own(cause: str, effect: str) -> None:
    desk = Desk()
    first = desk.say(cause, 100, moved=DOWN)
    desk.say(cause, 100, "closed", until_s=1000, moved=DOWN)

    assert desk.say(effect, 1060, subject="y", moved=UP).part_of == first.finding


def test_the_slug_of_what_is_still_open_but_a_feeder() -> None:
    desk = Desk()
    first = desk.say("side_feeder_backing_up", 100)

    assert desk.say("viscous_lot", 900, moved=UP).part_of == first.finding
    other = Desk()
    other.say("refill_not_answered", 100)
    assert other.say("viscous_lot", 900, moved=UP).part_of == ""


@pytest.mark.parametrize(
    ("since_s", "moved", "priority"), [(1300, UP, 3), (1060, DOWN, 3), (130, UP, 3), (1060, UP, 1)]
)
def test_what_comes_too_late_too_soon_goes_down_or_calls_at_once_stands_for_itself(
    since_s: int, moved: dict[str, float], priority: int
) -> None:
    desk = Desk()
    desk.say("side_feeder_backing_up", 100, moved=DOWN)
    desk.say("side_feeder_backing_up", 100, "closed", until_s=1000, moved=DOWN)

    assert desk.say("viscous_lot", since_s, moved=moved, priorities=(priority,)).part_of == ""


def test_work_that_was_over_holds_nothing_back() -> None:
    desk = Desk()
    desk.say("sme_off", 100, moved={"torque": 0.2})

    assert desk.say("flooded", 900, moved=UP).part_of == ""
