"""What the data door reads through: the part of `monitor.journal.Journal` that pages use."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Literal, Protocol, cast

import numpy as np

from ingest.block import Block, Note
from monitor.journal.actions import Action
from monitor.journal.levels import Levels
from monitor.journal.phases import PhaseRun
from monitor.journal.place import Newest
from monitor.journal.used_files import UsedFile
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Finding, Record


class Source(Protocol):
    """One store of many lines. Times are UTC nanoseconds, spans are [t0, t1)."""

    def lines(self) -> list[str]: ...

    def line(self, name: str) -> Line: ...

    def recipes(self, name: str) -> list[Recipe]: ...

    def blocks(self, line: str, t0: int, t1: int, channels: Sequence[str] | None = None) -> Block: ...

    def levels(
        self,
        line: str,
        names: Sequence[str],
        t0: int,
        t1: int,
        width_s: int,
        kind: Literal["reading", "quantity"] = "reading",
    ) -> Levels: ...

    def quantities(
        self, line: str, names: Sequence[str], t0: int, t1: int
    ) -> Mapping[str, tuple[np.ndarray, np.ndarray]]: ...

    def phase_runs(self, line: str, t0: int, t1: int) -> Sequence[PhaseRun]: ...

    def findings(self, line: str, t0: int | None = None, t1: int | None = None) -> list[Finding]: ...

    def notes(self, line: str, t0: int, t1: int) -> list[Note]: ...

    def used_files(self, line: str, t0: int, t1: int) -> Sequence[UsedFile]: ...

    def span(self, line: str) -> tuple[int, int]: ...

    def newest(self, line: str) -> Newest | None: ...

    def source(self, line: str) -> str: ...

    def account(self, line: str) -> Mapping[str, Any]: ...

    def records(self, line: str, after_seq: int = 0, t0: int | None = None, t1: int | None = None) -> list[Record]: ...

    def act(
        self, line: str, finding: str, kind: str, who: str, text: str, at_ns: int, until_ns: int | None = None
    ) -> Action: ...

    def actions(self, line: str, finding: str | None = None) -> Sequence[Action]: ...


_ASKED_OFTEN = ("lines", "line", "recipes", "phase_runs", "findings", "notes", "span", "newest", "source")


def asked_once(source: Source) -> Source:
    """The same store for the making of one answer: what is asked of it again is not read again."""
    return cast(Source, _AskedOnce(source))


class _AskedOnce:
    def __init__(self, source: Source) -> None:
        self._source = source
        self._known: dict[Hashable, Any] = {}

    def __getattr__(self, name: str) -> Any:
        ask = getattr(self._source, name)
        if name not in _ASKED_OFTEN:
            return ask

        def answer(*asked: Hashable) -> Any:
            if (name, *asked) not in self._known:
                self._known[(name, *asked)] = ask(*asked)
            return self._known[(name, *asked)]

        return answer
