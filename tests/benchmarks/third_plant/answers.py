"""What a process engineer accepts for each fault, read from `answers.toml`, where its words are explained."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Answer:
    """What is right. See the head of `answers.toml`."""

    family: str
    found: frozenset[str]
    named: frozenset[str]
    cause: str
    sense: str
    harm: frozenset[str]
    note: bool
    blind: str


def _read() -> dict[str, Answer]:
    rows = tomllib.loads(Path(__file__).with_name("answers.toml").read_text(encoding="utf-8"))
    return {fault: _answer(**row) for fault, row in rows.items()}


def _answer(
    family: str, found: list[str], named: tuple[str, ...] = (), cause: str = "", sense: str = "",
    harm: tuple[str, ...] = (), note: bool = False, blind: str = "",
) -> Answer:  # fmt: skip
    return Answer(family, frozenset(found), frozenset(named), cause, sense, frozenset(harm), note, blind)


ANSWERS = _read()
"""By fault."""
