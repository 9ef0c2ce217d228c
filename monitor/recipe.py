"""The recipe file: what one product needs from the line, as targets and windows."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from ingest.roles import ROLES, channel_key
from monitor.materials import MaterialError, material
from monitor.settings_file import Table, read_toml, validate

Positive = Annotated[float, Field(gt=0)]


class RecipeTable(Table):
    """[recipe] lines: names of the lines it is made on; empty = any. learned_from: runs its windows came from."""

    name: Annotated[str, Field(min_length=1, max_length=60)]
    product: str = ""
    lines: tuple[str, ...] = ()
    materials: tuple[str, ...] = ()
    feed: Literal["starved", "flooded"] | None = None
    melting_point_c: float | None = None
    ceiling_c: float | None = None
    hot_hold_min: Positive | None = None
    soak_min: Annotated[float, Field(ge=0)] = 20.0
    rate_kg_h: Positive | None = None
    screw_speed_rpm: Positive | None = None
    bulk_density_kg_m3: Positive | None = None
    melt_density_kg_m3: Positive | None = None
    learned_from: tuple[str, ...] = ()


class Window(Table):
    """[[window]] in the fixed unit of its role. Inner limits bound good product; outer limits ask for action now.

    A limit that is left out does not exist. `target` need not be in the middle.
    """

    role: str
    at: str = ""
    target: float | None = None
    low: float | None = None
    high: float | None = None
    low_outer: float | None = None
    high_outer: float | None = None

    @property
    def key(self) -> str:
        """Channel key this window judges."""
        return channel_key(self.role, self.at)

    @model_validator(mode="after")
    def _rises(self) -> Window:
        if self.role not in ROLES:
            raise ValueError(f"no role '{self.role}'; allowed: {', '.join(ROLES)}")
        steps = [
            (name, value)
            for name in ("low_outer", "low", "target", "high", "high_outer")
            if (value := getattr(self, name)) is not None
        ]
        if all(name == "target" for name, _ in steps):
            raise ValueError(f"window of {self.key}: give at least one of low, high, low_outer, high_outer")
        for (lower, a), (upper, b) in itertools.pairwise(steps):
            if a > b:
                raise ValueError(f"window of {self.key}: {lower} = {a:g} is above {upper} = {b:g}; it must not be")
        return self


class Recipe(Table):
    """A whole recipe file. `version` names its content.

    zones: wanted temperature of each zone, C. shares: percent of each feeder, summing to 100.
    """

    format: Literal[1]
    recipe: RecipeTable
    zones: dict[str, float] = {}
    shares: dict[str, Annotated[float, Field(ge=0, le=100)]] = {}
    window: tuple[Window, ...] = ()
    settings: dict[str, dict[str, float | bool | str]] = {}
    version: str = ""

    @property
    def name(self) -> str:
        """Name of the recipe."""
        return self.recipe.name

    def window_of(self, key: str) -> Window | None:
        """The window of a channel, if the recipe has one."""
        return next((window for window in self.window if window.key == key), None)

    @model_validator(mode="after")
    def _parts_fit(self) -> Recipe:
        problems: list[str] = []
        keys = [window.key for window in self.window]
        problems += [f"window of {key} is there twice" for key in sorted({k for k in keys if keys.count(k) > 1})]
        total = sum(self.shares.values())
        if self.shares and abs(total - 100) > 0.1:
            problems.append(f"shares sum to {total:g} %, they must sum to 100")
        ceiling = self.recipe.ceiling_c
        for zone, wanted in self.zones.items():
            if ceiling is not None and wanted > ceiling:
                problems.append(f"zones.{zone} = {wanted:g} C is above the ceiling of {ceiling:g} C")
        if self.recipe.melting_point_c is None:
            for code in self.recipe.materials:
                try:
                    material(code)
                except MaterialError as error:
                    problems.append(f"{error}; for another one give melting_point_c and ceiling_c")
        if problems:
            raise ValueError("; ".join(problems))
        return self


def read_recipe(path: Path) -> Recipe:
    """The recipe file at `path`; raises SettingsError with every mistake in it."""
    data, version = read_toml(path)
    return validate(Recipe, {**data, "version": version}, path)
