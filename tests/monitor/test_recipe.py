"""The recipe file: windows, shares, ceiling and materials, and every mistake in it at once."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.recipe import Recipe, read_recipe
from monitor.settings_file import SettingsError, validate

GOOD: dict[str, Any] = {
    "format": 1,
    "recipe": {"name": "R", "materials": ["PP"], "ceiling_c": 280},
    "zones": {"Z1": 60, "Z2": 200},
    "shares": {"F1": 80, "F2": 20},
    "window": [{"role": "melt_pressure", "at": "P1", "low": 40, "target": 60, "high": 80}],
}


def problems(**given: Any) -> list[str]:
    with pytest.raises(SettingsError) as error:
        validate(Recipe, {**copy.deepcopy(GOOD), **given}, Path("recipe.toml"))
    return error.value.problems


def test_a_good_file(tmp_path: Path) -> None:
    path = tmp_path / "r.toml"
    path.write_text(
        'format = 1\n[recipe]\nname = "R"\n[[window]]\nrole = "torque"\nhigh = 70\n[shares]\nF1 = 60.04\nF2 = 40\n',
        encoding="utf-8",
    )
    recipe = read_recipe(path)

    assert recipe.name == "R" and len(recipe.version) == 12
    found = recipe.window_of("torque")
    assert found is not None and (found.high, found.low, found.target) == (70, None, None)
    assert recipe.window_of("melt_pressure:P1") is None


NAMES = ("low_outer", "low", "target", "high", "high_outer")


@settings(deadline=None, max_examples=200)
@given(st.lists(st.one_of(st.none(), st.sampled_from([1.0, 2.0, 3.0, 3.0, 4.0])), min_size=5, max_size=5))
def test_a_window_rises_or_is_refused(values: list[float | None]) -> None:
    window = {name: value for name, value in zip(NAMES, values, strict=True) if value is not None}
    known = [value for value in values if value is not None]
    good = known == sorted(known) and any(name != "target" for name in window)

    data = {**copy.deepcopy(GOOD), "window": [{"role": "torque", **window}]}
    if good:
        validate(Recipe, data, Path("x"))
    else:
        with pytest.raises(SettingsError):
            validate(Recipe, data, Path("x"))


def test_low_above_high_says_both_values() -> None:
    assert problems(window=[{"role": "torque", "low": 80, "high": 60}]) == [
        "window[1]: window of torque: low = 80 is above high = 60; it must not be"
    ]


def test_a_target_outside_its_window() -> None:
    assert problems(window=[{"role": "torque", "low": 80, "target": 60}]) == [
        "window[1]: window of torque: low = 80 is above target = 60; it must not be"
    ]


def test_a_target_alone_is_no_window() -> None:
    assert problems(window=[{"role": "torque", "target": 60}]) == [
        "window[1]: window of torque: give at least one of low, high, low_outer, high_outer"
    ]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"shares": {"F1": 80, "F2": 19}}, "shares sum to 99 %, they must sum to 100"),
        ({"shares": {"F1": 120, "F2": -20}}, "shares.F1 = 120: must be less than or equal to 100"),
        ({"zones": {"Z2": 281}}, "zones.Z2 = 281 C is above the ceiling of 280 C"),
        ({"recipe": {"name": "R", "materials": ["PX"]}}, "material 'PX' is not known"),
        ({"recipe": {"name": ""}}, "recipe.name = ''"),
        ({"recipe": {"name": "R", "soak_min": -1}}, "recipe.soak_min = -1: must be greater than or equal to 0"),
        ({"recipe": {"name": "R", "feed": "flood"}}, "recipe.feed = 'flood': allowed are 'starved' or 'flooded'"),
        ({"recipe": {"name": "R", "cieling_c": 2}}, "recipe.cieling_c: no such key, did you mean 'ceiling_c'?"),
        ({"window": [{"role": "presure", "high": 2}]}, "no role 'presure'"),
        ({"window": GOOD["window"] * 2}, "window of melt_pressure:P1 is there twice"),
    ],
)
def test_one_mistake(given: dict[str, Any], said: str) -> None:
    assert any(said in sentence for sentence in problems(**given)), problems(**given)


def test_an_unknown_material_may_be_described_instead() -> None:
    validate(
        Recipe,
        {**GOOD, "recipe": {"name": "R", "materials": ["PX"], "melting_point_c": 150, "ceiling_c": 280}},
        Path("x"),
    )


def test_an_amorphous_polymer_is_described_by_its_glass_transition() -> None:
    """Common practice: it flows from Tg + 50 C, where a crystalline one takes a margin over its melting point."""
    own = {"name": "R", "materials": ["PX"], "ceiling_c": 280}
    amorphous = validate(Recipe, {**GOOD, "recipe": {**own, "glass_transition_c": 82}}, Path("x")).recipe
    crystalline = validate(Recipe, {**GOOD, "recipe": {**own, "melting_point_c": 165}}, Path("x")).recipe

    assert (amorphous.flows_from_c(), amorphous.flows_from_c(10)) == (132, 132)
    assert (crystalline.flows_from_c(), crystalline.flows_from_c(10)) == (165, 175)
    assert validate(Recipe, {**GOOD, "recipe": {"name": "R"}}, Path("x")).recipe.flows_from_c(10) is None


def test_melting_point_and_glass_transition_exclude_each_other() -> None:
    said = problems(recipe={"name": "R", "melting_point_c": 150, "glass_transition_c": 80})
    assert any("melting_point_c and glass_transition_c are both given" in sentence for sentence in said), said


@pytest.mark.parametrize(("total", "good"), [(100.1, True), (99.9, True), (100.11, False), (99.89, False)])
def test_shares_may_be_rounded_a_little(total: float, good: bool) -> None:
    data = {**copy.deepcopy(GOOD), "shares": {"F1": total - 20, "F2": 20}}
    if good:
        validate(Recipe, data, Path("x"))
    else:
        with pytest.raises(SettingsError):
            validate(Recipe, data, Path("x"))


def test_every_mistake_of_a_file_at_once(tmp_path: Path) -> None:
    path = tmp_path / "recipe.toml"
    path.write_text(
        """format = 1
