"""The recipe file: what one product needs from the line, as targets and windows."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from ingest.roles import ROLES, channel_key
from monitor.materials import AMORPHOUS_MARGIN_C, MaterialError, material
from monitor.settings_file import Table, parts, read_toml, twice, validate, word

Positive = Annotated[float, Field(gt=0)]


class RecipeTable(Table):
    """[recipe] lines: names of the lines it is made on; empty = any. learned_from: runs its windows came from.

    melting_point_c: of a crystalline polymer. glass_transition_c: in its place, of an amorphous one (PVC, PS, PC, ...).
    """

    name: Annotated[str, Field(min_length=1, max_length=60)]
    product: str = ""
    lines: tuple[str, ...] = ()
    materials: tuple[str, ...] = ()
    feed: Literal["starved", "flooded"] | None = None
    melting_point_c: float | None = None
    glass_transition_c: float | None = None
    ceiling_c: float | None = None
    hot_hold_min: Positive | None = None
    soak_min: Annotated[float, Field(ge=0)] = 20.0
    rate_kg_h: Positive | None = None
    screw_speed_rpm: Positive | None = None
    bulk_density_kg_m3: Positive | None = None
    melt_density_kg_m3: Positive | None = None
    learned_from: tuple[str, ...] = ()

    def flows_from_c(self, margin_c: float = 0.0) -> float | None:
        """Temperature from which the melt flows, C, as this recipe says it; None where it does not.

        margin_c: above a melting point. An amorphous polymer takes `AMORPHOUS_MARGIN_C` above its glass transition
        in any case: that is where it flows.
        """
        if self.glass_transition_c is not None:
            return self.glass_transition_c + AMORPHOUS_MARGIN_C
        return None if self.melting_point_c is None else self.melting_point_c + margin_c


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
            near = difflib.get_close_matches(self.role, ROLES, n=1)
            hint = f", did you mean '{near[0]}'?" if near else f"; allowed: {', '.join(ROLES)}"
            raise ValueError(f"no role '{self.role}'{hint}")
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

    @classmethod
    def misfits(cls, data: Mapping[str, Any]) -> list[str]:
        """Windows that are there twice, shares that are not a whole, zones above the ceiling, unknown materials."""
        problems: list[str] = []
        keys = [channel_key(word(part, "role"), word(part, "at")) for part in parts(data, "window")]
        problems += [f"window of {key} is there twice" for key in twice(keys)]
        shares, zones, table = (data.get(key) or {} for key in ("shares", "zones", "recipe"))
        if isinstance(shares, dict) and shares and all(map(_number, shares.values())):
            total = sum(shares.values())
            if abs(total - 100) > 0.1:
                problems.append(f"shares sum to {total:g} %, they must sum to 100")
        if not isinstance(table, dict):
            return problems
        ceiling = table.get("ceiling_c")
        for zone, wanted in zones.items() if isinstance(zones, dict) and _number(ceiling) else ():
            if _number(wanted) and wanted > ceiling:
                problems.append(f"zones.{zone} = {wanted:g} C is above the ceiling of {ceiling:g} C")
        flows = [key for key in ("melting_point_c", "glass_transition_c") if table.get(key) is not None]
        if len(flows) == 2:
            problems.append(
                "recipe: melting_point_c and glass_transition_c are both given; keep the melting point of a "
                "crystalline polymer, the glass transition of an amorphous one"
            )
        codes = table.get("materials") or ()
        for code in codes if not flows and isinstance(codes, (list, tuple)) else ():
            try:
                material(str(code))
            except MaterialError as error:
                problems.append(
                    f"{error}; for another one give melting_point_c, or glass_transition_c of an amorphous one, and "
                    "ceiling_c"
                )
        return problems

    @model_validator(mode="after")
    def _parts_fit(self) -> Recipe:
        problems = self.misfits(self.model_dump())
        if problems:
            raise ValueError("; ".join(problems))
        return self


def _number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def read_recipe(path: Path) -> Recipe:
    """The recipe file at `path`; raises SettingsError with every mistake in it."""
    data, version = read_toml(path)
    return validate(Recipe, {**data, "version": version}, path)
