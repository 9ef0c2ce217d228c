"""The faults the invented plant can have: the catalogue (fault_catalogue*.toml) and one fault of a run."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources
from typing import Any, Literal

On = Literal["feeder", "zone", "line"]
CATALOGUE = (
    "fault_catalogue.toml", "fault_catalogue_feeding.toml", "fault_catalogue_heat.toml", "fault_catalogue_line.toml",
)  # fmt: skip


@dataclass(frozen=True)
class FaultKind:
    """One kind of fault.

    name: key. family: group of the catalogue. words: what an engineer would call it. on: what its subject is.
    lines: kinds of line that can have it. severity: what the number means. low, high: range drawn from.
    moves: what physically moves, in order. ramp_s: time it takes to come on; 0 = at once, -1 = it grows for as
    long as it lasts.
    """

    name: str
    family: str
    words: str
    on: On
    lines: tuple[str, ...]
    severity: str
    low: float
    high: float
    moves: str
    ramp_s: float
    sizes: tuple[float, ...]
    earliest: str


def _read() -> dict[str, FaultKind]:
    entries: dict[str, dict[str, Any]] = {}
    for part in CATALOGUE:
        entries |= tomllib.loads((resources.files("sample_logs") / part).read_text(encoding="utf-8"))
    return {
        name: FaultKind(
            name=name,
            family=entry["family"],
            words=entry["words"],
            on=entry["on"],
            lines=tuple(entry["lines"]),
            severity=entry["severity"],
            low=float(entry["from"]),
            high=float(entry["to"]),
            moves=entry["moves"],
            ramp_s=float(entry.get("ramp_s", 0.0)),
            sizes=tuple(float(size) for size in entry.get("sizes", (entry["to"],))),
            earliest=entry["earliest"],
        )
        for name, entry in entries.items()
    }


FAULTS: dict[str, FaultKind] = _read()
"""Every kind by name."""


@dataclass(frozen=True)
class Fault:
    """One fault of a run. start_s, end_s from the start of the run; end_s may lie beyond its end.

    subject: feeder or zone name, '' for the whole line.
    """

    kind: str
    subject: str
    start_s: float
    end_s: float
    severity: float = 1.0

    def __post_init__(self) -> None:
        if self.kind not in FAULTS:
            raise ValueError(f"no fault '{self.kind}'; known: {', '.join(FAULTS)}")
        if not self.end_s > self.start_s:
            raise ValueError(f"fault {self.kind} ends at {self.end_s:g} s, before it starts")
