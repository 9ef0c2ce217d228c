"""When the screen was last changed, as the pressure ahead of it tells, and how many kilograms each screen has seen."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from dashboards.ahead import PRESSURE_EXPONENT

LEAST_DROP_PCT = 8.0
"""A step down of the corrected pressure that a recipe change or a lot hardly makes; common practice, no source."""

BESIDE = 3
"""Steady cells compared before and after a step."""


@dataclass(frozen=True)
class ScreenRun:
    """One screen between two steps down. start, end: in the unit of time given. kg: fed meanwhile, NaN = not known."""

    start: int
    end: int
    kg: float


def steps_down(t: np.ndarray, pressure: np.ndarray, rate: np.ndarray, steady: np.ndarray) -> list[int]:
    """Times at which the pressure, brought to one rate, stepped down by `LEAST_DROP_PCT` or more and stayed there.

    t, pressure (bar), rate (kg/h, NaN = not known), steady: shape (n,). Pressure goes with rate to the power 0.35. A
    cell not steady lies between two stretches and is stepped over: a change at a stop counts.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        known_rate = np.isfinite(rate).any()
        level = np.log(np.where(pressure > 0, pressure, np.nan))
        level = level - PRESSURE_EXPONENT * np.log(np.where(rate > 0, rate, np.nan)) if known_rate else level
    there = np.flatnonzero(steady & np.isfinite(level))
    y = level[there]
    if len(y) < 2 * BESIDE:
        return []
    windows = np.median(np.lib.stride_tricks.sliding_window_view(y, BESIDE), axis=1)
    fall = windows[:-BESIDE] - windows[BESIDE:]
    wanted = -np.log(1 - LEAST_DROP_PCT / 100)
    found, i = [], 0
    while i < len(fall):
        if fall[i] < wanted:
            i += 1
            continue
        last = i
        while last + 1 < len(fall) and fall[last + 1] >= wanted:
            last += 1
        # Medians say that it fell, the largest single step between them says where.
        first_low = i + 1 + int(np.argmax(y[i : last + 2 * BESIDE - 1] - y[i + 1 : last + 2 * BESIDE]))
        found.append(int(t[there[first_low]]))
        i = last + BESIDE
    return found


def screen_runs(t: np.ndarray, rate: np.ndarray, changes: list[int], cell_h: float) -> list[ScreenRun]:
    """Screens from the first time to the last, cut at the changes; the first and the last are not whole.

    cell_h: width of a cell, hours.
    """
    if not len(t):
        return []
    edges = [int(t[0]), *changes, int(t[-1]) + 1]
    found = []
    for start, end in itertools.pairwise(edges):
        inside = rate[(t >= start) & (t < end)]
        kg = float(np.nansum(inside) * cell_h) if np.isfinite(inside).any() else float("nan")
        found.append(ScreenRun(start, end, kg))
    return found
