"""The one shape in which readings travel: channels by cells on an absolute time grid."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

GOOD, UNCERTAIN, BAD, NONE = 0, 1, 2, 3
QUALITY_MASK = 3
FRESH = 4
"""Status bit: a reading arrived inside this cell. Without it the value is held from an earlier cell."""


@dataclass(frozen=True, order=True)
class Note:
    """What people and schedules say at a time; it is known from `at_ns` on.

    at_ns: UTC, integer nanoseconds.
    kind: one of NOTE_KINDS.
    text: the lot number, recipe name, container number, reason.
    """

    at_ns: int
    kind: str
    text: str = ""


NOTE_KINDS = (
    "lot", "recipe", "planned stop", "repair", "reference adopted", "container begun", "container packed", "remark",
)  # fmt: skip


@dataclass(frozen=True)
class Block:
    """Readings of one line on its cadence.

    t0: start of the first cell, UTC nanoseconds, a whole multiple of `step`.
    step: cell width in nanoseconds.
    channels: channel keys, `role` or `role:subject` (see `ingest.roles`).
    values: float64, C order, shape (len(channels), n); NaN = no reading.
    status: uint8, same shape; quality in the low two bits, FRESH above.
    notes: ordered by time, each inside [t0, t0 + n * step).
    """

    t0: int
    step: int
    channels: tuple[str, ...]
    values: np.ndarray
    status: np.ndarray
    notes: tuple[Note, ...] = field(default=())

    def __post_init__(self) -> None:
        if self.values.shape != self.status.shape or self.values.shape[0] != len(self.channels):
            raise ValueError(
                f"block of {len(self.channels)} channels has values {self.values.shape} and status {self.status.shape}"
            )
        if self.t0 % self.step:
            raise ValueError(f"block starts at {self.t0} ns, off its {self.step} ns grid")

    @property
    def n(self) -> int:
        """Number of cells."""
        return self.values.shape[1]

    @property
    def end(self) -> int:
        """End of the last cell, UTC nanoseconds."""
        return self.t0 + self.n * self.step

    def times(self) -> np.ndarray:
        """Start of every cell, int64 UTC nanoseconds, shape (n,)."""
        return self.t0 + self.step * np.arange(self.n, dtype=np.int64)

    def cut(self, first: int, last: int, *, shared: bool = False) -> Block:
        """The cells first..last-1 with the notes that fall on them.

        shared: the cells stay where they are in this block, not in C order, and nothing is copied: for what is judged
        at once and not kept, since a part keeps the whole.
        """
        t0, t1 = self.t0 + first * self.step, self.t0 + last * self.step
        values, status = self.values[:, first:last], self.status[:, first:last]
        return Block(
            t0,
            self.step,
            self.channels,
            values if shared else np.ascontiguousarray(values),
            status if shared else np.ascontiguousarray(status),
            tuple(note for note in self.notes if t0 <= note.at_ns < t1),
        )
