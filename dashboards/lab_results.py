"""What a laboratory measured on samples of a lot, as people give it, and what is kept of it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

from dashboards.data import JournalData
from dashboards.views import Lot
from monitor.journal.actions import LOT_MARK

LAB_MARK = f"{LOT_MARK}lab:"
"""Stands before a lot's start, UTC ns, where a note is a result of the laboratory."""

FLOW = frozenset({"mfr", "mvr", "melt flow", "melt flow rate", "melt flow index", "melt volume rate", "flow"})
VISCOSITY = frozenset({"viscosity", "melt viscosity", "shear viscosity", "viscosity number", "intrinsic viscosity"})
"""What people call what makes the die's pressure fall or rise."""


@dataclass(frozen=True)
class LabResult:
    """One measured value. sampled: when the sample was taken, UTC ns; at that time it left the die.

    lot: start of its lot, UTC ns. value, low, high: in `unit`; u: standard uncertainty of the laboratory, in `unit`;
    None where not given. container: '' where the sample was not taken of one that is known. ingredient: name of the
    feeder whose share it is, '' where it is none. value None takes back what was given before for the same sample.
    """

    sampled: int
    lot: int
    quantity: str
    value: float | None
    unit: str
    low: float | None = None
    high: float | None = None
    container: str = ""
    ingredient: str = ""
    u: float | None = None

    @property
    def sample(self) -> tuple[int, int, str, str, str]:
        """What tells a result from those of other samples; two values of one sample are two results."""
        return (self.lot, self.sampled, self.quantity.casefold(), self.container, self.ingredient)

    @property
    def side(self) -> int:
        """-1 under `low`, +1 over `high`, 0 inside or where no limit is given."""
        assert self.value is not None
        if self.low is not None and self.value < self.low:
            return -1
        return 1 if self.high is not None and self.value > self.high else 0

    @property
    def thickness(self) -> int:
        """+1 where more of it means thicker melt, -1 where thinner, 0 where it says nothing about that."""
        words = " ".join(self.quantity.casefold().split())
        return -1 if words in FLOW else 1 if words in VISCOSITY else 0


def standing(given: Iterable[LabResult]) -> list[LabResult]:
    """What stands after all that was given, in its order: the same twice is once, and what was taken back is gone."""
    kept: list[LabResult] = []
    for one in given:
        if one.value is None:
            kept = [other for other in kept if other.sample != one.sample]
        elif one not in kept:
            kept.append(one)
    return kept


def lab_results(data: JournalData, lot: Lot) -> list[LabResult]:
    """All results of a lot, by the time of their sample."""
    return sorted(standing(_given(data, lot.line, lot.start)), key=lambda one: (one.sampled, one.quantity))


def write_results(data: JournalData, line: str, who: str, results: Sequence[LabResult]) -> int:
    """Keeps them in the journal, those that stand there already not again; how many were new."""
    known = {start: standing(_given(data, line, start)) for start in {one.lot for one in results}}
    new = 0
    for one in results:
        before = known[one.lot]
        known[one.lot] = standing([*before, one])
        if known[one.lot] == before:
            continue
        text = json.dumps(asdict(one), ensure_ascii=False, allow_nan=False)
        data.act(line, f"{LAB_MARK}{one.lot}", "note", who.strip(), text, at_ns=one.sampled)
        new += 1
    return new


def _given(data: JournalData, line: str, start: int) -> list[LabResult]:
    return [LabResult(**json.loads(action.text)) for action in data.actions(line, f"{LAB_MARK}{start}")]
