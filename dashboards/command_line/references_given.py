"""The reference files a verb was given: one a line, and what of them no longer holds."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dashboards.command_line.settings_given import Settings
from dashboards.command_line.told import Told
from monitor.reference.file import read_reference
from monitor.reference.machine import no_longer_valid, said_of
from monitor.reference.model import Reference


def read_references(paths: Sequence[Path], settings: Settings) -> dict[str, Reference]:
    """Line name -> its reference; raises Told for two of one line, or one of a line or recipe that was not given."""
    found: dict[str, Reference] = {}
    lines, recipes = {line.name for line in settings.lines}, {recipe.name for recipe in settings.recipes}
    for path in paths:
        reference = read_reference(path)
        if reference.line in found:
            raise Told(f"{path}: line '{reference.line}' was given two references; give one.")
        for what, name, given in (("line", reference.line, lines), ("recipe", reference.recipe, recipes)):
            if name not in given:
                raise Told(f"{path}: is of {what} '{name}'; given: {', '.join(sorted(given)) or 'none'}.")
        found[reference.line] = reference
    return found


def no_longer_holds(settings: Settings) -> list[str]:
    """Sentences on what of the references does not fit the line files any more."""
    out = []
    for line in settings.lines:
        reference = settings.references.get(line.name)
        if reference is not None:
            recipe = next(recipe for recipe in settings.recipes if recipe.name == reference.recipe)
            out += [f"{line.name}: {said}" for said in said_of(no_longer_valid(reference, line, recipe))]
    return out
