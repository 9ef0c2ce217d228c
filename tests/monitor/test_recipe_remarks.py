"""A recipe read by a practitioner: remarks, and silence where there is nothing to say."""

from __future__ import annotations

from typing import Any

from monitor.recipe import Recipe
from monitor.recipe_remarks import recipe_remarks
from tests.monitor.scripted_world import scripted_line, scripted_recipe

LINE = scripted_line()


def recipe(**changes: Any) -> Recipe:
    """The scripted recipe with parts of it changed; a dict changes the table of that name."""
    data = scripted_recipe().model_dump()
    for key, value in changes.items():
        data[key] = {**data[key], **value} if isinstance(value, dict) and isinstance(data[key], dict) else value
    return Recipe.model_validate(data)


def said(**changes: Any) -> str:
    return "\n".join(recipe_remarks(LINE, recipe(**changes)))


def test_a_plain_recipe_needs_no_remark() -> None:
    assert recipe_remarks(LINE, scripted_recipe()) == ()


def test_zones_near_the_melting_point_are_remarked_on() -> None:
    assert "DIE 178" in said(zones={"DIE": 178}) and "melting point of 175 C" in said(zones={"DIE": 178})


def test_fifty_over_the_melting_point_overshoots_some_materials() -> None:
    """POM homopolymer: 50 C over its melting point lies above what it bears."""
    zones = {"Z2": 195, "Z3": 200, "ADAPTER": 200, "DIE": 200}
    text = said(recipe={"materials": ("POM-H",), "ceiling_c": None}, zones=zones)

    assert "would pass the ceiling" in text


def test_two_materials_that_must_never_meet() -> None:
    assert "must never meet" in said(recipe={"materials": ("POM-C", "PVC-U"), "ceiling_c": None})


def test_a_window_narrower_than_the_couple_is_remarked_on() -> None:
    window = {"role": "zone_temperature", "at": "Z3", "target": 215, "low": 213, "high": 217}

    assert "Z3" in said(window=(window,)) and "thermocouple's own tolerance" in said(window=(window,))


def test_parts_this_line_does_not_have_are_named() -> None:
    text = said(
        window=({"role": "vacuum", "at": "V1", "high": 100},),
        zones={"Z9": 200},
        shares={"F1": 80, "F2": 19, "F3": 0, "F9": 1},
    )

    assert "vacuum:V1" in text and "Z9" in text and "F9" in text


def test_a_zone_of_the_line_without_a_wanted_temperature_is_named() -> None:
    zones = {"Z2": 200.0, "Z3": 215.0, "ADAPTER": 215.0}
    data = {**scripted_recipe().model_dump(), "zones": zones}

    assert any("DIE" in text for text in recipe_remarks(LINE, Recipe.model_validate(data)))
