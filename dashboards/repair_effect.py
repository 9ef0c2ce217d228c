"""Did a repair help: one key figure before the finding, during it, and after the repair.

Medians of steady cells. What counts as 'back' is the scatter the figure had before the finding, or a quarter of the
step the finding made, whichever is more; common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

FEWEST_BEFORE = 6
FEWEST_DURING = 2
FEWEST_AFTER = 3
"""Steady cells (10 min) below which nothing is said."""

BACK_SHARE, SAME_SHARE, WORSE_SHARE = 0.25, 0.75, 1.25
"""Of the step the finding made: what may be left of it as 'back', what is no change, what is worse."""

Verdict = Literal["back", "better", "no change", "worse", "past", "never moved", "too early", "nothing before"]


@dataclass(frozen=True)
class Effect:
    """before, during, after: medians in the figure's unit, NaN where too little is known. cells_after: steady cells."""

    verdict: Verdict
    before: float
    during: float
    after: float
    cells_after: int


def effect(t: np.ndarray, y: np.ndarray, since: int, repaired: int) -> Effect:
    """Judge a repair at `repaired` of what began at `since`, both in the unit of `t`.

    t, y: shape (n,), cells in order of time, y NaN where the line was not steady.
    """
    known = np.isfinite(y)
    before, during = y[known & (t < since)], y[known & (t >= since) & (t < repaired)]
    after = y[known & (t >= repaired)]
    middles = _middle(before, FEWEST_BEFORE), _middle(during, FEWEST_DURING), _middle(after, FEWEST_AFTER)
    return Effect(_verdict(before, *middles), *middles, len(after))


def _middle(y: np.ndarray, fewest: int) -> float:
    return float(np.median(y)) if len(y) >= fewest else np.nan


def _verdict(history: np.ndarray, before: float, during: float, after: float) -> Verdict:
    if not np.isfinite(after):
        return "too early"
    if not (np.isfinite(before) and np.isfinite(during)):
        return "nothing before"
    low, high = np.percentile(history, (5, 95))
    scatter = max((high - low) / 2, 0.005 * abs(before))
    step, left = during - before, after - before
    if abs(step) <= scatter:
        return "never moved"
    if abs(left) <= max(scatter, BACK_SHARE * abs(step)):
        return "back"
    share = left / step
    if share < 0:
        return "past"
    return "better" if share < SAME_SHARE else "worse" if share > WORSE_SHARE else "no change"
