"""What findings touched of a lot, or of a stretch of it: for its page and for the list of lots alike."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

from dashboards.data import JournalData
from dashboards.outlook import delay_of, reaching
from dashboards.touched import Delay, Fed, Touched, merged, touched_by
from monitor.records import Finding


@dataclass(frozen=True)
class Product:
    """Product that left the die in [t0, t1), UTC ns. found: findings that may have touched it. touched: by which of
    them, when and how much."""

    t0: int
    t1: int
    delay: Delay
    fed: Fed
    found: Sequence[Finding]
    touched: list[Touched]

    @functools.cached_property
    def spans(self) -> list[tuple[int, int]]:
        """Touched stretches at the die that do not overlap."""
        return merged([(item.start, item.end) for item in self.touched])

    @property
    def kg(self) -> float:
        """Touched kilograms, each counted once; NaN where they are not known."""
        return self.fed.over(self.spans)


def product_of(data: JournalData, name: str, t0: int, t1: int) -> Product:
    """The product of [t0, t1) on a line."""
    delay, fed = delay_of(data, name, t0, t1)
    found = reaching(data, name, t0, t1, delay)
    return Product(t0, t1, delay, fed, found, touched_by(found, delay, fed, t0, t1))
