"""Minutes of several runs as one series in the order of time, whatever order the files were given in."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from monitor.reference.collect import Minutes

SAME_SHARE = 0.9
"""Of the minutes two runs share, so many must hold the same readings: the edges of an export are cut elsewhere."""

SAME, ALIKE_SHARE = 1e-6, 0.8
"""Medians of the same readings differ by rounding at most, in shares of their size. A quantity that leans on what came
before differs where one file begins later, and coarse readings are often equal by chance: so most of them decide."""


def in_time_order(minutes: Minutes, runs: list[tuple[str, int]]) -> tuple[Minutes, list[str]]:
    """The minutes of all runs, sorted, each minute once; and why the runs cannot stand together, a sentence each.

    runs: name of each and how many minutes there were after it, in the order they were collected. Minutes that two
    runs share are kept once where they say the same (the same log given twice, exports that overlap); where they do
    not, one of the two is not this line at that time, or its clock is wrong.
    """
    number = np.array(minutes.number, np.int64)
    if not len(number):
        return minutes, []
    ends = [count for _, count in runs]
    of_run = np.searchsorted(np.array(ends), np.arange(len(number)), side="right")
    order = np.argsort(number, kind="stable")
    again = np.concatenate(([False], np.diff(number[order]) == 0))
    shared: dict[tuple[int, int], list[tuple[int, bool]]] = {}
    first = order[np.maximum.accumulate(np.where(again, 0, np.arange(len(order))))]
    for mine, other in zip(order[again].tolist(), first[again].tolist(), strict=True):
        same = _alike(minutes, mine, other)
        shared.setdefault((int(of_run[other]), int(of_run[mine])), []).append((int(number[mine]), same))
    problems = [
        _differ(runs[one][0], runs[other][0], [at for at, _ in found])
        for (one, other), found in shared.items()
        if sum(same for _, same in found) < SAME_SHARE * len(found)
    ]
    kept = order[~again].tolist()
    return (
        Minutes(
            minutes.names,
            minutes.features,
            *([column[place] for place in kept] for column in (minutes.number, minutes.values)),
            *([column[place] for place in kept] for column in (minutes.spreads, minutes.points)),
        ),
        problems,
    )


def _alike(minutes: Minutes, one: int, other: int) -> bool:
    """Whether two minutes hold the same readings, wherever both hold any."""
    a, b = minutes.values[one], minutes.values[other]
    both = np.isfinite(a) & np.isfinite(b)
    same = np.abs(a[both] - b[both]) <= SAME * np.fmax(np.abs(a[both]), np.abs(b[both]))
    return bool(np.count_nonzero(same) >= ALIKE_SHARE * len(same))


def _differ(one: str, other: str, at: list[int]) -> str:
    begins, ends = (datetime.fromtimestamp(60 * minute, UTC).strftime("%Y-%m-%d %H:%M") for minute in (at[0], at[-1]))
    return (
        f"{one} and {other} both have readings from {begins} to {ends} UTC, and they differ: they cannot both be this "
        "line at that time. Leave one of them out, or correct the time in it"
    )
