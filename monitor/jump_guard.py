"""Takes out of the coarse readings what a barrel or a melt cannot have done: temperatures that jumped.

A barrel zone moves by about 0.25 C/s at most; a reading that jumps and stays is its couple, not its steel.
Such readings count as not known from the jump until the reading comes back near where it left, or has moved
like steel again for long. The conditions on couples see the raw readings and say what happened.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import State
from monitor.exact import Floats
from monitor.view import Readings

ZONE_JUMP_C_S = 0.8
MELT_JUMP_C_S = 2.0
LEAST_JUMP_C = 8.0
BACK_WITHIN_C = 6.0
BELIEVED_AGAIN_S = 7200.0
STRETCH = 30


def guarded_rows(index: dict[str, int]) -> list[int]:
    """Rows of zone and melt temperatures."""
    return [row for key, row in index.items() if key.startswith(("zone_temperature", "melt_temperature"))]


def start(rows: int) -> State:
    """Nothing seen. last: newest reading; silent_s: how old it is; left_at: where a jump began, NaN = none;
    away_s: how long ago.
    """
    return {
        "last": np.full(rows, np.nan),
        "silent_s": np.zeros(rows),
        "left_at": np.full(rows, np.nan),
        "away_s": np.zeros(rows),
    }


def advance(state: State, readings: Readings) -> tuple[State, Readings]:
    """The readings with jumped temperatures blanked. After a silence steel may be as far off as it can have moved."""
    rows = guarded_rows(dict(readings.index))
    if not rows:
        return state, readings
    step_s = readings.step / 1e9
    rates = np.array(
        [
            ZONE_JUMP_C_S if key.startswith("zone") else MELT_JUMP_C_S
            for key in readings.index
            if key.startswith(("zone_temperature", "melt_temperature"))
        ]
    )
    limit = np.fmax(LEAST_JUMP_C, rates * step_s)
    x = readings.values[rows]
    out = x.copy()
    for first in range(0, x.shape[1], STRETCH):
        part = slice(first, first + STRETCH)
        if not _calm(state, x[:, part], limit):
            state = _walk(state, x[:, part], out[:, part], rates, step_s)
        else:
            state = {**state, "last": x[:, part][:, -1].copy(), "silent_s": np.zeros(len(rows))}
    if np.array_equal(out, x, equal_nan=True):
        return state, readings
    values = readings.values.copy()
    values[rows] = out
    return state, Readings(readings.t0, readings.step, readings.index, values, readings.raw)


def _calm(state: State, x: Floats, limit: Floats) -> bool:
    """Whether a stretch need not be walked: nothing is away, nothing is missing, nothing jumps."""
    if not np.isnan(state["left_at"]).all():
        return False
    joined = np.concatenate((state["last"][:, None], x), axis=1)
    return bool((np.abs(joined[:, 1:] - joined[:, :-1]) <= limit[:, None]).all())


def _walk(state: State, x: Floats, out: Floats, rates: Floats, step_s: float) -> State:
    """Cell by cell, blanking in `out` what is away."""
    last, silent, left, away = state["last"], state["silent_s"], state["left_at"], state["away_s"]
    for i in range(x.shape[1]):
        now = x[:, i]
        seen = np.isfinite(now)
        most = np.fmax(LEAST_JUMP_C, rates * (silent + step_s))
        jumped = seen & (np.abs(now - last) > most) & np.isnan(left)
        left = np.where(jumped, last, left)
        back = seen & ((np.abs(now - left) <= BACK_WITHIN_C) | (away >= BELIEVED_AGAIN_S))
        left = np.where(back, np.nan, left)
        away = np.where(np.isnan(left), 0.0, away + step_s)
        last, silent = np.where(seen, now, last), np.where(seen, 0.0, silent + step_s)
        out[:, i] = np.where(np.isnan(left), now, np.nan)
    return {"last": last, "silent_s": silent, "left_at": left, "away_s": away}
