"""Which weight falls at which rate, and which switch fills it up. Levels are common practice, no source."""

from __future__ import annotations

import numpy as np

from ingest.propose.relations import Pair
from ingest.propose.sample import Sample
from ingest.propose.tag_numbers import TagNumbers

_WINDOW_S = 60.0
_RATE_RATIO = (0.93, 1.07)
_SPREAD = 0.25
_SELDOM = 0.1
_AT_ONE_RATE = 12
"""Rates and set-points of six feeders."""
_MOSTLY, _RISES = 0.6, 0.35
"""A weight falls most of the time; a noisy rate falls in some minutes too."""


def falls(sample: Sample, numbers: list[TagNumbers]) -> list[Pair]:
    """Weights whose fall is the mean of a rate: kilograms a second times 3600."""
    first, last = _windows(sample)
    if len(first) < 5:
        return []
    hours = (sample.seconds[last] - sample.seconds[first]) / 3600
    weights = [
        i for i, one in enumerate(numbers)
        if one.count and not one.stepped and not one.switch and one.least >= -5 and one.rising < _RISES
    ]  # fmt: skip
    rates = [i for i, one in enumerate(numbers) if one.count and not one.switch and one.high > 0 and one.low > -50]
    if not weights or not rates:
        return []
    with np.errstate(all="ignore"):
        means = np.array(
            [[np.mean(sample.values[r, f : e + 1]) for f, e in zip(first, last, strict=True)] for r in rates]
        )
    found = []
    for w in weights:
        row = sample.values[w]
        falls = np.array([_fall(row[f : e + 1]) for f, e in zip(first, last, strict=True)]) / hours
        good = np.isfinite(falls) & (falls > 0)
        if good.sum() < max(5, _MOSTLY * len(first)):
            continue
        fits = []
        for k, r in enumerate(rates):
            both = good & np.isfinite(means[k]) & (means[k] > 0)
            if r == w or both.sum() < 5:
                continue
            ratios = falls[both] / means[k][both]
            middle = float(np.median(ratios))
            spread = float(np.median(np.abs(ratios - middle)))
            if _RATE_RATIO[0] < middle < _RATE_RATIO[1] and spread < _SPREAD:
                fits.append((abs(middle - 1) + spread, r))
        fits.sort()
        # A rate and its set-point fit alike, and bear each other out; which is which other tests tell.
        stepped = [numbers[r].stepped for _, r in fits[:2]]
        lead = 0.0 if len(fits) > 2 else 1.0 if sorted(stepped) == [False, True] else 0.5
        # Of several feeders at one rate names may tell whose is whose.
        found += [Pair(sample.tags[w], sample.tags[r], 1 - miss, lead) for miss, r in fits[:_AT_ONE_RATE]]
    return found


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


def _fall(stretch: np.ndarray) -> float:
    """Weight lost over a stretch, NaN where it was filled or there are readings missing."""
    if not np.isfinite(stretch).all():
        return float("nan")
    lost = float(stretch[0] - stretch[-1])
    most_up = float(np.diff(stretch).max(initial=0.0))
    return lost if lost > 0 and most_up < 0.5 * lost else float("nan")


def refills(sample: Sample, numbers: list[TagNumbers]) -> list[Pair]:
    """Switches that are on while a weight goes up and off while it falls."""
    # A noisy reading of noughts and ones is no switch: one stays on for a while.
    switches = [i for i, one in enumerate(numbers) if one.switch and not one.constant and one.changes < _SELDOM]
    weights = [
        i for i, one in enumerate(numbers) if one.count and not one.stepped and not one.switch and one.least >= -5
    ]
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
