"""What the README lists for those who write line and recipe files is what the program takes, no more and no less."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

from ingest.roles import ROLES
from monitor.conditions.hot_hold import USUAL_HOLD_MIN
from monitor.line import Feeder, Zone
from monitor.materials import codes, hot_hold_min, material
from monitor.recipe import Recipe, RecipeTable, Window

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
SECTION = README.split("\n## With your own log\n")[1].split("\n## ")[0]
DETAILS = SECTION.split("<details>")[1].split("</details>")[0]
BELONGS = {"": "line", "own name": "sensor", "zone": "zone", "feeder": "feeder", "vent": "vent"}


def item(start: str) -> str:
    """A point of the list, by how it starts."""
    return DETAILS.split(f"- {start}")[1].split("\n- ")[0]


def marked(text: str) -> list[str]:
    """Words in the type of code."""
    return re.findall(r"`([^`]+)`", text)


def kinds(model: type[Feeder] | type[Zone]) -> tuple[str, ...]:
    return get_args(model.model_fields["kind"].annotation)


def test_every_role_with_its_place_unit_and_meaning() -> None:
    rows = re.findall(r"^\| `(\w+)` \| (.*?) ?\| (.*?) \| (.*?) \|$", DETAILS, re.MULTILINE)
    listed = [(name, BELONGS[at], unit.replace("0 or 1", "1"), meaning) for name, at, unit, meaning in rows]

    assert listed == [(one.name, one.per, one.unit, one.meaning) for one in ROLES.values()]


def test_every_kind_of_feeder_and_of_zone() -> None:
    for model, start in ((Feeder, "`kind` of a `[[feeder]]`: "), (Zone, "`kind` of a `[[zone]]`: ")):
        text = item(start)
        usual = text.split(" (where nothing is said")[0].rsplit("`", 2)[1]

        assert sorted(marked(text)) == sorted(kinds(model))
        assert usual == model.model_fields["kind"].default


def test_every_key_of_a_recipe() -> None:
    keys = re.sub(r"\([^)]*\)", "", item("Keys of `[recipe]`: "))
    tables = item("Tables of a recipe beside `[recipe]`: ")

    assert marked(keys) == list(RecipeTable.model_fields)
    assert f"screw may turn; {RecipeTable.model_fields['soak_min'].default:g})" in " ".join(item("Keys of ").split())
    assert set(re.findall(r"\[([a-z]+)[\].]", tables)) == set(Recipe.model_fields) - {"format", "recipe", "version"}
    assert {word for word in marked(tables) if word.isidentifier()} == set(Window.model_fields)


def test_the_default_of_a_hot_hold_by_material() -> None:
    listed = re.findall(r"^  - (\d+): (.*)$", DETAILS, re.MULTILINE)
    by_code = {code.strip(): float(minutes) for minutes, codes in listed for code in codes.split(",")}

    assert by_code.pop("and what is not in the table") == USUAL_HOLD_MIN
    assert by_code == {code: hot_hold_min(material(code)) for code in codes()}
