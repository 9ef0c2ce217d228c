"""How tags move together, whatever they are called: what follows a set-point, what falls at a rate, what heats what.

Every test asks more than fitting: that nothing else fits nearly as well. Levels are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ingest.propose.sample import Sample
from ingest.propose.tag_numbers import TagNumbers

_NEAR = 0.02
_ROWS = 2000
_FOLLOWS = 0.6
_WINDOW_S = 60.0
_RATE_RATIO = (0.93, 1.07)
_ACTS = 0.35
_CLEARLY = 0.12
_DRAWS = 0.5
_AMPERE_PER_PERCENT = 0.6


@dataclass(frozen=True)
class Follows:
    """`actual` is mostly at `wanted`, which steps. share: of rows within 2 %. alone: nothing else fits the pair."""

    actual: str
    wanted: str
    share: float
    alone: bool


@dataclass(frozen=True)
class Pair:
    """One tag moves as another makes it. strength: 0 to 1. lead: how much better than the next best, 0 to 1."""

    first: str
    second: str
    strength: float
    lead: float


@dataclass(frozen=True)
class Relations:
    """What was seen in a sample.

    follows: actual and wanted. falls: weight and rate. heats: output and temperature. draws: output and current.
    refills: switch and weight. same: tags with the same reading in every row.
    """

    follows: tuple[Follows, ...] = ()
    falls: tuple[Pair, ...] = ()
    heats: tuple[Pair, ...] = ()
    draws: tuple[Pair, ...] = ()
    refills: tuple[Pair, ...] = ()
    same: tuple[tuple[str, str], ...] = ()


def relations_of(sample: Sample, numbers: list[TagNumbers]) -> Relations:
    """Everything seen in a sample. numbers: of its tags, in order."""
    follows = _follows(sample, numbers)
    heats = _one_way(_heats(sample, numbers), {one.actual for one in follows})
    return Relations(
        follows=tuple(follows),
        falls=tuple(_falls(sample, numbers)),
        heats=tuple(heats),
        draws=tuple(_draws(sample, numbers, {pair.first for pair in heats})),
        refills=tuple(_refills(sample, numbers)),
        same=tuple(_same(sample, numbers)),
    )


def _follows(sample: Sample, numbers: list[TagNumbers]) -> list[Follows]:
    some = np.arange(0, len(sample.seconds), max(1, len(sample.seconds) // _ROWS))
    values = sample.values[:, some]
    wanted = [i for i, one in enumerate(numbers) if one.stepped and not one.switch and one.most > 0]
    actual = [
        i for i, one in enumerate(numbers) if one.count and not one.switch and (not one.stepped or one.distinct > 2)
    ]
    shares: dict[tuple[int, int], float] = {}
    for w in wanted:
        target = values[w]
        set_ = np.isfinite(target) & (target > 0)
        if set_.sum() < 20:
            continue
        there = values[np.ix_(actual, np.flatnonzero(set_))]
        near = np.abs(there - target[set_]) <= _NEAR * target[set_]
        for a, share in zip(actual, near.mean(axis=1), strict=True):
            if share >= _FOLLOWS and a != w:
                shares[a, w] = float(share)
    found = []
    for (a, w), share in shares.items():
        rivals = sum(1 for x, y in shares if (x == a) != (y == w))
        found.append(Follows(sample.tags[a], sample.tags[w], share, rivals == 0))
    return found


def _one_way(heats: list[Pair], at_setpoint: set[str]) -> list[Pair]:
    """Only pairs whose temperature sits at a set-point; where both do, both ways round, neither can be told."""
    ways = {(pair.first, pair.second) for pair in heats}
    return [
        pair
        for pair in heats
        if pair.second in at_setpoint and not ((pair.second, pair.first) in ways and pair.first in at_setpoint)
    ]


def _windows(sample: Sample) -> tuple[np.ndarray, np.ndarray]:
    """First and last row of stretches of about a minute within one part of the sample."""
    cadence = sample.cadence_s or 1.0
    rows = max(6, round(_WINDOW_S / cadence))
    starts, ends = [], []
    for part in np.unique(sample.part):
        where = np.flatnonzero(sample.part == part)
        for start in range(0, len(where) - rows, rows):
            starts.append(where[start])
            ends.append(where[start + rows - 1])
    return np.array(starts, int), np.array(ends, int)


def _falls(sample: Sample, numbers: list[TagNumbers]) -> list[Pair]:
    """Weights whose fall is the mean of a rate: kilograms a second times 3600."""
    first, last = _windows(sample)
    if len(first) < 5:
        return []
    hours = (sample.seconds[last] - sample.seconds[first]) / 3600
    weights = [
        i for i, one in enumerate(numbers)
        if one.count and not one.stepped and not one.switch and one.least >= -5 and one.rising < 0.5
    ]  # fmt: skip
    rates = [i for i, one in enumerate(numbers) if one.count and not one.switch and one.high > 0 and one.low > -50]
    if not weights or not rates:
        return []
    with np.errstate(all="ignore"):
        means = np.array([[np.mean(sample.values[r, f : e + 1]) for f, e in zip(first, last, strict=True)] for r in rates])
    found = []
    for w in weights:
        row = sample.values[w]
        falls = np.array([_fall(row[f : e + 1]) for f, e in zip(first, last, strict=True)]) / hours
        good = np.isfinite(falls) & (falls > 0)
        if good.sum() < max(5, 0.3 * len(first)):
            continue
        fits = []
        for k, r in enumerate(rates):
            both = good & np.isfinite(means[k]) & (means[k] > 0)
            if r == w or both.sum() < 5:
                continue
            ratios = falls[both] / means[k][both]
            middle = float(np.median(ratios))
            spread = float(np.median(np.abs(ratios - middle)))
            if _RATE_RATIO[0] < middle < _RATE_RATIO[1] and spread < 0.25:
                fits.append((abs(middle - 1) + spread, r))
        fits.sort()
        # A rate and its set-point fit alike; which is which other tests tell.
        found += [Pair(sample.tags[w], sample.tags[r], 1 - miss, 1.0 if len(fits) <= 2 else 0.0) for miss, r in fits[:2]]
    return found


def _fall(stretch: np.ndarray) -> float:
    """Weight lost over a stretch, NaN where it was filled or there are readings missing."""
    if not np.isfinite(stretch).all():
        return float("nan")
    lost = float(stretch[0] - stretch[-1])
    most_up = float(np.diff(stretch).max(initial=0.0))
    return lost if lost > 0 and most_up < 0.5 * lost else float("nan")


def _changes(sample: Sample, lag_s: float) -> np.ndarray:
    """Change of every tag over `lag_s`, within one part; shape (tags, rows)."""
    lag = max(1, round(lag_s / (sample.cadence_s or 1.0)))
    if len(sample.seconds) <= lag + 10:
        return np.zeros((len(sample.tags), 0))
    same = sample.part[lag:] == sample.part[:-lag]
    return (sample.values[:, lag:] - sample.values[:, :-lag])[:, same]


def _correlation(changes: np.ndarray, left: list[int], right: list[int]) -> np.ndarray:
    """Correlation of every left tag with every right one; 0 where one of them does not move."""

    def normed(rows: list[int]) -> np.ndarray:
        x = changes[rows]
        # Single leaps (a restart, a refill) would outweigh all else.
        limit = np.array([[_five_usual(row)] for row in x])
        x = np.where(np.isfinite(x), np.clip(x, -limit, limit), 0.0)
        x = x - x.mean(axis=1, keepdims=True)
        length = np.sqrt((x**2).sum(axis=1, keepdims=True))
        return np.divide(x, length, out=np.zeros_like(x), where=length > 0)

    return normed(left) @ normed(right).T


def _five_usual(changes: np.ndarray) -> float:
    """Five times the usual size of a change, 0 where nothing changes."""
    moved = np.abs(changes[np.isfinite(changes) & (changes != 0)])
    return 5 * float(np.median(moved)) if len(moved) else 0.0


def _best(sample: Sample, matrix: np.ndarray, left: list[int], right: list[int], least: float) -> list[Pair]:
    """For every left tag the right one it goes with, if it is clearly the best for both."""
    found = []
    for i, one in enumerate(left):
        order = np.argsort(-matrix[i])
        top = matrix[i, order[0]]
        next_ = matrix[i, order[1]] if len(order) > 1 else 0.0
        column = np.sort(matrix[:, order[0]])[::-1]
        rival = column[1] if len(column) > 1 else 0.0
        lead = float(top - max(next_, rival))
        if top >= least and lead >= _CLEARLY:
            found.append(Pair(sample.tags[one], sample.tags[right[order[0]]], float(top), lead))
    return found


def _outputs(numbers: list[TagNumbers]) -> list[int]:
    return [
        i for i, one in enumerate(numbers)
        if one.count and not one.stepped and not one.switch and one.least >= -101 and one.most <= 101
    ]  # fmt: skip


def _heats(sample: Sample, numbers: list[TagNumbers]) -> list[Pair]:
    """Outputs and the temperature whose rise takes them back: a controller answers what it reads at once."""
    outputs = _outputs(numbers)
    warm = [i for i, one in enumerate(numbers) if one.count and not one.stepped and 15 < one.middle < 900]
    changes = _changes(sample, 2 * (sample.cadence_s or 1.0))
    if not outputs or not warm or changes.shape[1] < 100:
        return []
    matrix = -_correlation(changes, outputs, warm)
    for i, o in enumerate(outputs):
        for j, t in enumerate(warm):
            if o == t:
                matrix[i, j] = 0.0
    return _best(sample, matrix, outputs, warm, _ACTS)


def _draws(sample: Sample, numbers: list[TagNumbers], outputs: set[str]) -> list[Pair]:
    """Zone outputs and the current that goes up with them in proportion."""
    currents = [
        i for i, one in enumerate(numbers)
        if one.count and not one.stepped and not one.switch and one.least >= -0.5 and one.most < 300
        and sample.tags[i] not in outputs
    ]  # fmt: skip
    some = slice(None, None, max(1, len(sample.seconds) // _ROWS))
    found = []
    for output in sorted(outputs):
        x = sample.values[sample.tags.index(output), some]
        fits = sorted(((_in_proportion(x, sample.values[c, some]), c) for c in currents), reverse=True)
        if fits and fits[0][0] > _DRAWS and (len(fits) == 1 or fits[0][0] - fits[1][0] > _CLEARLY):
            lead = fits[0][0] - (fits[1][0] if len(fits) > 1 else 0.0)
            found.append(Pair(output, sample.tags[fits[0][1]], fits[0][0], lead))
    return found


def _in_proportion(x: np.ndarray, y: np.ndarray) -> float:
    """Correlation less the miss of a line through nought, over rows in which `x` is on; 0 where that says nothing."""
    both = np.isfinite(x) & np.isfinite(y) & (x > 3)
    x, y = x[both], y[both]
    if len(x) < 100 or np.std(x) < 1.0 or np.std(y) <= 0:
        return 0.0
    slope = np.sum(x * y) / np.sum(x**2)
    if slope > _AMPERE_PER_PERCENT:
        return 0.0  # another output rather than a current
    miss = np.sqrt(np.mean((y - slope * x) ** 2)) / max(np.sqrt(np.mean(y**2)), 1e-9)
    return max(0.0, float(np.corrcoef(x, y)[0, 1] - miss))


def _refills(sample: Sample, numbers: list[TagNumbers]) -> list[Pair]:
    """Switches that are on while a weight goes up and off while it falls."""
    switches = [i for i, one in enumerate(numbers) if one.switch and not one.constant]
    weights = [i for i, one in enumerate(numbers) if one.count and not one.stepped and not one.switch and one.least >= -5]
    together = np.diff(sample.part) == 0
    found = []
    for s in switches:
        on = (sample.values[s][1:] == 1) & together
        off = (sample.values[s][1:] == 0) & together
        if on.sum() < 5 or off.sum() < 20:
            continue
        fits = []
        for w in weights:
            steps = np.diff(sample.values[w])
            up_on, up_off = _share_up(steps[on]), _share_up(steps[off])
            if up_on > 0.6 and up_off < 0.4:
                fits.append((up_on - up_off, w))
        fits.sort(reverse=True)
        if fits and (len(fits) == 1 or fits[0][0] - fits[1][0] > 0.2):
            lead = fits[0][0] - (fits[1][0] if len(fits) > 1 else 0.0)
            found.append(Pair(sample.tags[s], sample.tags[fits[0][1]], fits[0][0], lead))
    return found


def _share_up(steps: np.ndarray) -> float:
    moved = steps[np.isfinite(steps) & (steps != 0)]
    return float((moved > 0).mean()) if len(moved) >= 3 else 0.5


def _same(sample: Sample, numbers: list[TagNumbers]) -> list[tuple[str, str]]:
    """Tags that show the same in every row though they move: one of them is a copy."""
    groups: dict[tuple[float, float, float, int], list[int]] = {}
    for i, one in enumerate(numbers):
        if one.count and not one.stepped and not one.switch and one.distinct > 5:
            groups.setdefault((one.least, one.middle, one.most, one.count), []).append(i)
    found = []
    for group in groups.values():
        for k, i in enumerate(group):
            for j in group[k + 1 :]:
                if np.array_equal(sample.values[i], sample.values[j], equal_nan=True):
                    found.append((sample.tags[i], sample.tags[j]))
    return found
