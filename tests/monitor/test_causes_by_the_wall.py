"""A die or adapter off its temperature explains the pressure it can have made, and no other."""

from __future__ import annotations

import pytest

from tests.monitor.desk import Desk


@pytest.mark.parametrize(
    ("cause", "effect", "side"),
    [
        ("zone_over_temperature", "screen_ruptured", -1), ("zone_over_temperature", "recipe_window", -1),
        ("contactor_stuck", "screen_ruptured", -1), ("heater_dead", "screen_blinding", 1),
        ("zone_under_temperature", "screen_blinding", 1), ("heater_partial", "die_plugging", 1),
    ],
)  # fmt: skip
def test_a_wall_beyond_the_screw_explains_the_pressure_it_can_have_made(cause: str, effect: str, side: int) -> None:
    """3 % a C at most, and never the other way: a die 30 C off makes no more than a factor of 2.5."""
    for subject, moved, wall_c, folds in (
        ("DIE", 0.6, 30.0, True), ("ADAPTER", 0.6, 30.0, True), ("Z2", 0.6, 30.0, False),
        ("DIE", 0.6, 8.0, False), ("DIE", -0.6, 30.0, False),
    ):  # fmt: skip
        desk = Desk()
        own = desk.say(cause, 100, subject=subject)
        said = desk.say(effect, 110, subject="melt_pressure:P1" if effect == "recipe_window" else "P1",
                        moved={"pressure": side * moved, "wall_c": -side * wall_c})  # fmt: skip
        assert (said.part_of == own.finding) == folds, (subject, moved, wall_c)


def test_what_grows_beyond_what_the_wall_can_do_stands_for_itself() -> None:
    desk = Desk()
    own = desk.say("zone_under_temperature", 100, subject="DIE")
    first = desk.say("screen_blinding", 110, moved={"pressure": 0.15, "wall_c": -6.0})
    later = desk.say("screen_blinding", 110, "revised", until_s=4000, moved={"pressure": 0.4, "wall_c": -6.0})
    assert first.part_of == own.finding and later.part_of == ""


@pytest.mark.parametrize(("torque", "folds"), [(0.3, True), (0.1, False)])
def test_a_thicker_lot_explains_a_pressure_whose_load_rose_with_it_and_no_screen(torque: float, folds: bool) -> None:
    desk = Desk()
    own = desk.say("viscous_lot", 100)
    said = desk.say("screen_blinding", 900, moved={"pressure": 0.5, "torque": torque, "wall_c": 0.0})
    assert (said.part_of == own.finding) == folds


@pytest.mark.parametrize("cause", ["contactor_stuck", "zone_over_temperature"])
def test_a_zone_that_runs_away_heats_melt_and_bodies_on_to_the_die(cause: str) -> None:
    """By a third of what it is over itself; the one before it by the steel, none further back."""
    for other, over_c, folds in (
        ("Z1", 10.0, True),
        ("Z3", 30.0, True),
        ("ADAPTER", 20.0, True),
        ("DIE", 15.0, True),
        ("DIE", 45.0, False),
    ):
        desk = Desk()
        own = desk.say(cause, 100, subject="Z2", moved={"off_c": 100.0})
        after = desk.say("zone_over_temperature", 200, subject=other, moved={"off_c": over_c})
        assert (after.part_of == own.finding) == folds, (other, over_c)
    desk = Desk()
    own = desk.say(cause, 100, subject="DIE", moved={"off_c": 100.0})
    assert desk.say("zone_over_temperature", 200, subject="Z2", moved={"off_c": 10.0}).part_of == ""
    melt = desk.say("melt_over_temperature", 300, subject="melt_temperature:M1", moved={"melt_c": 14.0})
    assert melt.part_of == own.finding


def test_a_second_zone_that_goes_on_climbing_is_one_by_itself() -> None:
    desk = Desk()
    own = desk.say("zone_over_temperature", 100, subject="Z2", moved={"off_c": 30.0})
    first = desk.say("zone_over_temperature", 200, subject="Z3", moved={"off_c": 6.0})
    later = desk.say("zone_over_temperature", 200, "revised", subject="Z3", moved={"off_c": 40.0})

    assert [first.part_of, later.part_of] == [own.finding, ""]


