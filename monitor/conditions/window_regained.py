"""A pressure that was under its window and is back in it has got better, not worse."""

from __future__ import annotations

import numpy as np

from ingest.roles import channel_key
from monitor.contract import Context
from monitor.exact import Bools, Floats


def regained(subject: str, was_bar: Floats, now_bar: Floats, ctx: Context) -> Bools:
    """Whether a melt pressure lay below its recipe's window and is within it now, [n]; never without a window.

    What runs from a start with too little in the screws, or with a melt too thin, is learned as usual; its end is no
    restriction and no thicker lot.
    """
    window = ctx.recipe.window_of(channel_key("melt_pressure", subject)) if ctx.recipe else None
    if window is None or window.low is None:
        return np.zeros(now_bar.shape, bool)
    with np.errstate(invalid="ignore"):
        inside = now_bar <= window.high if window.high is not None else np.isfinite(now_bar)
        return (was_bar < window.low) & inside
