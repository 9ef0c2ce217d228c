"""A reference put to work on a line: expectation and scatter of each cell where it is valid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.exact import Floats
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Evidence
from monitor.reference.features import feature_cells
from monitor.reference.machine import no_longer_valid
from monitor.reference.model import Reference
from monitor.view import Readings

LEANS = "by_reference"
"""Fact of a cell: 1 where an expectation the condition asked for came from the reference."""

FROM_REFERENCE = "what is expected comes from the reference"
"""How the evidence begins by which a finding says that it leans on one."""


class Applied:
    """A reference beside what is learned inside the run; preferred to it where it holds.

    reasons: why it does not hold, by quantity; '' for all.
    """

    def __init__(self, reference: Reference, line: Line, recipe: Recipe) -> None:
        self.reference = reference
        self.reasons = no_longer_valid(reference, line, recipe)
        self.normals = tuple(
            normal for normal in reference.normals if normal.name not in self.reasons and "" not in self.reasons
        )
        self.features = tuple(sorted({feature.name for normal in self.normals for feature in normal.features}))

    def over(
        self,
        expected: Floats,
        scatter: Floats,
        names: Sequence[str],
        readings: Readings,
        derived: Mapping[str, Floats],
    ) -> tuple[Floats, Floats, dict[str, NDArray[np.bool_]]]:
        """Expectation and scatter of `names`, [quantity, n], the reference's where it is valid; and where that is."""
        expected, scatter = expected.copy(), scatter.copy()
        leans: dict[str, NDArray[np.bool_]] = {}
        cells = feature_cells(self.features, readings, derived)
        for normal in self.normals:
            if normal.name not in names:
                continue
            row = names.index(normal.name)
            value = np.broadcast_to(normal.value(cells), (readings.n,))
            valid = np.isfinite(value)
            expected[row] = np.where(valid, value, expected[row])
            scatter[row] = np.where(valid, normal.spread(value), scatter[row])
            leans[normal.name] = valid
        return expected, scatter, leans

    def evidence(self) -> Evidence:
        """How a finding says that it leans on it."""
        day = str(self.reference.learned_from["first"])[:10]
        what = f"{FROM_REFERENCE} {self.reference.version} of {day}; steady hours in it"
        return Evidence(what, self.reference.hours, "h")
