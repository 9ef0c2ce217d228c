"""What a line can have watched, and what would let more be watched."""

from __future__ import annotations

import pytest

from ingest.roles import ROLES
from monitor.conditions.registry import CONDITIONS
from monitor.coverage import NO_SENSORS, Covered, coverage
from monitor.line import Line
from tests.monitor.scripted_world import scripted_line, scripted_recipe


def by_name(line: Line, *recipes) -> dict[str, Covered]:
    return {covered.condition.name: covered for covered in coverage(line, recipes)}


def without(line: Line, *roles: str) -> Line:
    data = line.model_dump()
    data["sensor"] = [sensor for sensor in data["sensor"] if sensor["role"] not in roles]
    return Line.model_validate(data)


def test_every_condition_is_told_once_in_order() -> None:
    assert [c.condition.name for c in coverage(scripted_line())] == [c.name for c in CONDITIONS]


def test_a_condition_without_its_sensor_is_not_watched_and_says_which_would_do() -> None:
    covered = by_name(without(scripted_line(), "zone_output"), scripted_recipe())["heater_dead"]

    assert (covered.state, covered.missing) == ("not", (ROLES["zone_output"].meaning,))


def test_one_of_several_is_enough() -> None:
    assert by_name(without(scripted_line(), "melt_pressure"))["starved"].state != "not"


def test_without_a_recipe_its_windows_are_not_watched() -> None:
    covered = by_name(scripted_line())["recipe_window"]

    assert (covered.state, covered.missing) == ("not", ("a recipe file",))
    assert by_name(scripted_line(), scripted_recipe())["recipe_window"].state != "not"


@pytest.mark.parametrize("condition", CONDITIONS, ids=lambda condition: condition.name)
def test_needs_name_roles(condition) -> None:
    for need in (*condition.needs, *condition.sharpened_by):
        assert all(name.partition("@")[0] in ROLES or name in NO_SENSORS for name in need.split("|")), need


@pytest.mark.parametrize("condition", CONDITIONS, ids=lambda condition: condition.name)
@pytest.mark.parametrize("kind", ["twin-screw", "single-screw"])
def test_without_any_of_its_needs_a_condition_watches_nothing(condition, kind: str) -> None:
    """Else `coverage` would call a condition unwatched that speaks, or the other way round."""
    for need in condition.needs:
        roles = [name for name in need.split("|") if name in ROLES]
        line = scripted_line(kind)
        left = [sensor for sensor in line.sensor if sensor.role not in roles]
        if not roles or not left or set(need.split("|")) - set(roles):
            continue
        covered = by_name(without(line, *roles), scripted_recipe(kind))[condition.name]
        assert covered.watches == (), f"{condition.name} watches {covered.watches} without {need}"


def test_a_pump_is_not_watched_where_no_pressure_is_said_to_stand_before_it() -> None:
    """A melt pressure is there; that its place is not stated is the reason, and the way out is said."""
    line = scripted_line()
    pump = line.sensor[0].model_copy(update={"role": "melt_pump_speed", "at": "", "tag": "pump rpm"})
    covered = by_name(line.model_copy(update={"sensor": [*line.sensor, pump]}))["melt_pump_starved"]

    assert covered.state == "not"
    assert any('position = "pump_suction"' in words for words in covered.missing), covered.missing
