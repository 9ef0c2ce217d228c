"""How a pressure creeps over hours at the same rate and melt temperature: one point every five minutes.

The points are logarithms of pressure with rate and melt temperature taken out, medians over calm cells only, the
newest 64 of them. A planned change of rate, speed or recipe, or a stop, joins the points before and after at one
level, so that a wrong flow exponent makes no creep. A step down is a new screen: the points start anew. The base is
the lowest level since then, which also lets a start slide down to where it settles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor.contract import State
from monitor.exact import Bools, Floats
from monitor.fixed_base import known_medians

POINT_S = 300.0
MOST_POINTS = 64
LEVEL_POINTS = 3
"""Points whose median is 'now': one odd point is nothing."""

CALM_SHARE = 0.6
CLIMB_POINTS, LONG_CLIMB_POINTS, MOST_OF_CLIMB = 4, 6, 0.7
"""So many points each above the one before, and no step that is more than this share of the way: it climbs. Without a
trend four points come in such an order once in 24 times, six once in 720: four must rise by twice the least rise."""

MOST_LAG1 = 0.9
"""Points of five minutes that resemble each other more than this are no noise: a wave or a bend of the melt itself."""

TEETH = 3
ROWS = ("y", "bar", "ahead", "load", "probe")
FACTS = (
    "rise", "slope_h", "slope_low_h", "slope_high_h", "bar_h", "bar_low_h", "bar_high_h", "drop_bar", "pressure",
    "base_bar", "torque_rise", "points", "tooth", "earlier", "climb", "climbs",
    "step", "gain", "lately", "probe_rise",
)  # fmt: skip
"""Per cell: rise over the base and slopes per hour, as logarithms, with interval; the same in bar; the pressure (drop)
that creeps and the pressure ahead; its base; rise of net torque; number of points; the usual rise before a step down
where that comes every few hours by itself (a screen changer that flushes itself); the rise a quarter of an hour ago;
what it rose over the newest points where they climb one after another and in no single step, else NaN; whether
that is enough to be a trend (`CLIMB_POINTS`, `LONG_CLIMB_POINTS`); the most it rose within a quarter of an hour that is
over; what it rose over the newer half of the points since it left its base; over the newest half hour of them; and
what of the rise is correction for melt temperature alone, that the pressure itself did not show."""


@dataclass(frozen=True)
class Rules:
    """step_down: fall that is a new screen, as a logarithm. least_rise: below it no trend is worked out."""

    step_down: float
    least_rise: float


def start() -> State:
    """No point."""
    return {
        "cells": np.full((len(ROWS), 0), np.nan),
        **{name: [] for name in ROWS}, "when": [],
        "clock": 0, "base": math.nan, "base_load": math.nan, "base_probe": math.nan, "teeth": [], "since": 0,
        "facts": [math.nan] * len(FACTS),
    }  # fmt: skip


def advance(
    state: State, rows: Floats, calm: Bools, unchanged_s: Floats, first_index: int, width: int, rules: Rules
) -> tuple[State, dict[str, Floats]]:
    """Points and facts of one pressure.

    rows: [5, n]: logarithm without rate and melt temperature, the pressure (drop) that creeps in bar, the pressure
    ahead in bar, logarithm of net torque, and what the melt temperature alone did to the first. width: cells a point,
    on the absolute grid. Facts stand until the next.
    """
    n, lead = rows.shape[1], first_index % width
    before = state["cells"]
    blank = np.full((len(ROWS), lead - before.shape[1]), np.nan)  # a log begins in the middle of a point
    joined = np.concatenate((blank, before, np.where(calm, rows, np.nan)), axis=1)
    whole = joined.shape[1] // width
    medians, counts = _medians(joined[:, : whole * width].reshape(len(ROWS), whole, width))
    out, s, done = np.full((len(FACTS), n), np.nan), dict(state), 0
    for place in range(whole):
        end = (place + 1) * width - lead
        out[:, done : end - 1] = np.array(s["facts"])[:, None]
        enough = counts[place] >= CALM_SHARE * width
        s = _point(s, medians[place] if enough else None, float(unchanged_s[end - 1]), rules)
        out[:, end - 1] = s["facts"]
        done = end
    out[:, done:] = np.array(s["facts"])[:, None]
    return {**s, "cells": joined[:, whole * width :].copy()}, dict(zip(FACTS, out, strict=True))


def _medians(cube: Floats) -> tuple[list[list[float]], list[int]]:
    """Medians of the rows over each point's usable cells, and how many there are. cube: [row, point, cell]."""
    ok = np.isfinite(cube[0]) & np.isfinite(cube[1])
    rows, points, _ = cube.shape
    usable = np.where(ok, cube, np.nan).reshape(rows * points, cube.shape[2])
    return known_medians(usable).reshape(rows, points).T.tolist(), np.count_nonzero(ok, axis=1).tolist()


