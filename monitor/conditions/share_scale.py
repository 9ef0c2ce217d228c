"""At which scale feeders stand to the shares of a recipe."""

from __future__ import annotations

import numpy as np

from monitor.exact import Floats


def kg_h_per_share(value: Floats, shares: Floats, rate_kg_h: float | None) -> Floats:
    """kg/h per percent of share that most feeders agree on, [n]; NaN where a set-point is missing or the line is off.

    Three feeders and more: the middle one. Two: the one that fits the recipe's rate, else the larger.
    """
    asked = np.flatnonzero(shares > 0)
    if not len(asked):
        return np.full(value.shape[1], np.nan)
    each = value[asked] / shares[asked, None]
    if len(asked) > 2:
        ordered = np.sort(each, axis=0)
        middle = (ordered[(len(asked) - 1) // 2] + ordered[len(asked) // 2]) / 2
        # Where two camps are left of an even number, the camp of the larger share is right.
        near = ordered[(len(asked) - 1) // 2] > 0.97 * ordered[len(asked) // 2]
        scale = np.where(near, middle, each[int(np.argmax(shares[asked]))])
    else:
        large = each[int(np.argmax(shares[asked]))]
        fits = np.abs(each / (rate_kg_h / 100.0) - 1.0) <= 0.01 if rate_kg_h else np.zeros(each.shape, bool)
        scale = np.where(fits.any(axis=0), (rate_kg_h or 0.0) / 100.0, large)
    whole = np.isfinite(value).all(axis=0)
    return np.where(whole & (scale > 0), scale, np.nan)
