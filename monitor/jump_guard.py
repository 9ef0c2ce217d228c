"""Takes out of the coarse readings what a barrel or a melt cannot have done: temperatures that jumped.

A barrel zone moves by about 0.25 C/s at most; a reading that jumps and stays is its couple, not its steel.
Such readings count as not known from the jump until the reading comes back near where it left, or has moved
like steel again for long. A small die that water quenches may fall as fast, but it gathers pace: a couple breaks from
one reading to the next, out of rest. The conditions on couples see the raw readings and say what happened.

A controller that was silent shows what its zones did meanwhile at once, and a reading that comes to its set-point from
far off it has come back.

A melt that stood in head and die is as cold as they are, and when the screw starts again fresh melt reaches the probe
within seconds: in the minutes after a stand a melt temperature may move as far as it can have been apart from them.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor import stood_silent
from monitor.contract import State
from monitor.exact import Bools, Floats, accumulate_while, last_known
from monitor.view import Readings

ZONE_JUMP_C_S = 1.0
"""As the condition on couples has it: what is taken out here must be said there."""

MELT_JUMP_C_S = 2.0
LEAST_JUMP_C = 8.0
BACK_WITHIN_C = 6.0
STANDS_RPM = 1.0
FRESH_MELT_S, FRESH_MELT_C = 600.0, 60.0
"""So long after a stand fresh melt may come, so far from what stood; common practice, no source."""

GATHERS = 0.5
"""What moved so much of this step in the reading before, the same way, is under way and has not jumped. So may look a
couple that breaks within the mean of a cell, where it jumps by less than three times the limit. Common practice, no
source."""

NEAR_SET_C, FAR_OFF_SET_C = 10.0, 50.0
"""What jumps from so far off its set-point to so near it has come back: a couple that was open now and then, or while
nothing was logged. None shorts or opens there. Common practice, no source."""

LONG_S = 1e9
BELIEVED_AGAIN_S = 7200.0


def guarded_rows(index: dict[str, int]) -> list[int]:
    """Rows of zone and melt temperatures."""
    return [row for key, row in index.items() if key.startswith(("zone_temperature", "melt_temperature"))]


def start(rows: int) -> State:
    """Nothing seen. last: newest reading; silent_s: how old it is; left_at: where a jump began, NaN = none;
    away_s: how long ago; ran_s: how long the screw has turned; step: from the reading before to the newest.
    """
    return {
        "ran_s": np.full(1, LONG_S),
        "last": np.full(rows, np.nan),
        "silent_s": np.zeros(rows),
        "left_at": np.full(rows, np.nan),
        "away_s": np.zeros(rows),
        "step": np.full(rows, np.nan),
        **stood_silent.start(),
    }


def came_back(before: Any, now: Any, wanted: Any) -> Any:
    """Whether a reading has come to its set-point from far off it: numbers, or arrays of one shape, C."""
    with np.errstate(invalid="ignore"):
        return (np.abs(now - wanted) <= NEAR_SET_C) & (np.abs(before - wanted) >= FAR_OFF_SET_C)


def under_way(before: Floats, step: Floats) -> Bools:
    """Whether a reading was moving already when it took this step; before: the step before it, of the same shape."""
    with np.errstate(invalid="ignore"):
        return (np.abs(before) >= GATHERS * np.abs(step)) & (before * step > 0)


def advance(state: State, readings: Readings) -> tuple[State, Readings]:
    """The readings with jumped temperatures blanked. After a silence steel may be as far off as it can have moved."""
    rows = guarded_rows(dict(readings.index))
    if not rows:
        return state, readings
    step_s = readings.step / 1e9
    names = [key for key in readings.index if key.startswith(("zone_temperature", "melt_temperature"))]
    melt = np.array([key.startswith("melt") for key in names])
    rates = np.where(melt, MELT_JUMP_C_S, ZONE_JUMP_C_S)
    x = readings.values[rows]
    if not x.shape[1]:
        return state, readings
    fresh, ran_s = _fresh_melt(state["ran_s"], readings, step_s)
    limits = np.where(melt[:, None] & fresh, FRESH_MELT_C, 0.0)
    joined = np.concatenate((state["last"][:, None], x), axis=1)
    known, _ = last_known(state["last"][~melt], x[~melt])
    moves = known != np.concatenate((state["last"][~melt][:, None], known[:, :-1]), axis=1)
    moved_c, silence = stood_silent.may_have_moved_c(state, moves, step_s)
    limits = np.fmax(limits, np.where(~melt[:, None], moved_c, 0.0))
    with np.errstate(invalid="ignore"):
        usual = np.fmax(LEAST_JUMP_C, rates * step_s)[:, None]
        steps = joined[:, 1:] - joined[:, :-1]
        calm = np.abs(steps) <= np.fmax(usual, limits)
    # From a reading that is not the last cell's no pace can be told.
    steps[:, 0] = np.where(state["silent_s"] > 0, np.nan, steps[:, 0])
    calm |= under_way(np.concatenate((state["step"][:, None], steps[:, :-1]), axis=1), steps)
    quiet = np.isnan(state["left_at"]) & (state["silent_s"] == 0.0)
    after = {**{name: values.copy() for name, values in state.items()}, "ran_s": ran_s, **silence}
    after["last"], after["step"] = joined[:, -1].copy(), steps[:, -1].copy()
    blanked: dict[int, Floats] = {}
    for row in np.flatnonzero(~(quiet & calm.all(axis=1))).tolist():
        out = x[row].copy()
        if np.isnan(out).all():
            _silent(state, after, row, len(out), step_s)
        else:
            _walk(
                state, after, row, out, calm[row], limits[row], float(rates[row]), step_s, _wanted(readings, names[row])
            )
            blanked[row] = out
    changed = [row for row, out in blanked.items() if not np.array_equal(out, x[row], equal_nan=True)]
    if not changed:
        return after, readings
    values = readings.values.copy()
    for row in changed:
        values[rows[row]] = blanked[row]
    return after, Readings(readings.t0, readings.step, readings.index, values, readings.raw)


def _wanted(readings: Readings, key: str) -> Floats:
    """Set-point of a zone, [n]; NaN where there is none."""
    row = readings.index.get(key.replace("zone_temperature", "zone_setpoint"))
    return np.full(readings.values.shape[1], np.nan) if row is None or key.startswith("melt") else readings.values[row]


def _silent(state: State, after: State, row: int, cells: int, step_s: float) -> None:
    """A row without any reading: only time passes."""
    after["last"][row] = state["last"][row]
    silent, away = float(state["silent_s"][row]), float(state["away_s"][row])
    is_away = not np.isnan(state["left_at"][row])
    for _ in range(cells):
        silent, away = silent + step_s, away + step_s if is_away else 0.0
    after["silent_s"][row], after["away_s"][row] = silent, away


def _fresh_melt(ran_s: Floats, readings: Readings, step_s: float) -> tuple[Bools, Floats]:
    """Whether fresh melt may reach the probes in each cell, [n], and how long the screw has turned at their end."""
    n = readings.values.shape[1]
    if "screw_speed" not in readings.index:
        return np.zeros(n, bool), ran_s
    with np.errstate(invalid="ignore"):
        turns = ~(readings.values[readings.index["screw_speed"]] <= STANDS_RPM)
    ran, ran_after = accumulate_while(ran_s, np.full((1, n), step_s), turns[None, :])
    return ran[0] <= FRESH_MELT_S, np.minimum(ran_after, LONG_S)


def _walk(
    state: State,
    after: State,
    row: int,
    out: Floats,
    calm: NDArray[np.bool_],
    limits: Floats,
    rate: float,
    step_s: float,
    wanted: Floats,
) -> None:
    """One row cell by cell, blanking in `out` what is away; stretches in which nothing happens are passed over."""
    last, silent, left, away = (float(state[name][row]) for name in ("last", "silent_s", "left_at", "away_s"))
    x, n, i = out.tolist(), len(out), 0
    restless = np.flatnonzero(~calm)
    while i < n:
        if left != left and silent == 0.0:
            place = int(np.searchsorted(restless, i))
            following = int(restless[place]) if place < len(restless) else n
            if following > i:
                last, i = x[following - 1], following
                continue
        now = x[i]
        seen = now == now
        far = seen and abs(now - last) > max(LEAST_JUMP_C, rate * (silent + step_s), limits[i])
        if far and left != left and not (silent == 0.0 and calm[i]) and not came_back(last, now, wanted[i]):
            left = last
        if seen and (abs(now - left) <= BACK_WITHIN_C or (left == left and away >= BELIEVED_AGAIN_S)):
            left = math.nan
        away = away + step_s if left == left else 0.0
        if seen:
            last, silent = now, 0.0
        else:
            silent += step_s
        if left == left:
            out[i] = math.nan
        i += 1
    for name, value in (("last", last), ("silent_s", silent), ("left_at", left), ("away_s", away)):
        after[name][row] = value
