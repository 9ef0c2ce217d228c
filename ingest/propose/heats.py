"""Which output heats which zone, and which current goes with it. Levels are common practice, no source."""

from __future__ import annotations

import numpy as np

from ingest.propose.relations import Pair
from ingest.propose.sample import Sample
from ingest.propose.tag_numbers import TagNumbers

_ROWS = 2000
_ACTS = 0.35
_SLOW = 0.003
_CLEARLY = 0.12
_DRAWS = 0.5
_AMPERE_PER_PERCENT = 0.6


def heats(sample: Sample, numbers: list[TagNumbers], at_setpoint: set[str]) -> list[Pair]:
    """Outputs and the temperature whose rise takes them back: a controller answers what it reads at once.

    at_setpoint: tags that sit at a set-point.
    """
    outputs = _outputs(numbers)
    # Steel is slow: a rate, which its drive answers likewise, jumps more from reading to reading.
    warm = [
        i for i, one in enumerate(numbers)
        if one.count and not one.stepped and 15 < one.middle < 900 and one.jitter < _SLOW * one.middle
    ]  # fmt: skip
    changes = _changes(sample, 2 * (sample.cadence_s or 1.0))
    if not outputs or not warm or changes.shape[1] < 100:
        return []
    matrix = -_correlation(changes, outputs, warm)
    for i, o in enumerate(outputs):
        for j, t in enumerate(warm):
            if o == t:
                matrix[i, j] = 0.0
    return _one_way(_best(sample, matrix, outputs, warm, _ACTS), at_setpoint)


def _one_way(heats: list[Pair], at_setpoint: set[str]) -> list[Pair]:
    """Only pairs whose temperature sits at a set-point; where both do, both ways round, neither can be told."""
    ways = {(pair.first, pair.second) for pair in heats}
    return [
        pair
        for pair in heats
        if pair.second in at_setpoint and not ((pair.second, pair.first) in ways and pair.first in at_setpoint)
    ]


def draws(sample: Sample, numbers: list[TagNumbers], outputs: set[str]) -> list[Pair]:
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


def _outputs(numbers: list[TagNumbers]) -> list[int]:
    return [
        i for i, one in enumerate(numbers)
        if one.count and not one.stepped and not one.switch and one.least >= -101 and one.most <= 101
        and 0.05 < one.rising < 0.95  # a total only rises
    ]  # fmt: skip


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
