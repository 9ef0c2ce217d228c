"""How tags move together, whatever they are called: what follows a set-point, what falls at a rate, what heats what.

Every test asks more than fitting: that nothing else fits nearly as well. Levels are common practice, no source.
"""

from __future__ import annotations

import numpy as np

from ingest.propose.heats import draws, heats
from ingest.propose.relations import Follows, Relations
from ingest.propose.sample import Sample
from ingest.propose.steady_zones import steady_zones
from ingest.propose.tag_numbers import TagNumbers
from ingest.propose.weights import falls, refills

_NEAR = 0.02
_FOLLOWS = 0.6
_ROWS = 2000
_LASTS, _APART = 0.03, 1.05


def relations_of(sample: Sample, numbers: list[TagNumbers]) -> Relations:
    """Everything seen in a sample. numbers: of its tags, in order."""
    follows = _follows(sample, numbers)
    heated = heats(sample, numbers, {one.actual for one in follows})
    return Relations(
        follows=tuple(follows),
        falls=tuple(falls(sample, numbers)),
        heats=tuple(heated),
        draws=tuple(draws(sample, numbers, {pair.first for pair in heated})),
        refills=tuple(refills(sample, numbers)),
        same=tuple(_same(sample, numbers)),
        steady=tuple(steady_zones(sample.tags, dict(zip(sample.tags, numbers, strict=True)), follows)),
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
        there = values[np.ix_(np.array(actual, int), np.flatnonzero(set_))]
        near = np.abs(there - target[set_]) <= _NEAR * target[set_]
        for a, share in zip(actual, near.mean(axis=1), strict=True):
            if share >= _FOLLOWS and a != w:
                shares[a, w] = float(share)
    found = []
    for (a, w), share in shares.items():
        rivals = sum(1 for x, y in shares if (x == a) != (y == w))
        moved = rivals == 0 and _moves_with(values[a], values[w])
        found.append(Follows(sample.tags[a], sample.tags[w], share, rivals == 0, moved))
    return found


def _moves_with(actual: np.ndarray, wanted: np.ndarray) -> bool:
    """Whether the wanted value has two levels at least, 5 % apart, and the actual one is mostly near each."""
    known = np.isfinite(actual) & np.isfinite(wanted) & (wanted > 0)
    levels, counts = np.unique(wanted[known], return_counts=True)
    levels = levels[counts >= _LASTS * known.sum()]
    if len(levels) < 2 or levels.max() < _APART * levels.min():
        return False
    near = [np.mean(np.abs(actual[known & (wanted == one)] - one) <= _NEAR * one) for one in levels]
    return bool(min(near) >= 0.5)


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
