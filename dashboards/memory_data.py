"""A store in memory that reads like the journal: for tests, and for looking at pages without a plant."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from dashboards.data import JournalData
from ingest.block import NONE, Block, Note
from monitor.journal.actions import Action, checked_action
from monitor.journal.levels import Levels, empty_levels, levels_of, merge
from monitor.journal.phases import PhaseRun
from monitor.journal.place import Newest
from monitor.journal.used_files import UsedFile
from monitor.line import Line
from monitor.phases import PHASES
from monitor.recipe import Recipe
from monitor.records import Finding, Record

Series = tuple[np.ndarray, np.ndarray]


@dataclass
class MemoryLine:
    """Everything known of one line. phases: (start, end, phase name); quantities on their own 10 s cells."""

    line: Line
    recipes: list[Recipe]
    block: Block
    phases: list[tuple[int, int, str]]
    quantities: dict[str, Series] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    account: dict[str, Any] = field(default_factory=dict)
    source: str = "live"


class MemoryStore:
    """Lines by name."""

    def __init__(self, lines: Sequence[MemoryLine] = ()) -> None:
        self._lines = {held.line.name: held for held in lines}
        self._actions: dict[str, list[Action]] = {}

    def lines(self) -> list[str]:
        return sorted(self._lines)

    def line(self, name: str) -> Line:
        return self._lines[name].line

    def recipes(self, name: str) -> list[Recipe]:
        return self._lines[name].recipes

    def blocks(self, line: str, t0: int, t1: int, channels: Sequence[str] | None = None) -> Block:
        held = self._lines[line].block
        wanted = tuple(channels) if channels is not None else held.channels
        step = held.step
        first, last = -(-t0 // step), -(-t1 // step)
        n = max(0, last - first)
        values = np.full((len(wanted), n), np.nan)
        status = np.full((len(wanted), n), NONE, dtype=np.uint8)
        origin = held.t0 // step
        low, high = max(first, origin), min(last, origin + held.n)
        for row, key in enumerate(wanted):
            if key in held.channels and high > low:
                source = held.channels.index(key)
                values[row, low - first : high - first] = held.values[source, low - origin : high - origin]
                status[row, low - first : high - first] = held.status[source, low - origin : high - origin]
        return Block(first * step, step, wanted, values, status)

    def levels(
        self,
        line: str,
        names: Sequence[str],
        t0: int,
        t1: int,
        width_s: int,
        kind: Literal["reading", "quantity"] = "reading",
    ) -> Levels:
        levels = empty_levels(names, t0, t1, width_s)
        if kind == "reading":
            merge(levels, levels_of(self.blocks(line, t0, t1, names), width_s))
            return levels
        width = width_s * 10**9
        for name, (t, y) in self.quantities(line, names, t0, t1).items():
            row = levels.channels.index(name)
            cell = (t - levels.t[0]) // width
            for at in np.unique(cell[(cell >= 0) & (cell < levels.t.size)]):
                inside = y[cell == at]
                inside = inside[np.isfinite(inside)]
                if inside.size:
                    levels.minimum[row, at], levels.maximum[row, at] = inside.min(), inside.max()
                    levels.mean[row, at], levels.count[row, at] = inside.mean(), inside.size
        return levels

    def quantities(self, line: str, names: Sequence[str], t0: int, t1: int) -> Mapping[str, Series]:
        held = self._lines[line].quantities
        wanted = names or tuple(held)
        return {
            name: tuple(part[(held[name][0] >= t0) & (held[name][0] < t1)] for part in held[name])  # type: ignore[misc]
            for name in wanted
            if name in held
        }

    def phase_runs(self, line: str, t0: int, t1: int) -> list[PhaseRun]:
        return [
            PhaseRun(max(start, t0), min(end, t1), PHASES.index(name))
            for start, end, name in self._lines[line].phases
            if start < t1 and end > t0
        ]

    def findings(self, line: str, t0: int | None = None, t1: int | None = None) -> list[Finding]:
        return [
            f
            for f in self._lines[line].findings
            if (t1 is None or f.last.since < t1) and (t0 is None or f.last.until is None or f.last.until >= t0)
        ]

    def notes(self, line: str, t0: int, t1: int) -> list[Note]:
        return [note for note in self._lines[line].block.notes if t0 <= note.at_ns < t1]

    def used_files(self, line: str, t0: int, t1: int) -> list[UsedFile]:
        held = self._lines[line]
        recipes = [UsedFile("recipe", one.name, one.version, 0, None, "") for one in held.recipes]
        return [UsedFile("line", line, held.line.version, 0, None, ""), *recipes]

    def span(self, line: str) -> tuple[int, int]:
        block = self._lines[line].block
        return (block.t0, block.end) if block.n else (0, 0)

    def newest(self, line: str) -> Newest | None:
        block = self._lines[line].block
        return Newest(block.end - block.step, block.end) if block.n else None

    def source(self, line: str) -> str:
        return self._lines[line].source

    def account(self, line: str) -> Mapping[str, Any]:
        return self._lines[line].account

    def records(self, line: str, after_seq: int = 0, t0: int | None = None, t1: int | None = None) -> list[Record]:
        """What the monitor must have said for the findings to be there: each opened, and then its last word."""
        said = []
        for finding in self._lines[line].findings:
            said.append(replace(finding.last, kind="opened", decided_at=finding.first_decided_at, until=None))
            if finding.last.kind != "opened":
                said.append(finding.last)
        said.sort(key=lambda record: record.decided_at)
        numbered = [replace(record, seq=number) for number, record in enumerate(said, 1)]
        return [
            record
            for record in numbered
            if record.seq > after_seq
            and (t0 is None or record.decided_at >= t0)
            and (t1 is None or record.decided_at < t1)
        ]

    def act(
        self, line: str, finding: str, kind: str, who: str, text: str, at_ns: int, until_ns: int | None = None
    ) -> Action:
        about = next((f for f in self._lines[line].findings if f.last.finding == finding), None)
        given = Action(finding, kind, who, text, at_ns, until_ns)
        action = checked_action(given, about.last.priority if about else None)
        self._actions.setdefault(line, []).append(action)
        return action

    def actions(self, line: str, finding: str | None = None) -> list[Action]:
        return [a for a in self._actions.get(line, []) if finding in (None, a.finding)]


class MemoryData(JournalData):
    """The data door over lines held in memory."""

    def __init__(self, lines: Sequence[MemoryLine] = (), *, clock: Callable[[], int] = time.time_ns) -> None:
        super().__init__(MemoryStore(lines), clock=clock)
