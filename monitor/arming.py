"""Which conditions watch a line under a recipe, what they watch, with which settings and delays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.conditions.registry import CONDITIONS
from monitor.contract import Condition, Context, SettingOutOfBounds, with_settings
from monitor.episodes import Delays
from monitor.line import Line
from monitor.materials import Material, MaterialError, material
from monitor.recipe import Recipe
from monitor.reference.apply import Applied
from monitor.reference.model import Reference
from monitor.settings_file import SettingsError


@dataclass(frozen=True)
class Armed:
    """A condition on this line, with what it watches there. order: its place in the registry."""

    condition: Condition
    order: int
    subjects: tuple[str, ...]
    delays: tuple[Delays, ...]


class Arming:
    """Contexts and armed conditions of one line, by recipe name ('' = no recipe known).

    width: cadence cells in a coarse cell. Raises SettingsError when a line or recipe file sets what a condition
    does not allow. Subjects depend on the line alone, so states carry over from recipe to recipe.
    """

    def __init__(
        self,
        line: Line,
        recipes: Mapping[str, Recipe],
        width: int,
        conditions: Sequence[Condition] = CONDITIONS,
        reference: Reference | None = None,
    ) -> None:
        self.reference = reference
        self.line, self.recipes, self.width, self.conditions = line, recipes, width, tuple(conditions)
        self._armed: dict[str, tuple[Armed, ...]] = {}
        self._contexts: dict[tuple[str, bool], Context] = {}
        self._check_settings()

    def context(self, recipe_name: str, coarse: bool) -> Context:
        """What holds still under a recipe, for the coarse grid or the cadence."""
        key = (recipe_name, coarse)
        if key not in self._contexts:
            recipe = self.recipes.get(recipe_name)
            step_s = self.line.line.cadence_s * (self.width if coarse else 1)
            applied = None
            if self.reference is not None and recipe is not None and self.reference.recipe == recipe.name:
                applied = Applied(self.reference, self.line, recipe)
            self._contexts[key] = Context(self.line, recipe, base_material(recipe), step_s, applied)
        return self._contexts[key]

    def arm(self, recipe_name: str) -> tuple[Armed, ...]:
        """Every condition of the registry, in its order, as it watches this line."""
        if recipe_name not in self._armed:
            armed = []
            for order, bare in enumerate(self.conditions):
                ctx = self.context(recipe_name, bare.grid == "coarse")
                condition = with_settings(bare, self._given(bare.name, recipe_name))
                subjects = condition.subjects(ctx)
                delays = []
                for subject in subjects:
                    timing = condition.timing(subject, ctx)
                    seconds = timing.on_s, timing.off_s, timing.blind_s, timing.urgent_on_s
                    on, off, blind, urgent = (ctx.cells(s) for s in seconds)
                    again = ctx.cells(timing.again_s) if timing.again_s else 0
                    delays.append(Delays(on, off, blind, timing.urgent_level, urgent, again))
                armed.append(Armed(condition, order, subjects, tuple(delays)))
            self._armed[recipe_name] = tuple(armed)
        return self._armed[recipe_name]

    def _given(self, condition: str, recipe_name: str) -> dict[str, float | bool | str]:
        recipe = self.recipes.get(recipe_name)
        return {**self.line.settings.get(condition, {}), **(recipe.settings.get(condition, {}) if recipe else {})}

    def _check_settings(self) -> None:
        names = {condition.name for condition in self.conditions}
        problems = [
            f"settings.{name}: no such condition; there are {', '.join(sorted(names))}"
            for owner in (self.line, *self.recipes.values())
            for name in owner.settings
            if name not in names
        ]
        for recipe_name in ("", *self.recipes):
            for bare in self.conditions:
                try:
                    with_settings(bare, self._given(bare.name, recipe_name))
                except SettingOutOfBounds as error:
                    problems += [f"settings.{problem}" for problem in error.problems]
        if problems:
            raise SettingsError(f"line '{self.line.name}' and its recipes", sorted(set(problems)))


def base_material(recipe: Recipe | None) -> Material | None:
    """The first material of the recipe that the material table knows; None where it knows none."""
    for code in recipe.recipe.materials if recipe else ():
        try:
            return material(code)
        except MaterialError:
            continue
    return None
