"""The one contract of every condition, and the words it speaks in.

A condition is a frozen object whose `advance` is pure: no clock, no randomness, no files. It takes the state
left by the cells before and gives the state for the cells after, so that judging a log in one piece, in
hours or cell by cell gives the same records. It never looks past the cell it is judging.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, ClassVar, Literal, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from monitor.line import Line
from monitor.materials import Material
from monitor.recipe import Recipe
from monitor.records import Cause, Confidence, Evidence, Family

if TYPE_CHECKING:
    from monitor.reference.apply import Applied

DISARMED, UNKNOWN, CLEAR = -2, -1, 0
"""Levels below 1: the rule does not apply here; it applies but cannot be judged; it is not met."""

State = dict[str, Any]
"""Plain numbers, strings, lists and numpy arrays: what a checkpoint can keep."""

NS = 1_000_000_000

Made = TypeVar("Made")


@dataclass(frozen=True)
class Context:
    """What holds still while cells pass: it changes only where a note says so.

    recipe: None where the log names one that nobody gave. material: of the recipe's base polymer.
    step_s: cadence of the cells in this grid, seconds. reference: what was learned for this line and recipe, if given.
    """

    line: Line
    recipe: Recipe | None
    material: Material | None
    step_s: float
    reference: Applied | None = None

    @property
    def starve_fed(self) -> bool:
        """Whether the feeders set the rate: the recipe's word, else the line's, else usual for its kind."""
        said = (self.recipe and self.recipe.recipe.feed) or self.line.line.feed
        return said == "starved" if said else self.line.line.kind == "twin-screw"

    @property
    def recipe_rate_kg_h(self) -> float | None:
        """The rate that the recipe states; None without a recipe, or where it states none."""
        return self.recipe.recipe.rate_kg_h if self.recipe else None

    def has(self, role: str) -> bool:
        """Whether the line logs any channel of this role."""
        return role in self._subjects

    def subjects_of(self, role: str) -> tuple[str, ...]:
        """Subjects of all channels of a role, in the order of the line file's parts."""
        return self._subjects.get(role, ())

    @functools.cached_property
    def _subjects(self) -> Mapping[str, tuple[str, ...]]:
        """Subjects by role, for every role the line logs."""
        order = (
            *self.line.zone_names,
            *(f.name for f in self.line.feeder),
            *(v.name for v in self.line.vent),
        )
        logged: dict[str, list[str]] = {}
        for sensor in self.line.sensor:
            logged.setdefault(sensor.role, []).append(sensor.at)
        return {
            role: (*(name for name in order if name in at), *(name for name in at if name not in order))
            for role, at in logged.items()
        }

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What `make` gives of this context alone, made once for all who ask by the same key."""
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]

    @functools.cached_property
    def _kept(self) -> dict[Hashable, Any]:
        return {}

    def cells(self, seconds: float) -> int:
        """How many cells of this grid cover `seconds`, at least one."""
        return max(1, int(np.ceil(seconds / self.step_s - 1e-9)))


@dataclass(frozen=True)
class Explanation:
    """What a condition says about one episode, from facts known when it says it.

    moved: how far torque, pressure and rate are from what is expected here, as natural logarithms, by those names;
    what is not known is left out or NaN. It decides whether a supposed cause is large enough.
    """

    summary: str
    priority: int
    confidence: Confidence
    evidence: tuple[Evidence, ...] = ()
    causes: tuple[str | Cause, ...] = ()
    checks: tuple[str, ...] = ()
    caution: str = ""
    moved: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Judged:
    """What a condition found in a run of cells, for the episodes to be made of.

    level: int8 [subject, n]; DISARMED, UNKNOWN, CLEAR or 1 and up, higher is worse.
    score: how bad, [subject, n]; the facts of the worst cell are kept.
    facts: name -> [subject, n] or [n]; what `explain` needs to know of a cell.
    """

    level: NDArray[np.int8]
    score: NDArray[np.float64]
    facts: dict[str, NDArray[np.float64]]


def no_facts(level: NDArray[np.int8]) -> Judged:
    """Judged where nothing speaks: how bad it is and what of it would be told is asked of cells that speak alone."""
    return Judged(level, np.broadcast_to(np.nan, level.shape), {})


@dataclass(frozen=True)
class Timing:
    """On-delay: how long a rule must hold before it is said. Off-delay: how long it must be clear again.

    blind_s: after so long without readings an open episode is cut off. urgent_level, urgent_on_s: a level from this
    one on is said after this on-delay already; None: none is. again_s: what comes back within so long after it was
    over comes and goes, and is kept open until it has been away for so long.
    """

    on_s: float
    off_s: float
    blind_s: float = 120.0
    urgent_level: int | None = None
    urgent_on_s: float = 0.0
    again_s: float = 0.0


def setting(default: float, low: float, high: float, unit: str) -> Any:
    """A numeric setting with the bounds it must stay in, both allowed."""
    return field(default=default, metadata={"low": low, "high": high, "unit": unit})


class SettingOutOfBounds(ValueError):
    """Settings of a condition that are no numbers, not inside their bounds, or do not exist; a sentence each."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(problems))


class Condition(Protocol):
    """One thing a process engineer recognises. Settings are the dataclass fields of the implementation.

    name: stable id in findings. family: one of records.Family. title: what an operator would say.
    grid: 'cadence' for limits, jumps and hard rules; 'coarse' (10 s) for the rest.
    needs: roles without which it is not armed on a line; 'a|b' asks for one of them, 'a@place' for a sensor with that
    `position`. sharpened_by: roles, 'reference',
    'recipe' or 'geometry' with which it sees more or sooner.
    """

    name: ClassVar[str]
    family: ClassVar[Family]
    title: ClassVar[str]
    grid: ClassVar[Literal["cadence", "coarse"]]
    needs: ClassVar[tuple[str, ...]]
    sharpened_by: ClassVar[tuple[str, ...]]
    quantities: ClassVar[tuple[str, ...]]

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """What it watches on this line; it depends on the line file alone, never on the recipe."""
        ...

    def channel(self, subject: str) -> str:
        """The channel key or quantity to chart for a subject."""
        ...

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Delays for a subject."""
        ...

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """State before the first cell."""
        ...

    def advance(self, state: State, view: Any, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Judge the cells of `view` (monitor.view.View)."""
        ...

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Say it in words."""
        ...


def with_settings(condition: Any, given: dict[str, float | bool | str]) -> Any:
    """The condition with settings from a line or recipe file; raises SettingOutOfBounds naming all of them."""
    known = {item.name: item for item in fields(condition)}
    problems = []
    for key, value in given.items():
        if key not in known:
            problems.append(f"{condition.name}.{key}: no such setting; it has {', '.join(known) or 'none'}")
            continue
        low, high, unit = (known[key].metadata[part] for part in ("low", "high", "unit"))
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            problems.append(f"{condition.name}.{key} = {value!r}: must be {low:g} to {high:g} {unit}")
    if problems:
        raise SettingOutOfBounds(problems)
    return replace(condition, **{key: float(value) for key, value in given.items()})
