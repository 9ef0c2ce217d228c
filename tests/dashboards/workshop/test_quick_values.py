"""Common values written back into a file's text: the rest of it stays to the letter."""

from __future__ import annotations

import tomllib

from dashboards.workshop.new_recipe import recipe_start
from dashboards.workshop.quick_values import values_of, with_values
from dashboards.workshop.settings_text import judged
from sample_logs import sample_path

LINE = (sample_path("twin_clean") / "line.toml").read_text(encoding="utf-8")
RECIPE = (sample_path("twin_clean") / "recipe.toml").read_text(encoding="utf-8")


def test_nothing_typed_changes_nothing() -> None:
    assert with_values(LINE, values_of(LINE, "line")) == LINE
    assert with_values(RECIPE, values_of(RECIPE, "recipe")) == RECIPE


def test_one_value_changes_one_line() -> None:
    after = with_values(LINE, values_of(LINE, "line") | {("line", "time_zone"): "Europe/Paris"})

    different = [b for a, b in zip(LINE.split("\n"), after.split("\n"), strict=True) if a != b]
    assert different == ['time_zone = "Europe/Paris"']


def test_a_value_that_was_not_said_goes_into_its_table_or_a_new_one() -> None:
    text = 'format = 1\n[line]\nname = "a"\n\n[[zone]]\nname = "Z1"\n'

    after = tomllib.loads(with_values(text, {("line", "cadence_s"): "2,5", ("geometry", "screw_diameter_mm"): "40"}))

    assert after["line"] == {"name": "a", "cadence_s": 2.5}
    assert after["geometry"] == {"screw_diameter_mm": 40}
    assert after["zone"] == [{"name": "Z1"}]


def test_an_emptied_value_is_taken_out() -> None:
    after = with_values(RECIPE, values_of(RECIPE, "recipe") | {("recipe", "rate_kg_h"): ""})

    assert "rate_kg_h" not in tomllib.loads(after)["recipe"]


def test_what_is_no_number_is_left_for_the_loader_to_refuse() -> None:
    after = with_values(RECIPE, values_of(RECIPE, "recipe") | {("recipe", "rate_kg_h"): "much"})

    assert any("rate_kg_h" in problem for problem in judged(after).problems)


def test_a_text_with_quotes_cannot_break_the_file() -> None:
    after = with_values(RECIPE, values_of(RECIPE, "recipe") | {("recipe", "product"): 'a "b"\\\n[c]'})

    assert tomllib.loads(after)["recipe"]["product"] == 'a "b"\\\n[c]'


def test_the_start_of_a_recipe_holds() -> None:
    line = judged(LINE).line
    assert line is not None
    for text in (recipe_start(None), recipe_start(line)):
        told = judged(text)
        assert told.kind == "recipe" and told.problems == ()
    assert "# Z1 = 200.0" in recipe_start(line) and "# F1 = 0.0" in recipe_start(line)


def test_every_mistake_is_told_at_once_with_key_and_value() -> None:
    broken = LINE.replace('kind = "twin-screw"', 'kind = "triple"').replace('role = "torque"', 'role = "torqe"')

    said = " | ".join(judged(broken).problems)

    assert "line.kind = 'triple'" in said and "torqe" in said and "did you mean 'torque'" in said
