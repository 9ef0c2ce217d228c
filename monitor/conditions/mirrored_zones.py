"""Two zones that leave their set-points together, one up without heat, one down at full heat: couples exchanged.

Whose couples, or heaters, are exchanged each heat what the other one shows: the one that reads high is given no heat
and keeps climbing, for the other heats it; the one that reads low is given all there is and keeps falling. No single
fault does both: a dead heater leaves no other zone far too hot, and a heater that hangs on leaves none too cold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.conditions.zone_minutes import Minutes
from monitor.exact import Bools, Floats

FAR_C = 20.0
"""How far each of the two has gone: further than shear or an overshoot takes a zone that is given no heat, and than
weak bands leave one. Common practice, no source."""

LEFT_C = 2.5
"""A zone so near its set-point, or to the warmest it was, has not left yet: the usual tolerance."""

TOGETHER_MIN, FULL_MIN, BACK_MIN = 15, 5, 45
"""Dead times and windings-up of two loops apart; both outputs at their ends for so long; and how far is looked back."""

LATEST_MIN = 38
"""What has gone `FAR_C` within `BACK_MIN` needs 6 min for its first `LEFT_C`: one that left before is seen on its way.
"""

NO_HEAT_PCT, NEAR_LIMIT_PCT = 1.0, 2.0


@dataclass(frozen=True)
class Mirrored:
    """high, low: zones that have gone up without heat, down at full heat, [zone, m]; left: minutes since, [zone, m]."""

    high: Bools
    low: Bools
    left: Floats

    def pairs(self, apart: int) -> Bools:
        """Zones so many places apart of which one is high, one low, since the same time, [zone - apart, m]."""
        a, b = slice(0, len(self.left) - apart), slice(apart, len(self.left))
        with np.errstate(invalid="ignore"):
            together = np.abs(self.left[a] - self.left[b]) <= TOGETHER_MIN
        return together & ((self.high[a] & self.low[b]) | (self.low[a] & self.high[b]))


def may_be(x: Minutes) -> bool:
    """Whether any zone is far too hot and any far too cold."""
    off = x.zone["temperature"] - x.zone["wanted"]
    return bool((x.most(off, 1) >= FAR_C).any() and (x.most(-off, 1) >= FAR_C).any())


def found(x: Minutes, limit: Floats) -> Mirrored:
    """limit: % output, [zone, 1]. past >= BACK_MIN."""
    rows, m = x.zone["temperature"], x.m
    window = np.lib.stride_tricks.sliding_window_view(rows[:, rows.shape[1] - m - (BACK_MIN - 1) :], BACK_MIN, axis=1)
    coldest, hottest = x.extremes(rows, BACK_MIN)
    value, wanted = x.now("temperature"), x.now("wanted")
    with np.errstate(invalid="ignore"):
        high = (value >= wanted + FAR_C) & (value >= coldest + FAR_C) & x.held(x.zone["net"] <= NO_HEAT_PCT, FULL_MIN)
        low = (value <= wanted - FAR_C) & (value <= hottest - FAR_C)
        low &= x.held(x.zone["net"] >= limit - NEAR_LIMIT_PCT, FULL_MIN)
        # A couple that falls out is cold within a minute; plugs exchanged make the other one jump the other way.
        fall, rise = (x.extremes(side * (rows[:, 1:] - rows[:, :-1]), BACK_MIN - 1)[1] for side in (-1.0, 1.0))
        low &= ~(fall > np.fmax(8.0, 2.0 * np.fmax.reduce(np.where(high, rise, -np.inf), axis=0, initial=-np.inf)))
        edge = np.where(high, wanted + LEFT_C, hottest - LEFT_C)[:, :, None]
        home = np.where(high[:, :, None], window <= edge, window >= edge)
    since = np.argmax(home[:, :, ::-1], axis=2).astype(float)
    return Mirrored(high, low, np.where(home.any(axis=2) & (since <= LATEST_MIN), since, np.nan))


def opposite(value: Floats, wanted: Floats, net: Floats, limit: Floats, low: bool) -> tuple[Floats, Floats]:
    """For each zone the other one that lies furthest below its set-point at full heat (low), else above it without
    any: by how much, C, and its place, [zone, n] each; NaN where none does by more than half of `FAR_C`."""
    with np.errstate(invalid="ignore"):
        ends = net >= limit - NEAR_LIMIT_PCT if low else net <= NO_HEAT_PCT
        off = wanted - value if low else value - wanted
        off = np.where(ends & (off >= FAR_C / 2), off, -np.inf)
    zones = len(off)
    by, place = np.full(off.shape, np.nan), np.full(off.shape, np.nan)
    for zone in range(zones):
        others = off.copy()
        others[zone] = -np.inf
        at = np.argmax(others, axis=0)
        most = others[at, np.arange(off.shape[1])]
        by[zone], place[zone] = np.where(np.isfinite(most), (most, at), np.nan)
    return by, place
