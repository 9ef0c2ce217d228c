"""What was different about one lot, ranked: its steady middles and scatters against those of the other lots.

For every channel the lot's median and scatter while steady stand against the medians and scatters of other lots of
the same recipe. How far apart is measured in the lots' own spread, robustly: distance from the median over lots in
units of 1.4826 x MAD (the factor makes MAD the standard deviation of normal scatter; Rousseeuw and Croux 1993,
J. Am. Stat. Assoc. 88, 1273, from memory). Few lots make a poor spread, so it is never taken smaller than a share of
what one lot scatters by itself; that share and the least that counts are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

MAD_TO_SIGMA = 1.4826
FEWEST_LOTS = 4
"""Other lots below which nothing is compared."""

LEAST_OF_SCATTER = 0.25
"""Spread over lots is never taken smaller than this share of the usual scatter inside one lot."""

LEAST_OF_VALUE = 1e-3
"""Nor smaller than this share of the value: what no instrument on a line resolves."""

LEAST_LOG_SPREAD = math.log(1.25)
"""Spread of scatters over lots, as a logarithm, is never taken smaller than this: a scatter is itself estimated."""

RESOLUTION = {"C": 0.1, "bar": 0.1, "A": 0.1, "%": 0.1, "rpm": 0.1, "mbar": 1.0}
"""By fixed unit, the step of an input or a display of a line: a smaller difference is none. Common practice, no
source."""

COUNTS = 3.0
"""Spreads from which a difference is worth a person's time."""


@dataclass(frozen=True)
class Steady:
    """One channel over the steady part of one lot. middle: median. scatter: 1.4826 x MAD of its one-minute means."""

    middle: float
    scatter: float


@dataclass(frozen=True)
class Difference:
    """How one channel of this lot differs from the other lots.

    what: whether its middle or its scatter. value: this lot's; usual, low, high: median and extremes of the others,
    all in the channel's fixed unit. spreads: signed distance in spreads over lots. lots: how many others.
    rank: its place among all lots, 1 the highest.
    """

    key: str
    what: Literal["middle", "scatter"]
    value: float
    usual: float
    low: float
    high: float
    spreads: float
    lots: int
    rank: int

    @property
    def beyond_all(self) -> bool:
        """Whether no other lot went as far."""
        return self.value > self.high or self.value < self.low


def differences(this: Mapping[str, Steady], others: Sequence[Mapping[str, Steady]]) -> list[Difference]:
    """All differences: those beyond every other lot ahead of those some lot has had too, the farthest first.

    Channels that fewer than `FEWEST_LOTS` other lots have are left out.
    """
    found: list[Difference] = []
    for key, own in this.items():
        there = [lot[key] for lot in others if key in lot]
        if len(there) < FEWEST_LOTS:
            continue
        middles = np.array([lot.middle for lot in there])
        scatters = np.array([lot.scatter for lot in there])
        usual = float(np.median(middles))
        floor = max(LEAST_OF_SCATTER * float(np.median(scatters)), LEAST_OF_VALUE * abs(usual))
        spread = max(_sigma(middles), floor)
        if spread > 0:
            found.append(_difference(key, "middle", own.middle, middles, (own.middle - usual) / spread))
        if own.scatter > 0 and (scatters > 0).all():
            logs = np.log(scatters)
            away = (math.log(own.scatter) - float(np.median(logs))) / max(_sigma(logs), LEAST_LOG_SPREAD)
            found.append(_difference(key, "scatter", own.scatter, scatters, away))
    return sorted(found, key=lambda item: (not item.beyond_all, -abs(item.spreads), item.key, item.what))


def telling(found: Sequence[Difference], unit: Callable[[str], str]) -> list[Difference]:
    """Those in which this lot lies beyond every other, by what its sensor can tell. unit: the fixed one of a key."""
    return [d for d in found if d.beyond_all and abs(d.value - d.usual) >= RESOLUTION.get(unit(d.key), 0.0)]


def _difference(
    key: str, what: Literal["middle", "scatter"], value: float, others: np.ndarray, spreads: float
) -> Difference:
    rank = 1 + int(np.count_nonzero(others > value))
    low, high = float(others.min()), float(others.max())
    return Difference(key, what, value, float(np.median(others)), low, high, spreads, len(others), rank)


def steady_of(values: np.ndarray) -> Steady | None:
    """Median and scatter of one-minute means, shape (n,), NaN = not steady or not read; None below ten of them."""
    known = values[np.isfinite(values)]
    return Steady(float(np.median(known)), _sigma(known)) if len(known) >= 10 else None


def _sigma(values: np.ndarray) -> float:
    return MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))
