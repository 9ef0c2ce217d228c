"""Limits with deadband, for any number of limits a subject."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.contract import CLEAR, DISARMED, UNKNOWN
from monitor.exact import Bools, Floats, two_threshold

Levels = NDArray[np.int8]


def levels_above(
    before: Bools, value: Floats, limits: Sequence[Floats], deadband: Floats, armed: Bools
) -> tuple[Bools, Levels]:
    """How many rising limits a value is at or above, each left only below the limit less the deadband.

    before: bool [subject, limit], the state. value: [subject, n]. limits: lowest first, each [subject, n] or
    [subject, 1], NaN = no such limit. armed: [subject, n]. Returns the new state and int8 levels: DISARMED where
    not armed or no limit exists, UNKNOWN where the value is not known.
    """
    on_after = np.zeros_like(before)
    level = np.full(value.shape, CLEAR, np.int8)
    exists = np.zeros(value.shape, bool)
    for place, limit in enumerate(limits):
        known = np.isfinite(limit)
        exists |= known
        with np.errstate(invalid="ignore"):
            rises = armed & known & (value >= limit)
            if not before[:, place].any() and not rises.any():
                continue
            falls = ~armed | ~known | (value < limit - deadband)
        on, on_after[:, place] = two_threshold(before[:, place], rises, falls)
        level[on] = place + 1
    level[~np.isfinite(value)] = UNKNOWN
    level[~armed | ~exists] = DISARMED
    return on_after, level


def rule(holds: Bools, known: Bools, armed: Bools, level: int = 1) -> Levels:
    """Levels of a plain rule: `level` where it holds, UNKNOWN where it cannot be judged."""
    # Steps of one up from DISARMED, added up: several times quicker than to choose between them.
    known_steps = known * (holds * np.int8(level) + np.int8(CLEAR - UNKNOWN))
    return armed * (known_steps + np.int8(UNKNOWN - DISARMED)) + np.int8(DISARMED)
