"""The line, recipe and schedule files a verb was given, read together so that all mistakes are told at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from dashboards.command_line.told import Told
from ingest.block import Note
from monitor.line import Line, read_line
from monitor.recipe import Recipe, read_recipe
from monitor.reference.model import Reference
from monitor.schedule import read_schedule
from monitor.settings_file import SettingsError

Read = TypeVar("Read")


@dataclass(frozen=True)
class Settings:
    """What the lines are judged by. line_texts, recipe_texts: the files as they are. references: by line name."""

    lines: tuple[Line, ...]
    line_texts: tuple[str, ...]
    recipes: tuple[Recipe, ...]
    recipe_texts: tuple[str, ...]
    schedules: tuple[tuple[Note, ...], ...]
    references: Mapping[str, Reference] = field(default_factory=dict)


def read_settings(lines: Sequence[Path], recipes: Sequence[Path], schedule: Path | None) -> Settings:
    """Read all files; raises Told with every mistake in every one of them."""
    problems: list[str] = []
    found_lines = [_read(read_line, path, problems) for path in lines]
    found_recipes = [_read(read_recipe, path, problems) for path in recipes]
    _refuse_twice("line", [line.name for line in found_lines if line], lines, problems)
    _refuse_twice("recipe", [recipe.name for recipe in found_recipes if recipe], recipes, problems)
    names = None if None in found_recipes else [recipe.name for recipe in found_recipes if recipe]
    schedules: list[tuple[Note, ...]] = []
    for line in found_lines:
        notes: tuple[Note, ...] | None = ()
        if schedule is not None and line is not None:
            notes = _read(lambda path, line=line: read_schedule(path, line, names), schedule, problems)
        schedules.append(notes or ())
    if problems:
        raise Told("\n".join(dict.fromkeys(problems)))
    return Settings(
        tuple(line for line in found_lines if line), tuple(map(_text, lines)),
        tuple(recipe for recipe in found_recipes if recipe), tuple(map(_text, recipes)), tuple(schedules),
    )  # fmt: skip


def _read(read: Callable[[Path], Read], path: Path, problems: list[str]) -> Read | None:
    try:
        return read(path)
    except SettingsError as error:
        problems.append(str(error))
        return None


def _refuse_twice(what: str, names: Sequence[str], paths: Sequence[Path], problems: list[str]) -> None:
    for name in sorted({name for name in names if names.count(name) > 1}):
        listed = ", ".join(map(str, paths))
        problems.append(f"Two of the files {listed} have the {what} name '{name}'; give each a name of its own.")


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")