colour = "blue"
[recipe]
name = "R"
materials = ["PPP"]
ceiling_c = 250
rate_kg_h = 0
[zones]
Z1 = 300
Z2 = "hot"
[shares]
F1 = 50
F2 = 20
[[window]]
role = "torque"
low = 60
high = 50
[[window]]
role = "torque"
hihg = 70
[[window]]
role = "torqe"
high = 70
""",
        encoding="utf-8",
    )
    with pytest.raises(SettingsError) as error:
        read_recipe(path)

    said = error.value.problems
    wanted = [
        ("recipe.rate_kg_h = 0", "greater than 0"),
        ("zones.Z2 = 'hot'", "must be a number"),
        ("colour: no such key",),
        ("low = 60 is above high = 50",),
        ("window[2].hihg: no such key, did you mean 'high'?",),
        ("no role 'torqe', did you mean 'torque'?",),
        ("window of torque is there twice",),
        ("shares sum to 70 %",),
        ("zones.Z1 = 300 C is above the ceiling of 250 C",),
        ("material 'PPP' is not known", "did you mean"),
    ]
    for words in wanted:
        assert any(all(word in sentence for word in words) for sentence in said), (words, said)
    assert len(said) == len(wanted)


@pytest.mark.parametrize("junk", [3, "x", [3], {"a": []}, None])
@pytest.mark.parametrize("key", ["recipe", "zones", "shares", "window", "settings"])
def test_nonsense_in_place_of_a_part_is_a_mistake_not_a_crash(key: str, junk: Any) -> None:
    assert problems(**{key: junk})
