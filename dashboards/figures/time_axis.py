"""The time axis every drawing of a run shares, so that phases, map and findings stand under one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dashboards.clock import PlantClock, time_ticks
from dashboards.figures.svg import stroke, words

LEFT, RIGHT = 148, 104
"""Gutters of a wide drawing, pixels; charts under it use the same."""


PHONE, NARROW = 600, 1000
"""Widths below which a drawing is for a telephone, for a tablet, pixels."""


def left_of(width: float) -> float:
    """Where the time axis begins in a drawing so wide."""
    return 104 if width < NARROW else LEFT


@dataclass(frozen=True)
class TimeAxis:
    """Maps [t0, t1), UTC nanoseconds, to the lane between `left` and `width` - `right` pixels."""

    t0: int
    t1: int
    width: float
    clock: PlantClock

    @property
    def narrow(self) -> bool:
        """Whether it is drawn for a tablet."""
        return self.width < NARROW

    @property
    def phone(self) -> bool:
        """Whether it is drawn for a telephone."""
        return self.width < PHONE

    @property
    def left(self) -> float:
        """First pixel of the lane; the page's left rule."""
        return left_of(self.width)

    @property
    def right(self) -> float:
        """Last pixel of the lane; behind it stand totals, and the limits' names in a chart below."""
        return self.width - (62 if self.phone else 84 if self.narrow else RIGHT)

    def x(self, at_ns: int) -> float:
        """Pixel of an instant, held inside the lane."""
        share = (at_ns - self.t0) / max(1, self.t1 - self.t0)
        return self.left + max(0.0, min(1.0, share)) * (self.right - self.left)

    def ticks(self) -> list[tuple[float, str, bool]]:
        """Pixel, label, and whether the label carries a date."""
        found = time_ticks(self.clock, self.t0, self.t1, 3 if self.phone else 6 if self.narrow else 10)
        return [(self.x(at), text, " " in text) for at, text in found]


def axis_lane(axis: TimeAxis, top: float, bottom: float) -> tuple[list[str], list[str]]:
    """Hair lines from `top` to `bottom`, and the labels under them with the zone in the gutter."""
    ticks: Sequence[tuple[float, str, bool]] = axis.ticks()
    lines = [stroke([(x, top), (x, bottom)], "day" if day else "hair") for x, _, day in ticks]
    labels = [words(axis.left - 10, bottom + 17, axis.clock.offset_text(axis.t0), "soft small", "end")]
    for x, text, _ in ticks:
        room = len(text) * 3.9
        labels.append(
            words(
                max(axis.left + room - 4, min(axis.right - room + 4, x)),
                bottom + 17,
                text,
                "soft small",
                "middle",
            )
        )
    return lines, labels
