"""What this line can have watched: which conditions are fully, partly or not armed, and which sensor would arm them.

Nothing is guessed: a condition is armed where it says what it would watch on this line. `needs` are the roles
without which it cannot be; `sharpened_by` those with which it sees more or sooner. 'a|b' asks for one of them,
'a@place' for a sensor whose `position` says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ingest.roles import ROLES
from monitor.arming import Arming
from monitor.conditions.registry import CONDITIONS
from monitor.contract import Condition, Context
from monitor.line import Line
from monitor.recipe import Recipe

State = Literal["full", "part", "not"]

OR, AT = "|", "@"
NO_SENSORS = {
    "geometry": "[geometry] of the line file",
    "recipe": "a recipe file",
    "reference": "a reference learned from good runs",
    "note": "notes in the schedule",
}
"""Needs that are no sensors."""


@dataclass(frozen=True)
class Covered:
    """One condition on one line.

    watches: its subjects. missing: what would arm it. sharper: what would sharpen it.
    """

    condition: Condition
    state: State
    watches: tuple[str, ...]
    missing: tuple[str, ...]
    sharper: tuple[str, ...]


def coverage(
    line: Line, recipes: Sequence[Recipe] = (), conditions: Sequence[Condition] = CONDITIONS
) -> tuple[Covered, ...]:
    """Every condition in the order of the registry. Raises SettingsError as the monitor does."""
    arming = Arming(line, {recipe.name: recipe for recipe in recipes}, 1, conditions)
    name = recipes[0].name if recipes else ""
    return tuple(
        _covered(armed.condition, armed.subjects, arming.context(name, armed.condition.grid == "coarse"))
        for armed in arming.arm(name)
    )


def _covered(condition: Condition, subjects: tuple[str, ...], ctx: Context) -> Covered:
    missing = tuple(_words(need) for need in condition.needs if not _there(need, ctx))
    sharper = tuple(_words(need) for need in condition.sharpened_by if not _there(need, ctx))
    state: State = "not" if missing or not subjects else "part" if sharper else "full"
    return Covered(condition, state, subjects, missing, sharper)


def _there(need: str, ctx: Context) -> bool:
    return any(_one_there(name, ctx) for name in need.split(OR))


def _one_there(name: str, ctx: Context) -> bool:
    if name == "recipe":
        return ctx.recipe is not None
    if name == "reference":
        return ctx.reference is not None
    if name == "geometry":
        return ctx.line.geometry.screw_diameter_mm is not None
    role, _, place = name.partition(AT)
    if place:
        return any(sensor.role == role and sensor.position == place for sensor in ctx.line.sensor)
    return role in ROLES and ctx.has(role)


def _words(need: str) -> str:
    return " or ".join(_word(name) for name in need.split(OR))


def _word(name: str) -> str:
    role, _, place = name.partition(AT)
    words = NO_SENSORS.get(role) or (ROLES[role].meaning if role in ROLES else role)
    return f'{words} with position = "{place}"' if place else words
