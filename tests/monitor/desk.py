"""Findings said one after another by conditions of any name, for the tests of which explains which."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor import causes, explains
from monitor.contract import Context, Explanation
from monitor.episodes import Turn
from monitor.records import Cause, Evidence, Record
from tests.monitor.scripted_world import scripted_line, scripted_recipe

S = 1_000_000_000
CTX = Context(scripted_line(), scripted_recipe(), None, 10.0)
ROLES = {
    **dict.fromkeys(explains.NEAR_BY, "zone_output"),
    "zone_under_temperature": "zone_temperature",
    "zone_over_temperature": "zone_temperature",
}


@dataclass(frozen=True)
class Spoken:
    """A condition of any name that says what it is told to say."""

    name: str
    priorities: tuple[int, ...] = (3,)
    family: str = "drift"
    moved: Mapping[str, float] = field(default_factory=dict)
    causes: tuple[Cause, ...] = ()
    evidence: tuple[Evidence, ...] = ()

    def channel(self, subject: str) -> str:
        role = None if ":" in subject else ROLES.get(self.name)
        return subject if role is None else role if subject == "all" else f"{role}:{subject}"

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        priority = self.priorities[min(level, len(self.priorities)) - 1]
        return Explanation(f"{self.name} {subject}", priority, "high", self.evidence, self.causes, moved=self.moved)


def standing_as(name: str, part_of: str) -> dict[str, Any]:
    """An open finding as it stands."""
    record = Desk().say(name, 0)
    return {
        "condition": name, "channel": "x", "since": 0, "priority": 3, "part_of": part_of, "ended": None, "moved": {},
        "raised": 4,
        "summary": "", "record": dataclasses.replace(record, part_of=part_of),
    }  # fmt: skip


class Desk:
    """Findings as they are said, one turn after another."""

    def __init__(self) -> None:
        self.standing: dict[str, Any] = {}
        self.seq = 1
        self.told: list[Record] = []

    def say(
        self,
        name: str,
        since_s: int,
        kind: Any = "opened",
        subject: str = "x",
        level: int = 1,
        until_s: int | None = None,
        decided_s: int | None = None,
        **given: Any,
    ) -> Any:
        until = None if until_s is None else until_s * S
        turn = Turn(0, (decided_s or until_s or since_s + 60) * S, kind, level, since_s * S, until, {})
        spoken: Any = Spoken(name, **given)
        before = dict(self.standing)
        records, after = causes.said(spoken, subject, turn, CTX, "lot", self.seq, self.standing)
        assert self.standing == before, "what stood before is not written into"
        assert [r.seq for r in records] == list(range(self.seq, self.seq + len(records)))
        self.seq += len(records)
        self.standing, self.told = after, records
        return records[0]

    def newest(self, said: Record) -> Record:
        """What is open says this by now."""
        return self.standing[said.finding]["record"]
