"""Where things stand along the machine."""

from __future__ import annotations

from dashboards.machine import machine_order, place_machine, setpoint_key
from dashboards.memory_data import MemoryData


def test_zones_share_the_length_and_ports_stand_on_theirs(data: MemoryData) -> None:
    line = data.source.line("Line 3")
    machine = place_machine(line)
    assert machine.zones[0].x0 == 0 and machine.zones[-1].x1 == 1
    assert machine.feeders["F4"] == machine.zones[5].middle
    assert machine.vents["V1"] == machine.zones[7].middle
    assert machine.barrel_end < machine.sensors["P1"] < machine.sensors["P2"] <= 1


def test_order_walks_from_drive_to_die(data: MemoryData) -> None:
    line = data.source.line("Line 3")
    order = machine_order(line, list(reversed(line.channels)))
    assert order[0] in ("screw_speed", "torque")
    at = {key: i for i, key in enumerate(order)}
    assert at["feeder_rate:F1"] < at["zone_temperature:Z1"] < at["feeder_rate:F4"] < at["zone_temperature:Z6"]
    assert at["vacuum:V1"] < at["zone_temperature:Z8"] < at["zone_temperature:die"]
    assert sorted(order) == sorted(line.channels)


def test_setpoints() -> None:
    assert setpoint_key("zone_temperature:Z3") == "zone_setpoint:Z3"
    assert setpoint_key("screw_speed") == "screw_speed_setpoint"
    assert setpoint_key("torque") == ""
