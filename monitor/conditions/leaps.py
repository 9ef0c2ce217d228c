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

ENDED_SHARE = 0.25
"""A move whose pace has fallen to this within three minutes has ended: that of a wall falls by e^(-3/10) at the most in
which time constants of barrels are 10 to 45 min, of a light body 5 (values from memory); that of a couple which hangs
out of its well has gone."""

EVEN_SHARE = 0.4
"""A move too fast in each of three minutes, and in the last by so much of what it was at its fastest, goes on."""

STEEL_C_MIN, NOISE_C = 6.0, 2.0
"""Bands at full heat bring a zone up by this in a minute at most, beside what it loses: a zone that takes a share of
them to hold its temperature loses that share of this, no more, when they are off. With what noise and load may add;
value from memory."""

LONG_AGO = 1_000_000


def start(count: int) -> State:
    """Nothing has leapt. past: readings of six minutes; leapt, went_on: cells since then."""
    long_ago = np.full(count, LONG_AGO, np.int64)
    return {"past": blank(count, 2 * THREE_MINUTES), "leapt": long_ago, "went_on": long_ago}


def without_heat_c(usual: Floats, minutes: float = 1.0) -> Floats:
    """What a zone may fall by in so many minutes when the heat it usually takes is gone, C. usual: its output, %."""
    return minutes * STEEL_C_MIN * np.maximum(usual, 0.0) / 100.0 + NOISE_C


def advance(state: State, up: Floats, limit: Floats, but: Bools) -> tuple[Floats, Floats, State]:
    """Cells since each reading last leapt by `limit` (C within a minute) and left it at that, and since it last went on
    at such a pace for three minutes, [subject, n]; the state.

    up: readings, the way they are looked at upwards. but: cells whose moves have another reason.
    """
    n = up.shape[1]
    joined, past = with_past(state["past"], up)
    first = joined.shape[1] - n
    with np.errstate(invalid="ignore"):
        # The moves of each cell of the last three minutes and of the new ones.
        seen = joined[:, first - THREE_MINUTES + 1 :]
        minutes = (
            seen - trailing_least(joined[:, first - THREE_MINUTES - MINUTE + 2 : first - THREE_MINUTES + 1], seen)[0]
        )
        minute = minutes[:, THREE_MINUTES - 1 :]
        fastest = trailing_greatest(minutes[:, : THREE_MINUTES - 1], minute)[0]
        three = up - trailing_least(joined[:, first - THREE_MINUTES + 1 : first], up)[0]
        steps = joined[:, AT_ONCE:] - joined[:, :-AT_ONCE]
        now = steps.shape[1] - n
        step = trailing_greatest(steps[:, now - MINUTE + 1 : now], steps[:, now:])[0]
        fast = (minute >= limit) & ~but
        once = fast & (step >= ONCE_SHARE * three)
        once |= (fastest >= limit) & (minute <= ENDED_SHARE * fastest) & ~but
        before, first_one = (minutes[:, THREE_MINUTES - 1 - back :][:, :n] for back in (MINUTE, 2 * MINUTE))
        goes_on = fast & (before >= limit) & (first_one >= limit) & (minute >= EVEN_SHARE * fastest)
    went_on, went_on_after = run_length(state["went_on"], ~goes_on)
    # What went on and on ends some time, too.
    leapt, leapt_after = run_length(state["leapt"], ~once | (went_on <= THREE_MINUTES + MINUTE))
    since = np.where(went_on <= leapt, LONG_AGO, leapt)
    return since.astype(float), went_on.astype(float), {"past": past, "leapt": leapt_after, "went_on": went_on_after}
