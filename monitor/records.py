"""What the monitor decides, as an append-only list of records, and the findings they add up to."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from typing import Any, Literal

Family = Literal[
    "window",
    "over_temperature",
    "under_temperature",
    "drift",
    "starved",
    "flooded",
    "feeder",
    "composition",
    "heater",
    "sensor",
    "pressure",
    "drive",
    "vacuum",
    "cold_start",
    "hot_hold",
    "multivariate",
    "data",
]
RecordKind = Literal["opened", "revised", "closed", "cut off"]
Confidence = Literal["high", "medium", "low"]

PRIORITY_WORDS = {1: "act now", 2: "act soon", 3: "look this shift", 4: "note"}
"""What a priority asks of a person."""


@dataclass(frozen=True)
class Evidence:
    """One measured fact behind a finding.

    what: what was measured, in the trade's words. value, expected: in `unit` (None = not known; NaN
    and infinity become None).
    sigma: distance from expected in units of the quantity's own scatter, if that is known.
    channel: channel key or quantity name to chart, '' if none.
    """

    what: str
    value: float | None
    unit: str
    expected: float | None = None
    sigma: float | None = None
    channel: str = ""

    def __post_init__(self) -> None:
        for name in ("value", "expected", "sigma"):
            number = getattr(self, name)
            if number is not None and not math.isfinite(number):
                object.__setattr__(self, name, None)

    def sentence(self) -> str:
        """The fact as a person reads it."""
        if self.value is None:
            return self.what
        text = f"{self.what} {figure(self.value)} {shown_unit(self.unit)}".rstrip()
        if self.expected is not None:
            text += f", expected {figure(self.expected)}"
        if self.sigma is not None:
            away = abs(self.sigma)
            text += f" ({away:.1f} sigma)" if away < 20 else " (over 20 sigma)"
        return text


def shown_unit(unit: str) -> str:
    """The unit as people read it: C is kept without its degree sign inside."""
    return f"°{unit}" if unit == "C" or unit.startswith(("C ", "C/")) else unit


def figure(value: float) -> str:
    """A number with as many digits as a person needs."""
    digits = 0 if abs(value) >= 1000 else 1 if abs(value) >= 10 else 2
    # Adding nothing turns a minus nothing into nothing.
    return f"{round(value, digits) + 0.0:.{digits}f}"


@dataclass(frozen=True)
class Cause:
    """One possible cause of a finding. Causes come in order, the likeliest first.

    text: the cause in the trade's words. speaks_for, speaks_against: what was seen, or not seen, a short sentence
    each. shown_by: conditions whose findings bear witness for it; a cause with a witness comes first.
    """

    text: str
    speaks_for: tuple[str, ...] = ()
    speaks_against: tuple[str, ...] = ()
    shown_by: tuple[str, ...] = ()


@dataclass(frozen=True)
class Record:
    """One decision about one finding. Times are UTC nanoseconds.

    decided_at: when it could be known. seq: place in the line's record log, from 1, without gaps.
    finding: id, a hash of line, condition, subject and since.
    since: when the rule became true. until: when it stopped being true, None while it holds.
    channel: channel key or quantity the finding is about.
    priority: 1 (highest) to 4. causes: ranked, the likeliest first. checks: what to look at, in order.
    part_of: id of the finding that explains this one, '' if none.
    """

    decided_at: int
    seq: int
    finding: str
    kind: RecordKind
    line: str
    family: Family
    condition: str
    channel: str
    since: int
    until: int | None
    priority: int
    confidence: Confidence
    summary: str
    evidence: tuple[Evidence, ...] = ()
    causes: tuple[Cause, ...] = ()
    checks: tuple[str, ...] = ()
    caution: str = ""
    lot: str = ""
    recipe: str = ""
    part_of: str = ""

    @property
    def cause_texts(self) -> tuple[str, ...]:
        """The causes in their order, without what speaks for and against them."""
        return tuple(cause.text for cause in self.causes)

    def as_json(self) -> str:
        """One line of JSON that `from_json` turns back into an equal record."""
        return json.dumps(vars(self), default=vars, sort_keys=True, allow_nan=False, ensure_ascii=False)

    @staticmethod
    def from_json(text: str) -> Record:
        """The record `as_json` wrote."""
        data: dict[str, Any] = json.loads(text)
        data["evidence"] = tuple(Evidence(**item) for item in data["evidence"])
        data["causes"] = tuple(
            Cause(item["text"], *(tuple(item[part]) for part in ("speaks_for", "speaks_against", "shown_by")))
            for item in data["causes"]
        )
        data["checks"] = tuple(data["checks"])
        return Record(**data)


@dataclass(frozen=True)
class Finding:
    """The last word on one episode: the fold of its records.

    first_decided_at: when it was first said. last: its newest record.
    """

    first_decided_at: int
    last: Record
    revisions: int = field(default=1)

    @property
    def open(self) -> bool:
        """Whether it still holds."""
        return self.last.kind in ("opened", "revised")


def finding_id(line: str, condition: str, subject: str, since: int) -> str:
    """Stable name of an episode: the same log gives the same id, wherever and however often it is read."""
    return hashlib.sha256(f"{line}\n{condition}\n{subject}\n{since}".encode()).hexdigest()[:16]


def findings(records: Iterable[Record]) -> list[Finding]:
    """Records folded into findings, ordered by start, then priority."""
    folded: dict[str, Finding] = {}
    for record in records:
        before = folded.get(record.finding)
        first = before.first_decided_at if before else record.decided_at
        folded[record.finding] = Finding(first, record, before.revisions + 1 if before else 1)
    return sorted(folded.values(), key=lambda f: (f.last.since, f.last.priority, f.last.condition, f.last.channel))


RECORD_FIELDS = tuple(item.name for item in fields(Record))
