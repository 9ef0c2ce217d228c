"""Which lots and recipes a log held, and how long each was in which phase."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ingest.block import Block, Note
from monitor.phases import PHASES


@dataclass
class LotTime:
    """One stretch under one lot and recipe. start, end: UTC ns. phase_s: seconds in each of PHASES."""

    lot: str
    recipe: str
    start: int
    end: int
    phase_s: np.ndarray = field(default_factory=lambda: np.zeros(len(PHASES)))


class LotBook:
    """Filled block by block; its size follows the number of lots, not the length of the log.

    schedule: notes of the schedule file. recipe: in force where nobody names one.
    """

    def __init__(self, schedule: Sequence[Note], recipe: str = "") -> None:
        self._schedule = sorted(note for note in schedule if note.kind in ("lot", "recipe"))
        self.lots: list[LotTime] = []
        self.recipes_named: set[str] = set()
        self._lot, self._recipe = "", recipe
        self.blind: dict[tuple[str, str, str], float] = {}

    def add_blind(self, blind: Mapping[tuple[str, str, str], float]) -> None:
        """Seconds in which conditions could not judge, by lot, condition and subject (Step.blind)."""
        for what, seconds in blind.items():
            self.blind[what] = self.blind.get(what, 0.0) + seconds

    def add(self, block: Block, phase: np.ndarray) -> None:
        """Count the cells of the next block."""
        due = [note for note in self._schedule if note.at_ns < block.end]
        self._schedule = self._schedule[len(due) :]
        notes = sorted([*due, *(note for note in block.notes if note.kind in ("lot", "recipe"))])
        first = 0
        for note in notes:
            cell = min(block.n, max(0, (note.at_ns - block.t0) // block.step))
            self._count(block, phase, first, cell)
            self._take(note)
            first = cell
        self._count(block, phase, first, block.n)

    def _take(self, note: Note) -> None:
        if note.kind == "lot":
            self._lot = note.text
        else:
            self._recipe = note.text
            self.recipes_named.add(note.text)

    def _count(self, block: Block, phase: np.ndarray, first: int, last: int) -> None:
        if last <= first:
            return
        newest = self.lots[-1] if self.lots else None
        start = block.t0 + first * block.step
        if newest is None or (newest.lot, newest.recipe) != (self._lot, self._recipe):
            newest = LotTime(self._lot, self._recipe, start, start)
            self.lots.append(newest)
        newest.end = block.t0 + last * block.step
        newest.phase_s += np.bincount(phase[first:last], minlength=len(PHASES)) * (block.step / 1e9)
