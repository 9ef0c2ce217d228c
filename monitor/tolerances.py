"""How near counts as unchanged, and what a change of speed and rate may do: of all learned quantities at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.exact import Floats
from monitor.goes_with import exponents_of, span_of
from monitor.learned_quantities import Kind


class Kinds:
    """Tolerances of the learned quantities as rows: share, absolute, kept, at_point, switched, [quantity] each."""

    def __init__(self, kinds: Sequence[Kind]) -> None:
        self.share = np.array([kind.share for kind in kinds], float)
        self.absolute = np.array([kind.absolute for kind in kinds], float)
        self.kept = np.array([kind.kept for kind in kinds], bool)
        self.at_point = np.array([kind.at_point for kind in kinds], bool)
        self.switched = np.array([kind.switched for kind in kinds], bool)
        self.carried = np.array([kind.goes_with is not None for kind in kinds], bool)
        self.exponents = exponents_of([kind.goes_with for kind in kinds if kind.goes_with is not None])

    def tolerance(self, value: Floats) -> Floats:
        """How far off counts, [..., quantity]."""
        return self.share * np.abs(value) + self.absolute

    def carried_over(self, then: Floats, now: Floats) -> tuple[Floats, Floats]:
        """By how much carried quantities may differ at another speed and rate, natural logarithms: the middle of what
        may be, and half of its width, [carried, n] each.

        then, now: speed and rate, [2, carried, n] and [2, n]. NaN where one of them is not known.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            moved = np.log(now[:, None, :] / then)
        moved = np.where(np.isfinite(moved), moved, np.nan)
        low, high = span_of(self.exponents, moved[0], moved[1])
        return (low + high) / 2, (high - low) / 2
