"""Lines that log little: nothing raises, nothing speaks on a sound run, and what cannot be judged is not armed."""

from __future__ import annotations

import pytest

from monitor.contract import Context
from monitor.line import Line
from tests.monitor.conditions.test_path_nuisances import ALL
from tests.monitor.conditions.told import told, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

RICH = path_line()
FEEDER = tuple(role for role in ("feeder_rate", "feeder_setpoint", "feeder_drive", "feeder_weight", "feeder_refill"))
POOR = {
    "no pressure": ("melt_pressure",),
    "no load": ("torque",),
    "no feeders": FEEDER,
    "no speed": ("screw_speed", "screw_speed_setpoint"),
    "no melt temperature": ("melt_temperature",),
    "no zones": ("zone_temperature", "zone_setpoint", "zone_output"),
    "pressure only": tuple({s.role for s in RICH.sensor} - {"melt_pressure"}),
    "zones only": tuple({s.role for s in RICH.sensor} - {"zone_temperature"}),
}


def ran(line: Line, s: Script) -> list[str]:
    kind = line.line.kind
    return [f.last.summary for f in told(s, *ALL, line=line, recipe=path_recipe(kind))]


@pytest.mark.parametrize("what", POOR)
def test_a_line_without(what: str) -> None:
    line = without(RICH, *POOR[what])

    assert ran(line, path_script(5400)) == []


def test_no_recipe() -> None:
    assert told(path_script(5400), *ALL, recipes=False) == []


def test_units_that_are_not_known() -> None:
    data = RICH.model_dump()
    for sensor in data["sensor"]:
        if sensor["role"] in ("melt_pressure", "torque", "vacuum"):
            sensor["unit"] = "relative"
    line = Line.model_validate({**data, "version": "relative"})

    assert ran(line, path_script(5400)) == []
    ctx = Context(line, None, None, 10.0)
    armed = {condition.name for condition in ALL if condition.subjects(ctx)}
    assert not armed & {"toward_over_pressure", "torque_high", "vacuum_off", "pressure_zero_drift", "screen_blinding"}


def test_a_single_screw_with_a_pump_and_without_a_rate() -> None:
    line = without(pump_line(), "line_rate")

    assert ran(line, path_script(5400, pump_line())) == []


def test_needs_name_roles_that_disarm_when_they_are_not_there() -> None:
    """Each 'a|b' of `needs` taken away leaves nothing to watch."""
    for condition in ALL:
        for need in condition.needs:
            bare = without(RICH, *need.split("|"))
            assert condition.subjects(Context(bare, None, None, 1.0)) == (), (condition.name, need)
