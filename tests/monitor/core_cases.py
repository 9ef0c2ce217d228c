"""Logs on the scripted line, whole or in pieces, and what the whole path says of them."""

from __future__ import annotations

from typing import Any

import numpy as np

from ingest.block import NONE, Block
from monitor.conditions.recipe_window import RecipeWindow
from monitor.core import Monitor
from monitor.recipe import Recipe
from monitor.records import Record
from tests.monitor.scripted_world import Script, scripted_line, scripted_recipe

LINE = scripted_line()
R1 = scripted_recipe()
WINDOW = (RecipeWindow(),)


def recipe(name: str, **windows: tuple[float, float]) -> Recipe:
    """A recipe like R1 with windows of its own."""
    return Recipe.model_validate(
        {
            **R1.model_dump(),
            "recipe": {**R1.recipe.model_dump(), "name": name},
            "window": [{"role": role, "low": low, "high": high} for role, (low, high) in windows.items()],
            "version": name,
        }
    )


def steady(seconds: int) -> Script:
    """Signals of undisturbed running."""
    return Script(LINE, seconds, seed=5)


def block_of(script: Script, first_s: int = 0, last_s: int | None = None) -> Block:
    """The log of these signals, or a stretch of it."""
    return script.world(R1).block.cut(first_s, script.n if last_s is None else last_s)


def judge(monitor: Monitor, blocks: list[Block]) -> tuple[list[Record], Any]:
    """All records, and the last state."""
    state, records = monitor.start(), []
    for block in blocks:
        state, step = monitor.advance(state, block)
        records += step.records
    return records, state


def empty(like: Block, t0: int, cells: int) -> Block:
    """Cells without a reading."""
    shape = (len(like.channels), cells)
    return Block(t0, like.step, like.channels, np.full(shape, np.nan), np.full(shape, NONE, np.uint8))
