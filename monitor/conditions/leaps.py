"""Readings that leap faster than steel: once, as a couple or an input does, and not on and on, as heat or water does.

A couple that slips, a plug or an input moves a reading at once and then leaves it. A wall that gains or loses heat goes
on at an even pace for minutes; its own sets that pace, and a light body with strong bands, or with water on it, may be
fast.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Bools, Floats, blank, run_length, trailing_greatest, trailing_least, with_past

MINUTE, THREE_MINUTES, AT_ONCE = 6, 18, 2
"""Cells of 10 s."""

ONCE_SHARE = 0.6
"""Part of what a reading moved in three minutes that a leap makes within 20 s: a sheathed couple answers to a step by
two thirds within some 10 s (value from memory)."""

EVEN_SHARE, LONGER = 0.25, 2.0
"""A move that in three minutes is twice as far as in the last one, and no less than three quarters as fast now, goes on
and on: an even one is three times as far and as fast."""

LONG_AGO = 1_000_000


def start(count: int) -> State:
    """Nothing has leapt. past: readings of three minutes; leapt, went_on: cells since then."""
    long_ago = np.full(count, LONG_AGO, np.int64)
    return {"past": blank(count, THREE_MINUTES - 1), "leapt": long_ago, "went_on": long_ago}


def advance(state: State, up: Floats, limit: Floats, but: Bools) -> tuple[Floats, Floats, State]:
    """Cells since each reading last leapt by `limit` (C within a minute) and left it at that, and since it last went on
    at such a pace for three minutes, [subject, n]; the state.

    up: readings, the way they are looked at upwards. but: cells whose moves have another reason.
    """
    n = up.shape[1]
    joined, past = with_past(state["past"], up)
    width = joined.shape[1] - n
    with np.errstate(invalid="ignore"):
        minute = up - trailing_least(joined[:, width - MINUTE + 1 : width], up)[0]
        three = up - trailing_least(state["past"], up)[0]
        steps = joined[:, AT_ONCE:] - joined[:, :-AT_ONCE]
        now = steps.shape[1] - n
        step = trailing_greatest(steps[:, now - MINUTE + 1 : now], steps[:, now:])[0]
        fast = (minute >= limit) & ~but
        once = fast & (step >= ONCE_SHARE * three)
        goes_on = fast & (three >= LONGER * minute) & (minute >= EVEN_SHARE * three)
    leapt, leapt_after = run_length(state["leapt"], ~once)
    went_on, went_on_after = run_length(state["went_on"], ~goes_on)
    since = np.where(went_on <= leapt, LONG_AGO, leapt)
    return since.astype(float), went_on.astype(float), {"past": past, "leapt": leapt_after, "went_on": went_on_after}
