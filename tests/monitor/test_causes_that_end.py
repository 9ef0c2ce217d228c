"""Causes and what they explain end one after the other."""

from __future__ import annotations

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
