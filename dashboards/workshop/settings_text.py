"""A line or recipe file as text, judged by the loaders themselves."""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass
from pathlib import Path

from monitor.line import Line, read_line
from monitor.recipe import Recipe, read_recipe
from monitor.settings_file import SettingsError

_RECIPE = re.compile(r"^\s*\[\s*recipe\s*\]", re.MULTILINE)


@dataclass(frozen=True)
class Judged:
    """A text as the loaders see it. problems: one sentence a mistake, with key, value and what is allowed."""

    kind: str
    line: Line | None = None
    recipe: Recipe | None = None
    problems: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of the line or recipe, '' where it cannot be read."""
        read = self.line or self.recipe
        return read.name if read is not None else ""


def judged(text: str) -> Judged:
    """What the text is, read as it would be from a file."""
    kind = "recipe" if _RECIPE.search(text) else "line"
    with tempfile.TemporaryDirectory(prefix="evenmelt-") as folder:
        path = Path(folder) / f"{kind}.toml"
        path.write_bytes(text.encode())
        try:
            if kind == "recipe":
                return Judged(kind, recipe=read_recipe(path))
            return Judged(kind, line=read_line(path))
        except SettingsError as error:
            return Judged(kind, problems=tuple(error.problems))
