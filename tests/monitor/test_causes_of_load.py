"""What screws explain that get too much."""

from __future__ import annotations

import pytest

from tests.monitor.desk import Desk


@pytest.mark.parametrize(("torque", "backs_up"), [(-0.2, True), (0.2, False)])
def test_a_flooded_intake_backs_up_into_the_feeders_and_over_fed_screws_do_not(torque: float, backs_up: bool) -> None:
    desk = Desk()
    flooded = desk.say("flooded", 100, moved={"torque": torque})

    assert (desk.say("feed_factor_moved", 400).part_of == flooded.finding) is backs_up


@pytest.mark.parametrize(
    ("fed", "load", "begins_s", "follows"),
    [(0.22, 0.23, 130, True), (0.22, 0.23, 500, False), (0.1, 0.3, 130, False), (-0.22, 0.2, 130, False)],
)
def test_pressure_that_comes_up_behind_the_load_of_over_fed_screws_is_no_other_lot(
    fed: float, load: float, begins_s: int, follows: bool
) -> None:
    desk = Desk()
    flooded = desk.say("flooded", 100, moved={"torque": fed, "pressure": 0.16, "rate": 0.0})
    desk.say("flooded", 100, "closed", until_s=120, moved={"torque": fed, "pressure": 0.16, "rate": 0.0})
    thicker = desk.say("viscous_lot", begins_s, moved={"torque": load, "pressure": 0.19, "rate": 0.0})

    assert (thicker.part_of == flooded.finding) is follows


@pytest.mark.parametrize(("ahead_s", "folds"), [(500, True), (1000, False)])
def test_what_ran_through_a_feeder_while_it_was_filled_is_told_by_weight_when_that_is_over(
    ahead_s: int, folds: bool
) -> None:
    """Load and pressure went up as the refill began, and looked like another lot until then."""
    desk = Desk()
    thicker = desk.say("viscous_lot", 2000 - ahead_s, moved={"torque": 0.22, "pressure": 0.28})
    flushing = desk.say("flushing", 2000, subject="F4")

    assert (desk.standing[thicker.finding]["part_of"] == flushing.finding) is folds
