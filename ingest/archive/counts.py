"""What an import brought to an archive: readings that are new, the same, or contradict what was there first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

MOST_LISTED = 200
"""Contradictions listed one by one for a day; beyond that they are only counted."""


@dataclass(frozen=True)
class Contradiction:
    """Two readings of one cell, or two texts of one moment, that differ. The first one was kept.

    at_ns: start of the cell, UTC ns. what: channel key, or kind of the note. kept, refused: as text.
    """

    at_ns: int
    what: str
    kept: str
    refused: str


@dataclass(frozen=True)
class Brought:
    """rows: cells on the time axis that were not there. new, same, contradicting: readings, held ones not counted.

    notes: new ones. listed: the first MOST_LISTED contradictions of every day.
    """

    rows: int = 0
    new: int = 0
    same: int = 0
    contradicting: int = 0
    notes: int = 0
    listed: tuple[Contradiction, ...] = field(default=())

    def plus(self, other: Brought) -> Brought:
        """Both together."""
        return Brought(
            self.rows + other.rows,
            self.new + other.new,
            self.same + other.same,
            self.contradicting + other.contradicting,
            self.notes + other.notes,
            (*self.listed, *other.listed),
        )

    def refused(self, more: Sequence[Contradiction], count: int) -> Brought:
        """With `count` more contradictions, of which some are listed."""
        room = max(0, MOST_LISTED - len(self.listed))
        return replace(self, contradicting=self.contradicting + count, listed=(*self.listed, *more[:room]))

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        listed = [[one.at_ns, one.what, one.kept, one.refused] for one in self.listed]
        return {
            "rows": self.rows, "new": self.new, "same": self.same, "contradicting": self.contradicting,
            "notes": self.notes, "listed": listed,
        }  # fmt: skip

    @staticmethod
    def from_dict(data: Mapping[str, Any]) -> Brought:
        """Back from JSON."""
        listed = tuple(Contradiction(*one) for one in data["listed"])
        return Brought(data["rows"], data["new"], data["same"], data["contradicting"], data["notes"], listed)