def _point(s: State, medians: list[float] | None, unchanged_s: float, rules: Rules) -> State:
    s = {**s, "clock": s["clock"] + 1}
    if medians is None:
        return s
    values = dict(zip(ROWS, medians, strict=True))
    y = values["y"]
    if s["y"]:
        step = y - _newest(s["y"])
        broke = unchanged_s < (s["clock"] - s["when"][-1]) * POINT_S
        if step < -rules.step_down:
            s = _new_screen(s, broke)
        elif broke:
            s = _joined(s, "y", "base", step - _meanwhile(s))
            for name in ("load", "probe"):
                s = _joined(s, name, f"base_{name}", values[name] - _newest(s[name]))
    for name, value in {**values, "when": s["clock"]}.items():
        s[name] = [*s[name], value][-MOST_POINTS:]
    if len(s["y"]) >= LEVEL_POINTS:
        now = _newest(s["y"])
        if not now >= s["base"]:
            s["base"], s["base_load"], s["base_probe"] = now, _newest(s["load"]), _newest(s["probe"])
    return {**s, "facts": _facts(s, rules)}


def _joined(s: State, name: str, base: str, step: float) -> State:
    """The points so far and their base, moved to where the next goes on."""
    return {**s, name: [one + step for one in s[name]], base: s[base] + step}


