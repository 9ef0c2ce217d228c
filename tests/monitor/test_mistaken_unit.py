"""Zones that are the recipe's only in another unit than the line file gives: said; barrels that pass by are not."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.block import Note
from monitor.conditions.setpoint_not_recipe import SetpointNotRecipe
from monitor.line import Line
from monitor.mistaken_unit import MistakenUnits
from tests.monitor.conditions.told import block_of, told
from tests.monitor.scripted_world import NS, T0
from tests.monitor.world_heat import HEAT_LINE, HEAT_RECIPE, HEAT_ZONES, HeatScript

LOG_S = 6000
ZONES = [f"{role}:{zone}" for role in ("zone_setpoint", "zone_temperature") for zone in HEAT_ZONES]


def given_in(unit: str, keys: list[str] = ZONES) -> Line:
    """The line with that unit in its file at these channels."""
    data = HEAT_LINE.model_dump()
    data["sensor"] = [{**one, "unit": unit} if f"{one['role']}:{one['at']}" in keys else one for one in data["sensor"]]
    return Line.model_validate({**data, "version": f"in {unit}"})


def noticed(s: HeatScript, line: Line) -> list[str]:
    account, units = ReadingAccount(), MistakenUnits(line, [HEAT_RECIPE], (), HEAT_RECIPE.name)
    units.add(block_of(s, line))
    units.close(account)
    return account.noticed


def story(change: Callable[[np.ndarray], np.ndarray], keys: list[str] = ZONES, end: int = LOG_S) -> HeatScript:
    s = HeatScript(LOG_S)
    for key in keys:
        cells = round(end / s.cadence)
        s.x[key][:cells] = change(s.x[key][:cells])
    return s


def c_read_as_f(numbers: np.ndarray) -> np.ndarray:
    return (numbers - 32) / 1.8


def test_a_log_in_c_with_a_line_file_in_f() -> None:
    s = story(c_read_as_f)
    (said,) = noticed(s, given_in("F"))
    assert 'write unit = "C" at each such [[sensor]]' in said and "of the line file, F, counts" in said
    found = [one.last for one in told(s, SetpointNotRecipe(), line=given_in("F"), recipe=HEAT_RECIPE)]
    (several,) = [one for one in found if "set-points" in one.summary]
    assert several.summary.endswith("are this recipe's only in C: is the unit in the line file right?")
    assert several.causes[0].text == "wrong unit in the line file"
    assert several.checks[0].startswith('unit = "C" at these sensors')


def test_a_log_in_f_with_a_line_file_that_says_nothing_and_one_in_k() -> None:
    (said,) = noticed(story(lambda c: 1.8 * c + 32), HEAT_LINE)
    assert 'write unit = "F"' in said and "the line file, C, counts" in said
    (said,) = noticed(story(lambda c: c + 273.15), HEAT_LINE)
    assert 'write unit = "K"' in said


def test_only_what_is_in_another_unit_is_named() -> None:
    readings = [key for key in ZONES if key.startswith("zone_temperature")]
    (said,) = noticed(story(c_read_as_f, readings), given_in("F", readings))
    tags = {one.tag: one.role for one in HEAT_LINE.sensor}
    named = re.findall(r"'([^']+)'", said.split(": what is read")[0])
    assert named and {tags[tag] for tag in named} == {"zone_temperature"}


@pytest.mark.parametrize(
    ("s", "line"),
    [
        (HeatScript(LOG_S), HEAT_LINE),
        (story(c_read_as_f, ZONES[len(HEAT_ZONES) :], end=2400), HEAT_LINE),
        (story(lambda c: c - 40), HEAT_LINE),
        (story(c_read_as_f, ZONES[:2]), HEAT_LINE),
    ],
    ids=["as it should be", "a barrel that is cold for long", "another recipe", "two zones"],
)
def test_what_is_no_matter_of_units(s: HeatScript, line: Line) -> None:
    assert noticed(s, line) == []
    found = [one.last.summary for one in told(s, SetpointNotRecipe(), line=line, recipe=HEAT_RECIPE)]
    assert not any("only in" in summary for summary in found)


def test_only_while_a_recipe_is_in_force() -> None:
    s, account = story(c_read_as_f), ReadingAccount()
    for at_s, name, said in ((0, HEAT_RECIPE.name, 1), (0, "another", 0), (LOG_S - 300, HEAT_RECIPE.name, 0)):
        account = ReadingAccount()
        units = MistakenUnits(given_in("F"), [HEAT_RECIPE], [Note(T0 + at_s * NS, "recipe", name)])
        units.add(block_of(s, given_in("F")))
        units.close(account)
        assert len(account.noticed) == said
