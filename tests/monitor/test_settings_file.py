"""Reading a settings file: what cannot be read at all, and one sentence for every mistake, with its place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import pytest
from pydantic import Field

from monitor.settings_file import SettingsError, Table, parts, read_toml, twice, validate, word


class Part(Table):
    """[[part]]"""

    name: str
    kind: Literal["round", "flat"] = "round"
    size_mm: Annotated[float, Field(gt=0)] = 1.0


class Whole(Table):
    """A file of parts."""

    part: tuple[Part, ...] = ()
    sizes: dict[str, float] = {}
    version: str = ""

    @classmethod
    def misfits(cls, data):  # type: ignore[no-untyped-def]
        return [f"part '{name}' is there twice" for name in twice([word(p, "name") for p in parts(data, "part")])]


def problems(data: dict, model: type[Table] = Whole) -> list[str]:  # type: ignore[type-arg]
    with pytest.raises(SettingsError) as error:
        validate(model, data, Path("a.toml"))
    assert str(error.value).startswith("a.toml: ")
    return error.value.problems


def written(folder: Path, content: bytes) -> Path:
    path = folder / "line.toml"
    path.write_bytes(content)
    return path


def test_a_file_and_its_version(tmp_path: Path) -> None:
    """The version is the beginning of the SHA-256 of the bytes; expected value from sha256sum (GNU coreutils)."""
    data, version = read_toml(written(tmp_path, b"a = 1\n"))

    assert data == {"a": 1}
    assert version == "cb78bd8a17f7"


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    assert read_toml(written(tmp_path, b"\xef\xbb\xbfa = 'caf\xc3\xa9'\r\n"))[0] == {"a": "café"}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"a = \xff\xfe1", "is not UTF-8 text (byte 4)"),
        (b"a = ", "is not valid TOML: Invalid value (at end of document)"),
        (b"a = 1\na = 2\n", "is not valid TOML: Cannot overwrite a value (at line 2, column 6)"),
        (b"version = '3'", "version: no such key; a version is named after the file's content"),
    ],
)
def test_what_cannot_be_read_names_file_and_place(tmp_path: Path, content: bytes, said: str) -> None:
    path = written(tmp_path, content)

    with pytest.raises(SettingsError) as error:
        read_toml(path)

    assert str(error.value) == f"{path}: 1 mistake\n  {said}"


@pytest.mark.parametrize("made", [False, True])
def test_a_missing_file_or_a_folder(tmp_path: Path, made: bool) -> None:
    path = tmp_path / "x.toml"
    if made:
        path.mkdir()

    with pytest.raises(SettingsError) as error:
        read_toml(path)

    said = "is a folder, not a file. Give the file itself" if made else "does not exist. Check the name and the folder"
    assert error.value.problems == [said]


def test_a_missing_key() -> None:
    assert problems({"part": [{"size_mm": 1}]}) == ["part[1].name: is missing"]


def test_an_unknown_key_with_the_nearest_or_all_that_are_allowed() -> None:
    assert problems({"part": [{"name": "a", "size": 2}]}) == ["part[1].size: no such key, did you mean 'size_mm'?"]
    assert problems({"zzz": 1}) == ["zzz: no such key; allowed here: part, sizes"]


def test_a_value_that_is_not_among_the_allowed() -> None:
    assert problems({"part": [{"name": "a", "kind": "square"}]}) == [
        "part[1].kind = 'square': allowed are 'round' or 'flat'"
    ]


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (-1, "part[1].size_mm = -1: must be greater than 0"),
        (float("nan"), "part[1].size_mm = nan: must be a finite number"),
        ("big", "part[1].size_mm = 'big': must be a number"),
        ([1], "part[1].size_mm: must be a number"),
    ],
)
def test_a_number_out_of_bounds_or_no_number(value: object, said: str) -> None:
    assert problems({"part": [{"name": "a", "size_mm": value}]}) == [said]


def test_all_at_once_the_parts_against_each_other_too() -> None:
    data = {
        "part": [{"name": "a", "size_mm": 0}, {"name": " a "}, {"kind": "x"}],
        "sizes": {"b": "wide"},
        "colour": 1,
    }

    found = problems(data)

    assert found == [
        "part[1].size_mm = 0: must be greater than 0",
        "part[3].name: is missing",
        "part[3].kind = 'x': allowed are 'round' or 'flat'",
        "sizes.b = 'wide': must be a number",
        "colour: no such key; allowed here: part, sizes",
        "part 'a' is there twice",
    ]


def test_the_message_counts_and_lists() -> None:
    error = SettingsError("x.toml", ["one", "two"])

    assert str(error) == "x.toml: 2 mistakes\n  one\n  two"


@pytest.mark.parametrize("data", [{}, {"part": 3}, {"part": "x"}, {"part": [3, None]}, {"part": {"name": "a"}}])
def test_parts_of_any_nonsense_are_none(data: dict) -> None:  # type: ignore[type-arg]
    assert parts(data, "part") == []


def test_words() -> None:
    assert [word({"a": value}, "a") for value in (" x ", 3, None)] == ["x", "", ""]
    assert word({}, "a") == ""
    assert twice(["b", "a", "b", "", "", "a", "b"]) == ["a", "b"]


def test_tables_do_not_change_after_reading() -> None:
    part = validate(Part, {"name": "a"}, Path("x"))

    with pytest.raises(ValueError, match="frozen"):
        part.name = "b"  # type: ignore[misc]