def _meanwhile(s: State) -> float:
    """What it will have crept between the newest point and now, at its pace so far: a change does not clean it."""
    if len(s["y"]) < 2 * LEVEL_POINTS:
        return 0.0
    first = sorted(s["y"][:LEVEL_POINTS])[LEVEL_POINTS // 2]
    pace = (_newest(s["y"]) - first) / (s["when"][-1] - s["when"][0])
    return max(pace, 0.0) * (s["clock"] - s["when"][-1])


def _new_screen(s: State, broke: bool) -> State:
    rise = s["facts"][0]
    teeth = s["teeth"] if broke or not rise > 0 else [*s["teeth"], [s["clock"] - s["since"], rise]][-TEETH:]
    fresh = start()
    return {**fresh, "clock": s["clock"], "since": s["clock"], "teeth": teeth}


def _facts(s: State, rules: Rules) -> list[float]:
    level, drop = _newest(s["y"]), _newest(s["bar"])
    rise = level - s["base"]
    slopes = [math.nan] * 6
    points = len(s["y"])
    if points >= 2 * LEVEL_POINTS and rise >= rules.least_rise:
        slopes = _slopes(s, np.array(s["y"]), drop, level)
    climb, steps = _climb(s)
    climbs = climb >= rules.least_rise * (1 if len(steps) >= LONG_CLIMB_POINTS - 1 else 2)
    if climbs and not slopes[1] > 0:
        # A base of calm points before it bends the line: the pace is that of the climb.
        per_h = 3600 / POINT_S
        pace = [climb / len(steps) * per_h, min(steps) * per_h, max(steps) * per_h]
        slopes = [*pace, *(one * drop for one in pace)]
    torque = _newest(s["load"]) - s["base_load"]
    earlier = _newest(s["y"][:-LEVEL_POINTS]) - s["base"]
    tooth = max(rise for _, rise in s["teeth"]) if _sawtooth(s) else math.nan
    of_it = (
        drop,
        _newest(s["ahead"]),
        drop * math.exp(-rise),
        torque,
        float(points),
        tooth,
        earlier,
        climb,
        float(climbs),
        _step(s["y"]),
        level - _half_way(s, level),
        level - _newest(s["y"][:-LATELY_POINTS]),
        _newest(s["probe"]) - s["base_probe"],
    )
    return [rise, *slopes, *of_it]


LATELY_POINTS = 6
LEFT_SHARE = 0.25
"""Of the rise: up to here it has not left its base."""


def _step(y: list[float]) -> float:
    """The most that three points rose over the three before them, the newest left out: that may still go on."""
    middles = [sorted(y[k : k + 3])[1] for k in range(len(y) - 3)]
    return max((after - before for before, after in zip(middles, middles[3:], strict=False)), default=math.nan)


def _half_way(s: State, level: float) -> float:
    """The level half of the points ago that have come since it left its base."""
    y = s["y"]
    least = s["base"] + LEFT_SHARE * (level - s["base"])
    left = next((k for k in range(len(y) - 1, 0, -1) if _newest(y[: k + 1]) <= least), 0)
    return _newest(y[: (left + len(y) - 1) // 2 + 1])


def _climb(s: State) -> tuple[float, list[float]]:
    """Rise over the newest points where they climb one after another, without a gap, and its steps; NaN elsewhere."""
    y, when = s["y"], s["when"]
    first = len(y) - 1
    while first > 0 and y[first] > y[first - 1] and when[first] - when[first - 1] == 1:
        first -= 1
    steps = [after - before for before, after in zip(y[first:], y[first + 1 :], strict=False)]
    if len(steps) < CLIMB_POINTS - 1 or max(steps) > MOST_OF_CLIMB * sum(steps):
        return math.nan, []
    return sum(steps), steps


def _slopes(s: State, y: np.ndarray, drop: float, level: float) -> list[float]:
    """Slope and interval of the logarithm and of the pressure itself, per hour."""
    from monitor.statistics.theil_sen import theil_sen

    hours = np.array(s["when"], dtype=float) * POINT_S / 3600
    lag1 = lag1_about_bend(hours, y)
    log = theil_sen(hours, y, lag1=lag1)
    bar = theil_sen(hours, drop * np.exp(y - level), lag1=lag1)
    return [log.slope, log.low, log.high, bar.slope, bar.low, bar.high]


def lag1_about_bend(hours: Floats, y: Floats) -> float:
    """Lag-1 autocorrelation of points about their parabola, 0 to `MOST_LAG1`; 0 below ten points.

    A screen fills faster and faster: about a straight line such a bend alone looks like noise that hangs together, and
    the interval of the slope would never leave zero out. Corrected for about (3 + 7 phi)/n of bias (value from memory,
    after Kendall 1954 for a mean; checked in tests by simulation).
    """
    n = len(y)
    if n < 10:
        return 0.0
    arm = hours - hours.mean()
    apart = y - np.polyval(np.polyfit(arm, y, 2), arm)
    square = float((apart * apart).sum())
    if square <= 0:
        return 0.0
    measured = float((apart[1:] * apart[:-1]).sum()) / square
    return min(max((n * measured + 3) / max(n - 7, 3), 0.0), MOST_LAG1)


def _sawtooth(s: State) -> bool:
    """Two steps down within three hours each, without a stop or change: the screen cleans itself."""
    return len(s["teeth"]) >= 2 and all(length * POINT_S <= 3 * 3600 for length, _ in s["teeth"])


def _newest(points: list[float]) -> float:
    """Median of the newest points: where it stands now."""
    known = [point for point in points[-LEVEL_POINTS:] if point == point]
    if not known:
        return math.nan
    known.sort()
    return (known[(len(known) - 1) // 2] + known[len(known) // 2]) / 2
