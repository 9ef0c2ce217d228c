"""What can be seen of tags that move together."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Follows:
    """`actual` is mostly at `wanted`, which steps. share: of rows within 2 %. alone: nothing else fits the pair.

    moved: the wanted value went from level to level, and the actual one with it; else it may be chance.
    """

    actual: str
    wanted: str
    share: float
    alone: bool
    moved: bool


@dataclass(frozen=True)
class Pair:
    """One tag moves as another makes it. strength: 0 to 1. lead: how much better than the next best, 0 to 1."""

    first: str
    second: str
    strength: float
    lead: float


@dataclass(frozen=True)
class Relations:
    """What was seen in a sample.

    follows: actual and wanted. falls: weight and rate. heats: output and temperature. draws: output and current.
    refills: switch and weight. same: tags with the same reading in every row. steady: temperatures of zones, told by
    how still several of them stand at one level.
    """

    follows: tuple[Follows, ...] = ()
    falls: tuple[Pair, ...] = ()
    heats: tuple[Pair, ...] = ()
    draws: tuple[Pair, ...] = ()
    refills: tuple[Pair, ...] = ()
    same: tuple[tuple[str, str], ...] = ()
    steady: tuple[str, ...] = ()
