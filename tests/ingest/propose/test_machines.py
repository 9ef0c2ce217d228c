"""Several machines in one log, and one machine with many zones and feeders."""

from __future__ import annotations

from ingest.propose.machines import machines_in

PARTS = ("Zone1.Temp", "Zone2.Temp", "Screw.Speed", "Motor.Current", "Melt.Pressure")


def test_machines_with_a_screw_are_told_from_those_without() -> None:
    tags = [f"Machine{n}.{part}" for n in (1, 2) for part in PARTS]
    tags += ["Machine3.Temp1", "Machine3.Temp2", "Hall.Temp"]
    machines, rest = machines_in(tags)

    assert [one.name for one in machines] == ["Machine 1", "Machine 2", "Machine 3"]
    assert [one.driven for one in machines] == [True, True, False]
    assert rest == ["Hall.Temp"]


def test_short_names_of_machines() -> None:
    assert [one.name for one in machines_in([f"EX{n}_{part}" for n in (4, 5) for part in PARTS])[0]] == ["EX 4", "EX 5"]


def test_zones_and_feeders_are_no_machines() -> None:
    tags = [f"z{n}_{what}" for n in range(1, 8) for what in ("temp", "temp_sp", "amps")]
    tags += [f"Feeder{n}.{what}" for n in (1, 2, 3) for what in ("Speed", "Current", "Rate")]

    assert machines_in([*tags, "torque"])[0] == []
