"""How near counts as unchanged, and what a change of speed and rate may do: of all learned quantities at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.exact import Floats
from monitor.learned_quantities import Kind


class Kinds:
    """Tolerances of the learned quantities as rows: share, absolute, kept, [quantity] each."""

    def __init__(self, kinds: Sequence[Kind]) -> None:
        self.share = np.array([kind.share for kind in kinds], float)
        self.absolute = np.array([kind.absolute for kind in kinds], float)
        self.kept = np.array([kind.kept for kind in kinds], bool)
        self.carried = np.array([kind.goes_with is not None for kind in kinds], bool)
        bounds = [(k.speed, k.rate, k.specific) for k in (kind.goes_with for kind in kinds) if k is not None]
        self.exponents = np.array(bounds, float).reshape(-1, 3, 2)

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
        moved = np.concatenate((moved, moved[1:] - moved[:1]))
        ways = self.exponents.transpose(1, 0, 2)[:, :, :, None] * moved[:, :, None, :]
        low, high = ways.min(axis=2).sum(axis=0), ways.max(axis=2).sum(axis=0)
        return (low + high) / 2, (high - low) / 2
