"""One finding for many, and how much, and which way, a cause can move what it explains."""

from __future__ import annotations

import pytest

from monitor import causes
from monitor.contract import NS, Context
from monitor.records import Cause
from tests.monitor.desk import Desk
from tests.monitor.world_path import path_line, path_recipe


def test_one_for_all_explains_each_and_no_single_one_another() -> None:
    desk = Desk()
    first = desk.say("heater_dead", 100, subject="Z1")
    other = desk.say("heater_dead", 200, subject="Z2")
    assert other.part_of == ""

    together = desk.say("heater_dead", 300, subject="all")
    third = desk.say("heater_dead", 310, subject="Z3")
    assert (first.part_of, third.part_of) == ("", together.finding)
    assert desk.newest(first).part_of == desk.newest(other).part_of == together.finding


def test_a_filling_screen_explains_no_pressure_that_is_too_low() -> None:
    desk = Desk()
    screen = desk.say("screen_blinding", 5000)
    low = desk.say("recipe_window", 4000, moved={"pressure": -0.3})
    high = desk.say("recipe_window", 4100, moved={"pressure": 0.3})
    assert (low.part_of, high.part_of) == ("", screen.finding)


def test_a_small_swing_explains_no_large_loss() -> None:
    desk = Desk()
    surge = desk.say("surging", 100, moved={"swing": 0.08})
    deep = desk.say("starved", 110, moved={"torque": -0.43})
    shallow = desk.say("starved", 120, moved={"torque": -0.15})
    assert (deep.part_of, shallow.part_of) == ("", surge.finding)


def test_what_follows_from_a_finding_bears_no_witness_for_another_cause_of_it() -> None:
    """A thicker lot that takes the pressure at the die with it is no die that plugs."""
    desk = Desk()
    lot = desk.say("viscous_lot", 100, causes=(Cause("more viscous lot"), Cause("die", shown_by=("die_plugging",))))
    die = desk.say("die_plugging", 200)
    assert die.part_of == lot.finding
    assert desk.newest(lot).causes[0].text == "more viscous lot"


def test_a_trimmed_zone_explains_its_neighbour_by_what_it_couples_only() -> None:
    desk = Desk()
    trim = desk.say("setpoint_not_recipe", 100, subject="Z2", moved={"zone_c": 2.0})
    own = desk.say("zone_over_temperature", 110, subject="Z2", moved={"off_c": 4.0})
    beside = desk.say("zone_over_temperature", 120, subject="Z3", moved={"off_c": 1.5})
    far = desk.say("zone_over_temperature", 130, subject="Z1", moved={"off_c": 4.0})
    assert [own.part_of, beside.part_of, far.part_of] == [trim.finding, trim.finding, ""]


@pytest.mark.parametrize(
    ("beyond_c", "folded"), [({}, True), ({"beyond_set_c": 2.0}, True), ({"beyond_set_c": 20.0}, False)]
)
def test_another_recipe_does_not_explain_a_zone_that_does_not_follow_its_own_set_point(beyond_c, folded) -> None:
    desk = Desk()
    several = desk.say("setpoint_not_recipe", 100, subject="")
    zone = desk.say("zone_under_temperature", 200, subject="Z3", moved={"off_c": -33.0, **beyond_c})
    assert (zone.part_of == several.finding) is folded


@pytest.mark.parametrize(
    ("at", "moved", "folded"), [("P1", 0.2, True), ("P2", 0.2, False), ("P2", -0.2, False), ("P2", -0.05, True)]
)
def test_a_filling_screen_raises_no_pressure_behind_it(at: str, moved: float, folded: bool) -> None:
    """It may take a little from what is behind; a fall by a fifth goes the other way, wherever it is read."""
    screen = {"condition": "screen_blinding", "channel": "melt_pressure:P1", "since": 0, "ended": None, "moved": {}}
    drift = {"condition": "drift", "channel": f"melt_pressure:{at}", "since": 10 * NS, "moved": {"pressure": moved}}
    assert causes._explains(screen, drift, Context(path_line(), path_recipe(), None, 10.0)) is folded
