"""Keeps the line and recipe files a line is judged by, as the texts they are."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import Connection, delete, insert, select

from monitor.journal.errors import JournalError
from monitor.journal.schema import line_table, recipe_table
from monitor.journal.used_files import keep_used
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.settings_file import validate

_l, _r = line_table.c, recipe_table.c


def replace_line(
    connection: Connection, line: Line, line_toml: str, recipes_toml: Sequence[str], end_ns: int = 0
) -> None:
    """Store the files, in place of earlier versions of them, which stay known as those that judged what came before.

    end_ns: where the readings judged so far end, UTC.
    """
    version = line.version or _version(line_toml)
    used = [("line", line.name, version, line_toml)]
    connection.execute(delete(line_table).where(_l.name == line.name))
    connection.execute(delete(recipe_table).where(_r.line == line.name))
    connection.execute(insert(line_table).values(name=line.name, toml=line_toml, version=version))
    for rank, text in enumerate(recipes_toml):
        recipe = _recipe(text, _version(text))
        connection.execute(
            insert(recipe_table).values(line=line.name, name=recipe.name, rank=rank, toml=text, version=recipe.version)
        )
        used.append(("recipe", recipe.name, recipe.version, text))
    keep_used(connection, line.name, used, end_ns)


def _version(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def line_names(connection: Connection) -> list[str]:
    """Every line, by name."""
    return list(connection.execute(select(_l.name).order_by(_l.name)).scalars())


def line_version(connection: Connection, name: str) -> str:
    """Which version of the line file is stored; raises JournalError when the journal has no such line."""
    version = connection.execute(select(_l.version).where(_l.name == name)).scalar_one_or_none()
    if version is None:
        known = ", ".join(line_names(connection)) or "none"
        raise JournalError(f"the journal has no line '{name}'; it has: {known}")
    return version


def read_line(connection: Connection, name: str) -> Line:
    """The line file of that line; raises JournalError when the journal has no such line."""
    line_version(connection, name)
    row = connection.execute(select(_l.toml, _l.version).where(_l.name == name)).one()
    return validate(Line, {**_parse(row.toml), "version": row.version}, Path(f"line {name}"))


def read_recipes(connection: Connection, name: str) -> list[Recipe]:
    """The recipes of that line, in the order they were given."""
    rows = connection.execute(select(_r.toml, _r.version).where(_r.line == name).order_by(_r.rank))
    return [_recipe(row.toml, row.version) for row in rows]


def _recipe(text: str, version: str) -> Recipe:
    return validate(Recipe, {**_parse(text), "version": version}, Path("recipe"))


def _parse(text: str) -> dict:
    return tomllib.loads(text.removeprefix("\ufeff"))
