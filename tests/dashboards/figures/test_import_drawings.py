"""Drawings of the import, line and recipe pages: pure, bounded, nothing in them that cannot be touched."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from dashboards.figures.bare_machine import bare_machine
from dashboards.figures.recipe_bands import recipe_bands
from dashboards.figures.tag_course import tag_course
from dashboards.pages.recipe_view import band_rows
from dashboards.workshop.settings_text import judged
from monitor.recipe import Window
from sample_logs import sample_path


def line(name: str):
    found = judged((sample_path(name) / "line.toml").read_text(encoding="utf-8")).line
    assert found is not None
    return found


def recipe(name: str):
    found = judged((sample_path(name) / "recipe.toml").read_text(encoding="utf-8")).recipe
    assert found is not None
    return found


@pytest.mark.parametrize("width", [700, 1384])
@pytest.mark.parametrize("name", ["twin_clean", "single_clean", "twin_path_blocked"])
def test_the_bare_machine_has_every_zone_and_nothing_to_touch(name: str, width: int) -> None:
    svg = bare_machine(line(name), width)

    ElementTree.fromstring(svg)
    for zone in line(name).zone:
        assert zone.name[:3] in svg
    assert "Barrel strip of" in svg
    assert not re.search(r"tabindex|role=\"button\"|data-key|class=\"touch", svg)
    assert "–" not in svg and "kg/h" not in svg


def test_a_machine_without_zones_is_drawn_too() -> None:
    bare = line("single_clean").model_copy(update={"zone": (), "sensor": ()})

    ElementTree.fromstring(bare_machine(bare, 700))


def test_a_recipe_has_a_row_for_every_window_in_machine_order() -> None:
    rows = band_rows(recipe("twin_clean"), line("twin_clean"))

    titles = [title for title, _, _ in rows]
    assert len(rows) == len({*(w.key for w in recipe("twin_clean").window)})
    assert titles.index("Z2 temperature") < titles.index("Z3 temperature") < titles.index("DIE temperature")
    ElementTree.fromstring(recipe_bands(rows, 1200, "a & <b>"))


def test_a_zone_with_a_target_alone_gets_the_plain_start_and_says_so() -> None:
    bare = recipe("twin_clean").model_copy(update={"window": ()})

    rows = band_rows(bare, None)

    assert rows[0][0].endswith("(plain start)")
    assert (rows[0][2].low, rows[0][2].high) == (bare.zones["Z1"] - 3, bare.zones["Z1"] + 3)


@pytest.mark.parametrize(
    "limits", [{"high": 90.0}, {"low": 1.0}, {"high_outer": 5.0}, {"low": 4.0, "high": 4.0}, {"low": -1.0, "high": 0.0}]
)
def test_any_window_can_be_drawn(limits: dict[str, float]) -> None:
    svg = recipe_bands([("x", "bar", Window(role="melt_pressure", at="P1", **limits))], 700, "r")

    ElementTree.fromstring(svg)
    assert "nan" not in svg and "inf" not in svg
    assert ("no limit" in svg) == (len({name.split("_")[0] for name in limits}) < 2)


def test_a_gap_in_a_course_is_a_gap() -> None:
    t = [0, 1000, 2000, 3000, 4000]

    assert tag_course("a", "", t, [1.0, 2.0, 3.0, 2.0, 1.0], 600).count('class="profile"') == 1
    assert tag_course("a", "", t, [1.0, 2.0, None, 2.0, 1.0], 600).count('class="profile"') == 2


@pytest.mark.parametrize("values", [[5.0] * 3, [0.0, 0.0, 1e-9], [1e9, -1e9, None], [0.0, 0.25, 0.5]])
def test_any_numbers_can_be_drawn(values: list[float | None]) -> None:
    svg = tag_course("a & <b>", "°C", [0, 1000, 2000], values, 600)

    ElementTree.fromstring(svg)
    assert "nan" not in svg


def test_a_tag_without_a_reading_says_so() -> None:
    assert "No reading" in tag_course("a", "", [], [], 600)
    assert "No reading" in tag_course("a", "", [0, 1000], [None, None], 600)
