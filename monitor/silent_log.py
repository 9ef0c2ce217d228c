"""How long nothing at all has come, and what is held meanwhile that is no reading any more.

In a log that is written on change a reading stands for minutes. Where nothing of any channel comes from a running line,
the log has stopped, not the plant: a weight that is held is none that stands still.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.roles import ROLES, split_key
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, last_known, run_length
from monitor.line import Line
from monitor.phases import turning_limit_rpm

GAPS = 8
"""Completed gaps between arrivals; the second longest of them is how the log usually comes."""

HABITS = 3.0
"""Times the usual gap of a log, from which its silence is no habit."""

SILENT_S = 60.0
"""A running line of which nothing comes for so long is not watched; common practice, no source."""

STATE_HOLD_S = 3600.0
"""Roles that stand for so long by themselves, set-points and modes, hold whether somebody writes or not."""


def start() -> State:
    """Nothing has come yet."""
    return {"silent": np.zeros(1, np.int64), "seen": False, "gaps": np.zeros(0)}


def silence(state: State, arrived: Bools, least: int) -> tuple[NDArray[np.int64], Floats, State]:
    """Cells since anything arrived, and the number of them from which that is no habit of this log, [n] each.

    arrived: [n], whether any reading of any channel came. least: cells. Before the first arrival nothing is silent.
    """
    n = len(arrived)
    limit = np.full(n, float(least))
    if n and state["seen"] and np.count_nonzero(arrived) == n:  # something comes in every cell, as nearly always
        gaps = np.concatenate((state["gaps"], state["silent"] + 1.0, np.ones(min(n - 1, GAPS))))
        after = {"silent": np.zeros(1, np.int64), "seen": True, "gaps": gaps[-GAPS:].copy()}
        return np.zeros(n, np.int64), limit, after
    silent, silent_state = run_length(state["silent"], ~arrived[None, :])
    places = np.flatnonzero(arrived)
    # A gap is told in cells from one arrival to the next; what came before the first arrival is none.
    gaps = np.diff(np.concatenate(([-1 - int(state["silent"][0])], places))).astype(float)
    gaps = np.concatenate((state["gaps"], gaps if state["seen"] else gaps[1:]))
    for cell in np.flatnonzero(silent[0] == least).tolist() if n and int(silent.max()) >= least else ():
        known = len(gaps) - int(np.count_nonzero(places > cell))
        before = np.sort(gaps[max(0, known - GAPS) : known])
        if before.size:
            later = places[places > cell]
            end = int(later[0]) if later.size else n
            limit[cell:end] = _habit(before, least)
    if int(state["silent"][0]) >= least and n and not arrived[0]:
        before = np.sort(state["gaps"][-GAPS:])
        if before.size:
            limit[: int(places[0]) if places.size else n] = _habit(before, least)
    seen = bool(state["seen"] or places.size)
    return silent[0], limit, {"silent": silent_state, "seen": seen, "gaps": gaps[-GAPS:].copy()}


def _habit(gaps: Floats, least: int) -> float:
    """gaps: sorted."""
    return max(float(least), HABITS * gaps[max(0, gaps.size - 2)])


class SilentLog:
    """Which held readings of a line are none. Holds the rows it looks at, nothing of the run."""

    def __init__(self, line: Line) -> None:
        holds = {sensor.key: sensor.hold_s or 0.0 for sensor in line.sensor}
        self.rows = [
            row
            for row, key in enumerate(line.channels)
            if ROLES[split_key(key)[0]].hold_s < STATE_HOLD_S and holds.get(key, 0.0) > SILENT_S
        ]
        self.speed = line.channels.index("screw_speed") if "screw_speed" in line.channels else None

    def start(self) -> State:
        """Nothing has come yet; the screw is not known to turn."""
        return {**start(), "speed": np.full(1, np.nan)}

    def of(self, state: State, values: Floats, arrived: Bools, ctx: Context) -> tuple[Bools | None, State]:
        """Cells in which what is held is no reading, [n], None where there are none; and the state.

        values: [channel, n]. arrived: [n].
        """
        if not self.rows or self.speed is None:
            return None, state
        speed, speed_state = last_known(state["speed"], values[self.speed][None, :])
        silent, limit, after = silence(state, arrived, ctx.cells(max(SILENT_S, 3.0 * ctx.step_s)))
        stale = (silent > limit) & (speed[0] > turning_limit_rpm(ctx))
        return stale if stale.any() else None, {**after, "speed": speed_state}

    def without(self, values: Floats, stale: Bools) -> Floats:
        """The readings without those that are only held there, [channel, n]."""
        out = values.copy()
        out[self.rows] = np.where(stale, np.nan, out[self.rows])
        return out
