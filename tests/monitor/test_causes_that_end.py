"""Causes and what they explain end one after the other."""

from __future__ import annotations

from typing import Any

import pytest

from tests.monitor.desk import Desk


def test_what_ends_a_while_after_its_cause_is_told_under_it_however_late_its_end_is_decided() -> None:
    """The off-delay of both is half an hour: the cause has ended long ago when the effect's end is known."""
    desk = Desk()
    cause = desk.say("heater_dead", 100, subject="Z2")
    desk.say("zone_under_temperature", 150, subject="Z2")
    desk.say("heater_dead", 100, "closed", until_s=5000, decided_s=6800, subject="Z2")
    desk.say("drift", 7940, subject="melt_temperature:M1")
    last = desk.say("zone_under_temperature", 150, "closed", until_s=6200, decided_s=8000, subject="Z2")

    assert last.part_of == cause.finding


def test_what_a_zone_seems_to_lack_is_told_under_its_broken_couple() -> None:
    desk = Desk()
    own = desk.say("thermocouple_open", 100, subject="Z2")
    for effect in ("heater_dead", "heater_partial", "cooling_passing"):
        assert desk.say(effect, 1400, subject="Z2").part_of == own.finding


def test_a_couple_that_is_known_to_be_loose_after_half_an_hour_explains_what_was_said_first() -> None:
    desk = Desk()
    desk.say("heater_partial", 3000, subject="Z2")
    own = desk.say("thermocouple_loose", 4900, subject="Z2")

    assert desk.say("heater_partial", 3000, "revised", subject="Z2").part_of == own.finding


@pytest.mark.parametrize(
    ("lasted_s", "back_c", "zone", "folded"),
    [(1800, 15.0, "Z2", True), (1800, 45.0, "Z2", False), (600, 15.0, "Z2", False), (1800, 5.0, "Z4", False)],
)
def test_a_zone_swings_back_from_its_own_trouble(lasted_s: int, back_c: float, zone: str, folded: bool) -> None:
    """After a fault has ended the controller brings the zone past its set-point, for half an hour and more."""
    desk = Desk()
    cold = desk.say("zone_under_temperature", 1000, subject="Z2", moved={"off_c": -20.0})
    end = 1000 + lasted_s
    desk.say("zone_under_temperature", 1000, "closed", subject="Z2", until_s=end, moved={"off_c": -20.0})
    given: dict[str, Any] = {"subject": zone, "moved": {"off_c": back_c}}
    hot = desk.say("zone_over_temperature", end + 600, **given)
    late = desk.say("zone_over_temperature", end + 600, "closed", until_s=end + 2000, **given)

    assert [record.part_of == cold.finding for record in (hot, late)] == [folded, folded]


@pytest.mark.parametrize(
    ("cause", "effect"),
    [
        ("contactor_stuck", "zone_under_temperature"),
        ("cooling_scaled", "zone_under_temperature"),
        ("heater_partial", "zone_over_temperature"),
        ("cooling_passing", "zone_over_temperature"),
    ],
)
@pytest.mark.parametrize(("after_s", "zone", "folded"), [(1800, "Z2", True), (300, "Z2", False), (1800, "Z3", False)])
def test_where_a_controller_brings_its_zone_when_its_trouble_is_over(
    cause: str, effect: str, after_s: int, zone: str, folded: bool
) -> None:
    """While it lasts the zone goes the other way: what is there at once is another trouble."""
    desk = Desk()
    trouble = desk.say(cause, 1000, subject="Z2")

    assert (desk.say(effect, 1000 + after_s, subject=zone).part_of == trouble.finding) == folded


@pytest.mark.parametrize(
    ("heats", "effect", "moved", "after_s", "folded"),
    [
        (1.0, "melt_over_temperature", {"melt_c": 11.0}, 600, True),
        (1.0, "recipe_window", {"torque": -0.12}, 600, True),
        (-1.0, "viscous_lot", {"torque": 0.06, "pressure": 0.2}, 600, True),
        (-1.0, "restricted", {"torque": 0.03, "pressure": 0.2}, 600, True),
        (1.0, "melt_under_temperature", {"melt_c": -9.0}, 600, False),
        (1.0, "viscous_lot", {"torque": 0.06, "pressure": 0.2}, 600, False),
        (-1.0, "sme_off", {"torque": -0.15}, 60, False),
        (1.0, "recipe_window", {"torque": -0.9}, 600, False),
        (1.0, "recipe_window", {}, 600, False),
    ],
)
def test_a_couple_that_reads_nothing_takes_along_what_its_controller_does_to_the_melt(
    heats: float, effect: str, moved: dict[str, float], after_s: int, folded: bool
) -> None:
    desk = Desk()
    couple = desk.say("thermocouple_open", 1000, subject="Z2", moved={"heats": heats})

    assert (desk.say(effect, 1000 + after_s, subject="x:M1", moved=moved).part_of == couple.finding) == folded
