"""Steady minutes of reference runs, taken from the one path that judges them.

A listener among the conditions: it speaks never, and keeps what passes. Only for learning; a monitor that judges never
has it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Literal

import numpy as np

from monitor.contract import DISARMED, Context, Explanation, Judged, State, Timing
from monitor.exact import Floats
from monitor.learned_quantities import kind_of, learned_cells, learned_names
from monitor.minute_medians import minute_medians
from monitor.records import Family
from monitor.reference.features import NOT_FOR_A_REFERENCE, feature_cells, feature_names
from monitor.view import CoarseView

MINUTE_S = 60
LOAD_REST_S = 600.0
STEEL_REST_S = 1800.0
"""So long after a change of speed or rate a minute counts, for loads and for what hangs on the steel."""


@dataclass
class Minutes:
    """What was collected: [minute, quantity] medians and spreads of 10 s cells, [minute, feature] medians.

    number: minutes since 1970. names, features: of the columns. Minutes that do not count are NaN or not there.
    """

    names: tuple[str, ...] = ()
    features: tuple[str, ...] = ()
    number: list[int] = field(default_factory=list)
    values: list[Floats] = field(default_factory=list)
    spreads: list[Floats] = field(default_factory=list)
    points: list[Floats] = field(default_factory=list)


@dataclass(frozen=True)
class ReferenceListener:
    """Keeps the minutes in which nothing was changed. An operator would say: nothing. Look-alikes: none.

    Missing cells count as missing. Memory: the cells of a minute; what it keeps grows with the log.
    """

    kept: Minutes

    name: ClassVar[str] = "reference_listener"
    family: ClassVar[Family] = "data"
    title: ClassVar[str] = "keeps steady minutes"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ()
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line."""
        return ("line",)

    def channel(self, subject: str) -> str:
        """None."""
        return ""

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Of no use."""
        return Timing(10, 10)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No cells of an unfinished minute."""
        return {"cells": None, "ages": None}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Keep whole steady minutes."""
        kept = self.kept
        if not kept.names:
            channels = tuple(view.index)
            found = learned_names(channels, view.quantities, ctx.line.relative_channels)
            kept.names = tuple(name for name in found if name not in NOT_FOR_A_REFERENCE)
            kept.features = feature_names(channels, view.quantities)
        cells = np.concatenate(
            (
                learned_cells(kept.names, view, view.quantities),
                np.array(list(feature_cells(kept.features, view, view.quantities).values())).reshape(-1, view.n),
            )
        )
        ages = np.where(view.in_phase("steady"), view.ages["unchanged"], -1.0)
        width = ctx.cells(MINUTE_S)
        lead = (view.t0 // view.step) % width
        if state["cells"] is not None and state["cells"].shape[1] == lead:
            cells, ages = np.concatenate((state["cells"], cells), axis=1), np.concatenate((state["ages"], ages))
            lead = 0
        skip = -lead % width
        whole = max(0, (len(ages) - skip) // width)
        end = skip + whole * width
        if whole:
            first = (view.t0 // view.step + view.n - len(ages) + skip) // width
            self._keep(cells[:, skip:end], ages[skip:end], first, width, ctx)
        nothing = np.zeros((1, view.n))
        after = {"cells": cells[:, end:].copy(), "ages": ages[end:].copy()}
        return after, Judged(np.full((1, view.n), DISARMED, np.int8), nothing, {})

    def _keep(self, cells: Floats, ages: Floats, first: int, width: int, ctx: Context) -> None:
        kept, minutes = self.kept, cells.shape[1] // width
        switched = np.zeros(len(cells), bool)
        switched[: len(kept.names)] = [kind_of(name).switched for name in kept.names]
        of_minutes = cells.reshape(len(cells), minutes, width).transpose(2, 1, 0)
        median, spread, enough = minute_medians(of_minutes, switched)
        median = np.where(enough, median, np.nan)
        age = ages.reshape(minutes, width).min(axis=1)
        rest = np.array([STEEL_REST_S if kind_of(name).kept else LOAD_REST_S for name in kept.names])
        for j in np.flatnonzero(age >= LOAD_REST_S).tolist():
            rested = age[j] >= rest
            count = len(kept.names)
            kept.number.append((first + j) * width * round(ctx.step_s) // MINUTE_S)
            kept.values.append(np.where(rested, median[j, :count], np.nan))
            kept.spreads.append(spread[j, :count])
            kept.points.append(median[j, count:])

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Never asked."""
        return Explanation("", 4, "low")
