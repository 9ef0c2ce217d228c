"""All mistakes of all files are told in one go."""

from __future__ import annotations

import pytest

from dashboards.command_line.settings_given import read_settings
from dashboards.command_line.told import Told

LINE = """
format = 1
[line]
name = "{name}"
kind = "twin-screw"
[[sensor]]
tag = "S"
role = "screw_speed"
"""
RECIPE = 'format = 1\n[recipe]\nname = "{name}"\n'


def files(folder, **texts):
    for name, text in texts.items():
        (folder / name.replace("_", ".")).write_text(text)
    return [folder / name.replace("_", ".") for name in texts]


def test_good_files(tmp_path):
    lines = files(tmp_path, a_toml=LINE.format(name="A"), b_toml=LINE.format(name="B"))
    recipes = files(tmp_path, r_toml=RECIPE.format(name="PP"))
    (schedule,) = files(tmp_path, s_csv="start,lot,recipe,line\n2026-03-02 06:00,L1,PP,B\n")

    settings = read_settings(lines, recipes, schedule)

    assert [line.name for line in settings.lines] == ["A", "B"]
    assert settings.line_texts[1] == LINE.format(name="B")
    assert [len(notes) for notes in settings.schedules] == [0, 2]


def test_mistakes_in_every_file_are_told_at_once(tmp_path):
    lines = files(tmp_path, a_toml=LINE.format(name="A"), b_toml=LINE.format(name="A") + "colour = 1\n")
    recipes = files(tmp_path, r_toml=RECIPE.format(name="PP"), t_toml="format = 1\n")
    (schedule,) = files(tmp_path, s_csv="start,lot,recipe\nsoon,L1,PP\n")

    with pytest.raises(Told) as told:
        read_settings(lines, [*recipes, tmp_path / "absent.toml"], schedule)

    for words in ("b.toml", "colour", "t.toml", "recipe: is missing", "absent.toml", "s.csv", "'soon'"):
        assert words in str(told.value)


def test_two_lines_of_one_name(tmp_path):
    lines = files(tmp_path, a_toml=LINE.format(name="A"), b_toml=LINE.format(name="A"))

    with pytest.raises(Told, match="line name 'A'"):
        read_settings(lines, [], None)


def test_a_recipe_of_the_schedule_must_be_given(tmp_path):
    lines, recipes = files(tmp_path, a_toml=LINE.format(name="A")), files(tmp_path, r_toml=RECIPE.format(name="PP"))
    (schedule,) = files(tmp_path, s_csv="start,lot,recipe\n2026-03-02 06:00,L1,PPP\n")

    with pytest.raises(Told, match="'PPP' is none of those given"):
        read_settings(lines, recipes, schedule)