def test_melt_too_hot_heats_what_it_passes_behind_the_screw() -> None:
    """And no further than it is too hot itself; a zone that was hot before it is not its doing."""
    for zone, since, off_c, folds in (
        ("DIE", 200, 12.0, True),
        ("ADAPTER", 200, 12.0, True),
        ("Z3", 200, 12.0, False),
        ("DIE", 200, 25.0, False),
        ("DIE", 90, 12.0, False),
    ):
        desk = Desk()
        own = desk.say("melt_over_temperature", 100, subject="melt_temperature:M1", moved={"melt_c": 18.0})
        hot = desk.say("zone_over_temperature", since, subject=zone, moved={"off_c": off_c})
        assert (hot.part_of == own.finding) == folds, (zone, off_c)
        later = desk.say("zone_over_temperature", since, "revised", subject=zone, moved={"off_c": 40.0})
        assert later.part_of == ""


def test_melt_too_hot_takes_pressure_and_load_with_it_and_brings_none() -> None:
    for moved, folds in (
        ({"pressure": -0.5}, True),
        ({"torque": -0.2}, True),
        ({"pressure": -1.2}, False),
        ({"torque": 0.2}, False),
        ({}, False),
    ):
        desk = Desk()
        own = desk.say("melt_over_temperature", 100, subject="melt_temperature:M1", moved={"melt_c": 20.0})
        assert (desk.say("drift", 200, moved=moved).part_of == own.finding) == folds, moved


def test_no_lot_and_no_work_of_the_screw_makes_a_zone_far_too_cold() -> None:
    """Its heater gives what lacks; a screw that works more heats it."""
    for cause, torque, off_c, folds in (
        ("sme_off", -0.2, -8.0, True),
        ("sme_off", -0.2, -60.0, False),
        ("sme_off", 0.1, -8.0, False),
        ("viscous_lot", 0.1, -60.0, False),
        ("starved", -0.3, -8.0, True),
    ):
        desk = Desk()
        own = desk.say(cause, 100, moved={"torque": torque})
        cold = desk.say("zone_under_temperature", 150, subject="Z2", moved={"off_c": off_c})
        assert (cold.part_of == own.finding) == folds, (cause, torque, off_c)
    desk = Desk()
    own = desk.say("starved", 100, moved={"torque": -0.3})
    first = desk.say("zone_under_temperature", 150, subject="Z2", moved={"off_c": -6.0})
    later = desk.say("zone_under_temperature", 150, "revised", subject="Z2", moved={"off_c": -40.0})
    assert [first.part_of, later.part_of] == [own.finding, ""]


@pytest.mark.parametrize("cause", ["heater_dead", "zone_under_temperature"])
@pytest.mark.parametrize("effect", ["sme_off", "viscous_lot"])
def test_a_zone_far_too_cold_makes_more_load_wherever_on_the_barrel_it_is(cause: str, effect: str) -> None:
    for off_c, torque, folds in ((-60.0, 0.15, True), (-8.0, 0.15, False), (-60.0, -0.15, False), (-20.0, 0.6, False)):
        desk = Desk()
        own = desk.say(cause, 100, subject="Z1", moved={"off_c": off_c})
        assert (desk.say(effect, 400, moved={"torque": torque}).part_of == own.finding) == folds, (off_c, torque)


def test_a_die_whose_couple_is_frozen_may_have_made_a_pressure_either_way() -> None:
    """Nobody knows how hot it is: by 20 C, as the melt is counted; no zone of the barrel does it."""
    for subject, effect, pressure, folds in (
        ("DIE", "screen_blinding", 0.2, True), ("DIE", "die_plugging", 0.2, True), ("DIE", "restricted", 0.2, True),
        ("DIE", "screen_blinding", 1.0, False), ("Z2", "screen_blinding", 0.2, False),
    ):  # fmt: skip
        desk = Desk()
        own = desk.say("thermocouple_frozen", 100, subject=subject)
        said = desk.say(effect, 2000, subject="P1", moved={"pressure": pressure})
        assert (said.part_of == own.finding) == folds, (subject, effect, pressure)


@pytest.mark.parametrize("effect", ["restricted", "viscous_lot", "recipe_window"])
def test_a_wall_whose_couple_is_open_cools_and_the_melt_in_it_is_stiffer(effect: str) -> None:
    for subject, folds in (("DIE", True), ("ADAPTER", True), ("Z2", False)):
        desk = Desk()
        own = desk.say("thermocouple_open", 100, subject=subject)
        said = desk.say(effect, 500, subject="melt_pressure:P1", moved={"pressure": 0.2})
        assert (said.part_of == own.finding) == folds, subject


@pytest.mark.parametrize("cause", ["thermocouple_open", "zone_in_manual", "contactor_stuck"])
def test_a_zone_that_nobody_holds_thins_the_melt_and_no_water_does(cause: str) -> None:
    desk = Desk()
    own = desk.say(cause, 100, subject="Z2")
    thin = desk.say("moisture", 1500, subject="melt_pressure:P1", moved={"pressure": -0.1, "torque": -0.05})
    assert thin.part_of == own.finding
