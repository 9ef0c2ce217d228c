"""Whether a stretch of readings swings regularly: cycles counted, their length, height and shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.exact import Floats

HYSTERESIS_SHARE = 0.25
"""A swing must pass this part of the whole height on either side of the middle to count: noise does not."""

SPREAD_OF_LENGTHS = 0.25
SPREAD_OF_HEIGHTS = 0.4
"""Regular means that standard deviations of cycle lengths and heights stay below these shares of their means: a cycle
of a controller repeats itself, disturbances do not. Common practice, no source."""


LEAST_SAMPLES = 8
LEAST_TURNS = 3
"""Two whole cycles."""

SAME_SHAPE = 0.6
"""So much of the variance one mean cycle must explain."""


@dataclass(frozen=True)
class Cycles:
    """Whole cycles in a stretch. count: 0 where it does not swing. length: samples, mean. height: peak to peak, mean.

    regular: lengths and heights repeat. fall_share: part of a cycle spent from its peak to the next trough, mean.
    Where lengths alone are too unlike, height and fall_share are not worked out: NaN.
    """

    count: int
    length: float
    height: float
    regular: bool
    fall_share: float


NONE = Cycles(0, float("nan"), float("nan"), False, float("nan"))


def cycles(x: NDArray[np.float64], least_height: float) -> Cycles:
    """Cycles of a stretch [n] without gaps; `NONE` where one is missing or it swings by less than `least_height`.

    A straight line through the ends' quarters is taken off first, so that a drift is no swing.
    """
    if len(x) < LEAST_SAMPLES or not np.isfinite(x).all():
        return NONE
    flats, swings, crosses = _crossings(x[None, :])
    flat, turns = flats[0], np.flatnonzero(crosses[0])
    if swings[0] < 0.8 * least_height or len(turns) < LEAST_TURNS:
        return NONE
    lengths = np.diff(turns).astype(float)
    # A turn falls between two samples: 0.3 of a sample is the spread of a perfect clock.
    if lengths.std() > SPREAD_OF_LENGTHS * lengths.mean() + 0.3:
        return Cycles(len(lengths), float(lengths.mean()), float("nan"), False, float("nan"))
    heights, falls = [], []
    for a, b in zip(turns[:-1].tolist(), turns[1:].tolist(), strict=True):
        part = flat[a:b]
        peak = _middle(part == part.max())
        trough = peak + _middle(part[peak:] == part[peak:].min())
        heights.append(float(part[peak] - part[trough]))
        falls.append((trough - peak) / (b - a))
    tall = np.array(heights)
    regular = bool(tall.std() <= SPREAD_OF_HEIGHTS * tall.mean())
    regular = regular and _repeats(flat, turns) >= SAME_SHAPE
    return Cycles(len(lengths), float(lengths.mean()), float(tall.mean()), regular, float(np.mean(falls)))


def _crossings(x: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Rows less the straight line through the ends' quarters, how far they swing, and where they come up through the
    middle and its band on either side. [row, n] -> [row, n], [row], [row, n].
    """
    n = x.shape[1]
    quarter = n // 4
    first, last = (np.sort(part, axis=1)[:, quarter // 2, None] for part in (x[:, :quarter], x[:, n - quarter :]))
    flat = x - (first + (last - first) * np.arange(n) / (n - 1))
    ordered = np.sort(flat, axis=1)
    low, high = ordered[:, n // 20, None], ordered[:, n - 1 - n // 20, None]
    middle, band = (low + high) / 2, HYSTERESIS_SHARE * (high - low)
    side = np.where(flat > middle + band, 1, np.where(flat < middle - band, -1, 0))
    newest = np.maximum.accumulate(np.where(side != 0, np.arange(n), 0), axis=1)
    before = side[np.arange(len(x))[:, None], newest[:, :-1]]
    crosses = np.zeros(x.shape, bool)
    crosses[:, 1:] = (side[:, 1:] == 1) & (before == -1)
    return flat, np.asarray(high - low)[:, 0], crosses


def may_swing(x: Floats, least_height: float, grows: bool = True) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Rows in which `cycles` and rows in which `growing` may find something, [row, n] -> [row] each.

    All are asked at once, and few remain to be looked at one by one. grows: whether `growing` is to be asked at all.
    """
    if x.shape[1] < LEAST_SAMPLES:
        return np.zeros(len(x), bool), np.zeros(len(x), bool)
    known: NDArray[np.bool_] = np.logical_and.reduce(np.isfinite(x), axis=1)
    rows = np.where(known[:, None], x, 0.0)
    _, swings, crosses = _crossings(rows)
    cycling = (swings >= 0.8 * least_height) & (np.count_nonzero(crosses, axis=1) >= LEAST_TURNS)
    if not grows:
        return known & cycling, np.zeros(len(x), bool)
    growing = known & _high_enough(rows, least_height)
    growing[growing] = _turns_enough(rows[growing], least_height)
    return known & cycling, growing


def _high_enough(x: Floats, least_height: float) -> NDArray[np.bool_]:
    """Rows that somewhere climb and somewhere fall as far as the last half cycles of a growing swing, [row]."""
    climbs = (x - np.minimum.accumulate(x, axis=1)).max(axis=1)
    drops = (np.maximum.accumulate(x, axis=1) - x).max(axis=1)
    return np.minimum(climbs, drops) >= GROWN * least_height


def _turns_enough(x: Floats, least_height: float) -> NDArray[np.bool_]:
    """Rows with as many turning points as the last cycles of a growing swing have, [row], see `_turning_points`.

    From turn to turn of all rows together.
    """
    left, cell = np.arange(len(x)), np.arange(x.shape[1])
    down = x <= np.maximum.accumulate(x, axis=1) - least_height
    turns = down | (x >= np.minimum.accumulate(x, axis=1) + least_height)
    way = np.ones(len(x))
    for turn in range(2 * FEWEST_GROWING + 1):
        there = np.logical_or.reduce(turns, axis=1)
        left, turns, way = left[there], turns[there], way[there]
        at = np.argmax(turns, axis=1)
        way = np.where(down[left, at], -1.0, 1.0) if turn == 0 else -way
        swing = way[:, None] * x[left]
        since = np.maximum.accumulate(np.where(cell >= at[:, None], swing, -np.inf), axis=1)
        turns = swing <= since - least_height
    enough = np.zeros(len(x), bool)
    enough[left] = True
    return enough


GROWING_CYCLES = 3
"""Whole cycles after which a swing that does not die down is no single disturbance any more."""

FEWEST_GROWING = 2
"""... and of one whose last half cycles are too high to be anything but a loop's own work."""

GROWN = 3.0
STILL_THERE, GROWS = 0.6, 1.5
"""A half cycle lower than this share of the highest before it is dying down; what grows has a later half so many times
as high as its earlier one, which a relay's autotune has not."""


def growing(x: NDArray[np.float64], least_height: float, large: float = np.inf) -> Cycles:
    """The last three cycles of a stretch [n] without gaps that swings ever more; `NONE` where it does not.

    A loop past its stability limit grows from the noise: its first cycles are not yet like its last, so that `cycles`
    sees it late. Lengths must repeat, no half cycle may be lower than `STILL_THERE` of the highest before it and the
    last two not lower than `GROWN` times `least_height`; the last two cycles are enough where these are not lower than
    `large`. fall_share: of these cycles.
    """
    if len(x) < LEAST_SAMPLES or not np.isfinite(x).all():
        return NONE
    turns = np.array(_turning_points(x.tolist(), least_height))
    seen = _growing(x, turns, GROWING_CYCLES, GROWN * least_height)
    return seen if seen.regular else _growing(x, turns, FEWEST_GROWING, large)


def _growing(x: NDArray[np.float64], turns: NDArray[np.int64], count: int, last_height: float) -> Cycles:
    """The last `count` cycles between turning points, see `growing`."""
    if len(turns) < 2 * count + 1:
        return NONE
    turns = turns[-(2 * count + 1) :]
    lengths, heights = (turns[2:] - turns[:-2]).astype(float), np.abs(np.diff(x[turns]))
    regular = lengths.std() <= SPREAD_OF_LENGTHS * lengths.mean() + 0.3
    regular &= bool((heights[1:] >= STILL_THERE * np.maximum.accumulate(heights)[:-1]).all())
    regular &= bool((heights[-2:] >= last_height).all())
    regular &= bool(heights[count:].mean() >= GROWS * heights[:count].mean())
    falls = np.diff(turns)[np.diff(x[turns]) < 0].sum() / (turns[-1] - turns[0])
    return Cycles(count, float(lengths.mean()), float(heights[-2:].mean()), bool(regular), float(falls))


def _middle(at: NDArray[np.bool_]) -> int:
    """Middle of the places where it holds: rounding makes a crest flat."""
    places = np.flatnonzero(at)
    return int(places[len(places) // 2])


def _turning_points(x: list[float], least_height: float) -> list[int]:
    """Places of peaks and troughs in turn, each left by `least_height` and more."""
    turns: list[int] = []
    way, high, low = 0, x[0], x[0]
    at_high = at_low = 0
    for place, now in enumerate(x):
        if way >= 0 and now > high:
            high, at_high = now, place
        if way <= 0 and now < low:
            low, at_low = now, place
        if way >= 0 and now <= high - least_height:
            turns.append(at_high)
            way, low, at_low = -1, now, place
        elif way <= 0 and now >= low + least_height:
            turns.append(at_low)
            way, high, at_high = 1, now, place
    return turns


def _repeats(x: NDArray[np.float64], turns: NDArray[np.int64]) -> float:
    """Share of the variance of whole cycles that one mean shape explains; noise has none."""
    lengths = np.diff(turns)
    bins = max(3, min(8, int(lengths.mean() // 2)))
    place = np.concatenate([bins * np.arange(length) // length for length in lengths.tolist()])
    part = x[turns[0] : turns[-1]]
    count = np.bincount(place, minlength=bins)
    shape = np.bincount(place, weights=part, minlength=bins) / np.fmax(count, 1)
    spread = float(np.square(part - part.mean()).mean())
    return 1.0 - float(np.square(part - shape[place]).mean()) / spread if spread > 0 else 0.0


def resolution(x: NDArray[np.float64]) -> float:
    """Smallest step between neighbouring readings, 0 where there is none: what rounding may add to a height."""
    steps = np.abs(np.diff(x))
    steps = steps[steps > 1e-9]
    return float(steps.min()) if len(steps) else 0.0
