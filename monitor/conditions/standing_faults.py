"""A zone fault that was found stands until its evidence is gone.

What a zone takes under a fault is no normal level: from the first of the minutes that found it, what it took before is
kept, whatever is learned since. It stands while its output is off that level by half of what it was then, at the same
speed, rate and set-points; it has gone when the output is back for the off-delay. While the line stands, settles or
runs elsewhere nothing can be said: it stands unseen, and is let go after `UNSEEN_S` of that, as not to be judged any
longer rather than as ended.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from monitor.conditions.zone_minutes import Minutes, left_right
from monitor.contract import CLEAR, UNKNOWN, Judged, State
from monitor.exact import Bools, Floats

UNSEEN_S = 4 * 3600.0
"""A stop with its cleaning, a heat-up and the settling after it, and some margin. Common practice, no source."""

LEFT_SHARE = 0.5
"""Part of what it was off by that still counts as the fault: a repair of half of it is seen as one."""

SAME_SET_C, SAME_POINT_SHARE = 2.0, 0.05
STANDING_LINE = ("speed", "rate")
ALONE_SCORE = -1.0
"""Below that of any minute that finds."""


def start(zones: int) -> State:
    """Nothing stands. run: minutes in a row it was found. base, off: % it took before and is off by; wanted: its
    set-point; around: those of its neighbours together; point: speed and rate. seen, back: minutes unseen, and back."""
    nothing = np.full(zones, np.nan)
    counts = {name: np.zeros(zones, np.int64) for name in ("run", "unseen", "back")}
    return {
        **{name: nothing.copy() for name in ("base", "off", "wanted", "around")},
        "point": np.full((2, zones), np.nan),
        "stands": np.zeros(zones, bool),
        **counts,
    }


def idle(state: State) -> bool:
    """Whether nothing stands, nor may do so soon."""
    return not (state["stands"].any() or state["run"].any())


def stand(
    state: State, x: Minutes, judged: Judged, mean: Floats, base: Floats, comparable: Bools, timing: tuple[float, float]
) -> tuple[State, Judged]:
    """What a rule found, with what still stands of what it found before.

    mean: output now, base: what it took before, % [zone, m] each, NaN where it was not found by its output.
    comparable: the line gives no reason for another output and the zone's set-point has settled, [zone, m].
    timing: on- and off-delay, s. A minute that only stands is told by the facts of those that found it.
    """
    found = judged.level > CLEAR
    if not found.any() and idle(state):
        return state, judged
    s = {name: value.copy() for name, value in state.items()}
    wanted = x.now("wanted")
    left, right = left_right(wanted)
    here = {"base": base, "off": mean - base, "wanted": wanted, "around": np.nan_to_num(left) + np.nan_to_num(right)}
    point = np.array([x.mean(x.line[name][None, :], 5)[0] for name in STANDING_LINE])
    level = judged.level.copy()
    on, off, unseen = (max(1, round(seconds / 60.0)) for seconds in (*timing, UNSEEN_S))
    for i in range(x.m):
        now = {name: rows[:, i] for name, rows in here.items()}
        first = found[:, i] & ~s["stands"] & ((s["run"] == 0) | np.isnan(s["off"]))
        for name, values in now.items():
            s[name] = np.where(first, values, s[name])
        s["point"] = np.where(first, point[:, i, None], s["point"])
        s["run"] = np.where(found[:, i], np.minimum(s["run"] + 1, on), 0)
        s["stands"] = s["stands"] | (found[:, i] & (s["run"] >= on) & np.isfinite(s["off"]))
        seen = comparable[:, i] & np.isfinite(mean[:, i]) & _same_point(s, now, point[:, i])
        with np.errstate(invalid="ignore"):
            left_off = (mean[:, i] - s["base"]) * np.sign(s["off"]) >= LEFT_SHARE * np.abs(s["off"])
        alone = s["stands"] & ~found[:, i]
        level[:, i] = np.where(alone, np.where(seen, np.where(left_off, 1, CLEAR), UNKNOWN), level[:, i])
        s["unseen"] = np.where(alone & ~seen, s["unseen"] + 1, 0)
        s["back"] = np.where(alone, np.where(seen, np.where(left_off, 0, s["back"] + 1), s["back"]), 0)
        # A minute longer than the episode waits: it is that which says how it ended.
        s["stands"] = s["stands"] & (s["unseen"] <= unseen) & (s["back"] <= off)
        for name in ("unseen", "back"):
            s[name] = np.where(s["stands"], s[name], 0)
        for name in ("base", "off", "wanted", "around", "point"):
            s[name] = np.where(s["stands"] | (s["run"] > 0), s[name], np.nan)
    score = np.where((level > CLEAR) & ~found, ALONE_SCORE, judged.score)
    return s, replace(judged, level=level, score=score)


def _same_point(s: State, now: dict[str, Floats], point: Floats) -> Bools:
    """Whether set-points, speed and rate are those of before, [zone]."""
    with np.errstate(invalid="ignore", divide="ignore"):
        same = np.abs(now["wanted"] - s["wanted"]) <= SAME_SET_C
        same &= np.abs(now["around"] - s["around"]) <= SAME_SET_C
        same &= ~(np.abs(point[:, None] / s["point"] - 1) > SAME_POINT_SHARE).any(axis=0)
    known: Bools = same
    return known
