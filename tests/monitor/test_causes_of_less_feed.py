"""What a feeder that gives less takes with it: the starving, the work, the melt pump; and what it does not."""

from __future__ import annotations

import pytest

import tests.monitor.desk
from monitor.contract import Context
from tests.monitor.desk import Desk
from tests.monitor.scripted_world import scripted_line, scripted_recipe


@pytest.mark.parametrize("cause", ["feeder_bridged", "feeder_tripped", "feeder_weight_still", "rate_not_weight"])
@pytest.mark.parametrize("effect", ["starved", "sme_off", "melt_pump_starved"])
def test_a_feeder_that_gives_less_takes_along_what_the_machine_does_of_it(cause: str, effect: str) -> None:
    desk = Desk()
    first = desk.say(cause, 100)

    assert desk.say(effect, 120).part_of == first.finding
    assert desk.say(effect, 120, priorities=(1,), subject="urgent").part_of == ""


def test_a_pump_that_starved_long_before_its_feeder_failed_stands_for_itself() -> None:
    desk = Desk()
    desk.say("melt_pump_starved", 100)
    desk.say("feeder_bridged", 400)

    assert all(record.part_of == "" for record in desk.told)


@pytest.mark.parametrize(("torque", "folded"), [(-0.05, True), (-0.35, True), (-0.9, False)])
def test_a_feed_loss_takes_no_more_load_from_a_pump_line_than_it_can(torque: float, folded: bool) -> None:
    desk = Desk()
    cause = desk.say("feeder_bridged", 100, moved={"rate": -0.2})

    assert (desk.say("melt_pump_starved", 120, moved={"torque": torque}).part_of == cause.finding) == folded


def test_a_pump_still_swings_for_minutes_after_the_feed_has_come_back() -> None:
    desk = Desk()
    cause = desk.say("feeder_weight_still", 100)
    desk.say("feeder_weight_still", 100, "closed", until_s=900)

    assert desk.say("melt_pump_starved", 1050).part_of == cause.finding
    assert desk.say("melt_pump_starved", 1500, subject="later").part_of == ""


@pytest.mark.parametrize("kind", ["twin-screw", "single-screw"])
def test_what_a_flood_fed_throat_held_runs_out_minutes_after_its_feeder_was_given_up(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tests.monitor.desk, "CTX", Context(scripted_line(kind), scripted_recipe(kind), None, 10.0))
    desk = Desk()
    cause = desk.say("feeder_bridged", 100)
    desk.say("feeder_bridged", 100, "closed", until_s=400)

    assert (desk.say("starved", 560).part_of == cause.finding) == (kind == "single-screw")


@pytest.mark.parametrize(("melt_c", "folded"), [(0.0, False), (13.0, True), (-13.0, False)])
def test_fewer_kilograms_get_hotter_and_thinner_by_what_their_melt_temperature_says(
    melt_c: float, folded: bool
) -> None:
    """A filler of a fifth is lost: half of the pressure goes with it where the melt is 13 C hotter for it."""
    desk = Desk()
    cause = desk.say("feeder_bridged", 100, moved={"rate": -0.25})
    moved = {"torque": -0.19, "pressure": -0.79, "rate": -0.27, "melt_c": melt_c}

    assert (desk.say("starved", 110, moved=moved).part_of == cause.finding) == folded


@pytest.mark.parametrize("cause", ["feeder_bridged", "feeder_off_target", "feed_factor_moved"])
@pytest.mark.parametrize("effect", ["sme_off", "viscous_lot", "flooded"])
@pytest.mark.parametrize(("told", "folded"), [(0.12, True), (0.0, False)])
def test_what_shows_too_little_explains_more_load_only_where_it_tells_of_it(
    cause: str, effect: str, told: float, folded: bool
) -> None:
    desk = Desk()
    moved = {"torque": told} if told else {"rate": -0.1}
    first = desk.say(cause, 100, moved=moved)

    assert (desk.say(effect, 160, moved={"torque": 0.11, "pressure": 0.2}).part_of == first.finding) == folded


def test_bursts_take_along_what_runs_through_and_what_a_turn_delivers() -> None:
    """The feed factor was off a minute and a half before the swing was known for one."""
    desk = Desk()
    moved = desk.say("feed_factor_moved", 100)
    bursts = desk.say("feeder_in_bursts", 190)

    assert desk.say("flushing", 900).part_of == bursts.finding
    assert desk.newest(moved).part_of == bursts.finding


@pytest.mark.parametrize(("channel", "folded"), [("feeder_rate:F2", True), ("feeder_rate:F1", False), ("torque", True)])
def test_a_feeder_that_is_set_otherwise_leaves_its_own_window(channel: str, folded: bool) -> None:
    desk = Desk()
    asked = desk.say("setpoint_not_recipe", 100, subject="feeder_setpoint:F2")

    assert (desk.say("recipe_window", 160, subject=channel).part_of == asked.finding) == folded


@pytest.mark.parametrize(("began", "folded"), [(900, True), (100, False)])
def test_of_two_feeders_the_one_that_has_just_begun_to_fail_explains_what_comes(began: int, folded: bool) -> None:
    """A scale that has stood for an hour is not behind a load that falls as another feeder is bridged."""
    desk = Desk()
    stands = desk.say("scale_jumped", 60, subject="feeder_rate:F1")
    begins = desk.say("feeder_bridged", began, subject="feeder_rate:F3")

    assert desk.say("recipe_window", 1000, subject="torque").part_of == (begins if folded else stands).finding


def test_a_side_feeder_that_backs_up_takes_along_what_its_loss_of_load_makes_of_another_feeder_just_filled() -> None:
    desk = Desk()
    first = desk.say("side_feeder_backing_up", 100, subject="F4", moved={"torque": -0.15})

    assert desk.say("wrong_material", 300, subject="F5").part_of == first.finding
