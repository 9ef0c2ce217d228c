"""A speed that is not the recipe's, told by the speed itself where nobody logs what was set."""

from __future__ import annotations

import pytest

from monitor.conditions.speed_not_recipe import SpeedNotRecipe
from monitor.line import Line
from monitor.records import Finding
from tests.monitor.conditions.told import only, seconds, told
from tests.monitor.scripted_world import FEEDERS, Script, scripted_line, scripted_recipe
from tests.monitor.world_path import line_without

LOG_S, FROM, TO = 6000, 1800, 4800
WITHOUT = ("screw_speed_setpoint",)


def said(speed: float, rate: float = 1.0, line: Line | None = None, window: bool = False) -> list[Finding]:
    line = line or line_without(*WITHOUT)
    s = Script(line, LOG_S, 3)
    s.scale("screw_speed", FROM, TO, speed)
    for feeder in FEEDERS:
        if f"feeder_rate:{feeder}" in s.x:
            s.scale(f"feeder_rate:{feeder}", FROM, TO, rate)
            s.scale(f"feeder_setpoint:{feeder}", FROM, TO, rate)
    data = scripted_recipe().model_dump()
    if window:
        data["window"] = [*data["window"], {"role": "screw_speed", "low": 200.0, "high": 400.0}]
    recipe = type(scripted_recipe()).model_validate({**data, "version": f"speed {window}"})
    return told(s, SpeedNotRecipe(), line=line, recipe=recipe)


@pytest.mark.parametrize(("speed", "priority"), [(0.78, 2), (0.9, 3), (1.1, 3), (1.25, 2)])
def test_a_speed_that_is_off_while_the_rate_is_not_is_said(speed: float, priority: int) -> None:
    found = only(said(speed))

    assert found.last.priority == priority and "the recipe says 300" in found.last.summary
    assert FROM + 600 <= (seconds(found.first_decided_at) or 0) <= FROM + 760


def test_another_output_on_purpose_is_none() -> None:
    assert said(0.8, 0.8) == []
    assert said(0.97) == []


def test_within_the_window_of_the_recipe_it_is_a_note() -> None:
    assert only(said(0.78, window=True)).last.priority == 4


def test_where_the_set_point_is_logged_or_the_screw_is_flood_fed_it_is_not_watched() -> None:
    assert said(0.78, line=scripted_line()) == []
    assert said(0.78, line=line_without(*WITHOUT, kind="single-screw")) == []
