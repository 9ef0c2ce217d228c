"""Rates and pressures that are the recipe's only in another unit than the line file gives: said while the screw turns
under load; a screw that turns empty, a line at half its rate, a torn screen with the right unit are not."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.account import GUESS, LIKELY, ReadingAccount
from monitor.line import Line
from monitor.mistaken_unit import MistakenUnits
from monitor.recipe import Recipe
from tests.monitor.conditions.told import R1, TWIN, block_of, twin, without
from tests.monitor.scripted_world import FEEDERS, Script

LOG_S = 6000
RATES = [f"feeder_rate:{feeder}" for feeder in FEEDERS]
NO_WINDOWS = R1.model_copy(update={"window": ()})


def noticed(s: Script, line: Line = TWIN, recipe: Recipe | None = R1) -> dict[str, str]:
    """What is said, and how sure."""
    account = ReadingAccount()
    units = MistakenUnits(line, [recipe] if recipe else [], (), recipe.name if recipe else "")
    units.add(block_of(s, line))
    units.close(account)
    assert units.said == bool(account.noticed)
    return {sentence: account.how_sure[sentence] for sentence in account.noticed}


def story(by: float, keys: list[str] = RATES, end: int = LOG_S, **also: float) -> Script:
    """Readings times `by` up to some time; also: by channel, what others are times."""
    s = twin(LOG_S)
    for key in keys:
        s.x[key][:end] *= by
    for key, factor in also.items():
        s.x[key] *= factor
    return s


@pytest.mark.parametrize(
    ("by", "unit"),
    [
        (1 / 60, "kg/min"),
        (1 / 3.6, "g/s"),
        (1 / 1000, "t/h"),
        (2.20462, "lb/h"),
        (2.20462 / 60, "lb/min"),
        (1000 / 60, "g/min"),
    ],
)
def test_rates_in_another_unit_while_the_screw_turns_as_usual(by: float, unit: str) -> None:
    ((said, sure),) = noticed(story(by)).items()
    assert f'write unit = "{unit}" at each such [[sensor]]' in said and "the line file, kg/h, counts" in said
    assert all(f"'{key.replace(':', '.')}'" in said for key in RATES) and sure == LIKELY


def test_no_torque_is_logged_and_the_pressure_says_that_the_screw_is_fed() -> None:
    (said,) = noticed(story(1 / 60), without(TWIN, "torque"))
    assert 'unit = "kg/min"' in said


@pytest.mark.parametrize(
    "s",
    [
        story(1.0),
        story(1 / 60, torque=0.15),
        story(1 / 60, screw_speed=0.0, torque=0.0),
        story(1 / 40),
        story(1 / 60, RATES[:1]),
        story(1 / 60, end=1800),
        story(1 / 2.20462, torque=0.75, screw_speed=0.6),
        story(0.0),
    ],
    ids=["as usual", "empty", "stopped", "no unit", "one feeder", "half an hour", "half the rate", "no feed at all"],
)
def test_rates_that_are_no_matter_of_units(s: Script) -> None:
    assert noticed(s) == {}


@pytest.mark.parametrize(("by", "unit", "sure"), [(14.504, "psi", LIKELY), (100, "kPa", LIKELY), (0.1, "MPa", GUESS)])
def test_a_pressure_in_its_window_in_another_unit_only(by: float, unit: str, sure: str) -> None:
    ((said, how),) = noticed(story(by, ["melt_pressure:P1"])).items()
    assert said.startswith("'P1': ") and f'write unit = "{unit}"' in said and how == sure
    assert "in the recipe's window" in said


@pytest.mark.parametrize("recipe", [NO_WINDOWS, None])
def test_a_pressure_over_the_machine_s_limit_for_hours_where_no_window_is_given(recipe: Recipe | None) -> None:
    ((said, how),) = noticed(story(14.504, ["melt_pressure:P1"]), recipe=recipe).items()
    assert "below the machine's limit" in said and 'write unit = "psi"' in said and how == LIKELY


@pytest.mark.parametrize(
    ("s", "recipe"),
    [
        (story(1.0, ["melt_pressure:P1"]), R1),
        (story(0.4, ["melt_pressure:P1"]), R1),
        (story(2.2, ["melt_pressure:P1"]), R1),
        (story(0.1, ["melt_pressure:P1"], end=1800), R1),
        (story(14.504, ["melt_pressure:P1"], end=1800), NO_WINDOWS),
        (story(0.1, ["melt_pressure:P1"]), NO_WINDOWS),
        (story(0.1, ["melt_pressure:P1", *RATES], torque=0.15), R1),
    ],
    ids=["as usual", "torn", "blocked", "half an hour low", "half an hour over", "nothing to hold it against", "empty"],
)
def test_pressures_that_are_no_matter_of_units(s: Script, recipe: Recipe) -> None:
    assert noticed(s, recipe=recipe) == {}


def test_readings_of_a_unit_that_is_not_known_are_left_alone() -> None:
    data = TWIN.model_dump()
    data["sensor"] = [{**one, "unit": "relative"} if one["role"] == "feeder_rate" else one for one in data["sensor"]]
    line = Line.model_validate({**data, "version": "relative"})
    assert noticed(story(1 / 60), line) == {}
    assert np.isfinite(block_of(twin(60), line).values).any()
