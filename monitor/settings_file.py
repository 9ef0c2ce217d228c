"""Reads a TOML file into a pydantic model and reports every mistake at once, with its place."""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError


class Table(BaseModel):
    """A table of a line or recipe file: unknown keys are mistakes, values never change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True, allow_inf_nan=False)

    @classmethod
    def misfits(cls, data: Mapping[str, Any]) -> list[str]:
        """What does not fit between the parts of a file, told from its bare content, however wrong the rest is."""
        return []


TableModel = TypeVar("TableModel", bound=Table)


class SettingsError(Exception):
    """A line, recipe or schedule file that cannot be used. `problems` holds one sentence each."""

    def __init__(self, path: str, problems: list[str]) -> None:
        self.path = path
        self.problems = problems
        count = "1 mistake" if len(problems) == 1 else f"{len(problems)} mistakes"
        super().__init__(f"{path}: {count}\n" + "\n".join(f"  {problem}" for problem in problems))


ALLOWED = {
    "tuple_type": "a list, as in [ 1, 2 ]",
    "list_type": "a list, as in [ 1, 2 ]",
    "dict_type": "a table, as in { Z1 = 190 }",
    "model_type": 'a table, as in { tag = "TIC1", role = "zone_temperature" }',
    "string_": "a text in quotes",
    "float_": "a number",
    "int_": "a whole number",
    "bool_": "true or false",
}
"""What is allowed instead of a value of the wrong kind, by how pydantic's name of the error begins."""


def unreadable(error: OSError) -> str:
    """Why a file cannot be opened, and what to do."""
    if isinstance(error, FileNotFoundError):
        return "does not exist. Check the name and the folder"
    if isinstance(error, IsADirectoryError):
        return "is a folder, not a file. Give the file itself"
    return f"cannot be read: {error.strerror}"


def read_toml(path: Path) -> tuple[dict[str, Any], str]:
    """The parsed file and the first 12 digits of its SHA-256, which names this version of it.

    Raises SettingsError when the file is missing, not UTF-8 or not TOML, or names its own version.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise SettingsError(str(path), [unreadable(error)]) from None
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise SettingsError(str(path), [f"is not UTF-8 text (byte {error.start})"]) from None
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(str(path), [f"is not valid TOML: {error}"]) from None
    if "version" in data:
        raise SettingsError(str(path), ["version: no such key; a version is named after the file's content"])
    return data, hashlib.sha256(raw).hexdigest()[:12]


def validate(model: type[TableModel], data: dict[str, Any], path: Path) -> TableModel:
    """The file's content as a model; raises SettingsError with one sentence a mistake.

    A mistake inside one part does not keep those between the parts from being told.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        inside = [_sentence(item, model) for item in error.errors() if item["loc"]]
        raise SettingsError(str(path), inside + model.misfits(data)) from None


def parts(data: Mapping[str, Any], kind: str) -> list[dict[str, Any]]:
    """The tables [[kind]] of a file's bare content, leaving out what is no table."""
    found = data.get(kind, [])
    return [item for item in found if isinstance(item, dict)] if isinstance(found, (list, tuple)) else []


def word(part: Mapping[str, Any], key: str) -> str:
    """A text of a part, '' where it is missing or no text."""
    value = part.get(key)
    return value.strip() if isinstance(value, str) else ""


def twice(words: list[str]) -> list[str]:
    """Those that are there more than once, each told once, empty ones left out."""
    return sorted({item for item in words if item and words.count(item) > 1})


def _sentence(item: Any, model: type[BaseModel]) -> str:
    place = _place(item["loc"])
    kind, context = item["type"], item.get("ctx", {})
    if kind == "missing":
        return f"{place}: is missing"
    if kind == "extra_forbidden":
        known = _known_keys(model, item["loc"][:-1])
        near = difflib.get_close_matches(str(item["loc"][-1]), known, n=1)
        hint = f", did you mean '{near[0]}'?" if near else f"; allowed here: {', '.join(sorted(known))}"
        return f"{place}: no such key{hint}"
    found = f"{item['input']!r}" if not isinstance(item["input"], (dict, list, BaseModel)) else ""
    if kind == "literal_error":
        return f"{place} = {found}: allowed are {context['expected']}"
    message = item["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    message = message if kind == "value_error" else f"must be {_wanted(kind, context) or message}"
    return f"{place} = {found}: {message}" if found else f"{place}: {message}" if place else message


def _wanted(kind: str, context: Mapping[str, Any]) -> str:
    """What is allowed, in the words of who writes the file; '' where the check's own words say it."""
    if kind == "too_short":
        return f"at least {context['min_length']} long, not {context['actual_length']}"
    if kind == "too_long":
        return f"at most {context['max_length']} long, not {context['actual_length']}"
    for start, words in ALLOWED.items():
        if kind.startswith(start):
            return words
    return ""


def _place(location: tuple[Any, ...]) -> str:
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _known_keys(model: type[BaseModel], location: tuple[Any, ...]) -> list[str]:
    current: Any = model
    for part in location:
        if isinstance(part, int):
            continue
        field = current.model_fields.get(part)
        if field is None:
            return []
        current = next((m for m in _models_in(field.annotation)), None)
        if current is None:
            return []
    return [field.alias or name for name, field in current.model_fields.items() if name != "version"]


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in getattr(annotation, "__args__", ()) for found in _models_in(part)]
