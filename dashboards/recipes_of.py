"""Which recipes are for a line: all that a page or a summary calls its recipe must be what judged it."""

from __future__ import annotations

from collections.abc import Iterable

from monitor.recipe import Recipe


def recipes_for(line: str, recipes: Iterable[Recipe]) -> list[Recipe]:
    """Those made on that line, or anywhere, as `monitor.core.Monitor` takes them."""
    return [recipe for recipe in recipes if not recipe.recipe.lines or line in recipe.recipe.lines]
