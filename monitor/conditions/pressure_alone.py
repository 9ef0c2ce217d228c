"""A starve-fed line of which neither load nor feed is logged: what the pressures ahead of and behind the screen tell.

A screw that is given less makes less pressure at every sensor; a screen or a sensor of its own moves one of them.
"""

from __future__ import annotations

import numpy as np

from monitor import recent_level
from monitor.conditions.machine_load import judging_sensors, log_ratio
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, run_length, two_threshold, with_past
from monitor.view import CoarseView

LEAST_LN, SIGMAS = 0.12, 5.0
"""Of a step that is told: by the power law (n about 0.35) a third less feed is 14 % less pressure. More than trims,
lots of one grade and zones do within minutes; common practice, no source."""

DEEP_LN = 0.24
"""Half of the feed gone, by the same law."""

ALIKE = 0.5
"""The smallest step by the largest, at the least."""

STAYS = 0.6
"""Of the least step; above it the pressure is back."""

EMPTIES_LN, STILL_FALLING_LN = np.log(0.5), 0.05
"""So little left, or falling by so much in 30 s: that may be a screw that is run empty before a stop."""

LOADS_AND_FEEDS = (
    "torque", "motor_current", "drive_power", "feeder_rate", "line_rate", "feeder_weight", "feeder_drive",
    "feeder_running",
)  # fmt: skip


def sensors(ctx: Context) -> tuple[str, ...]:
    """Channels that are judged, none where something better is logged or fewer than two pressures are."""
    keys = tuple(f"melt_pressure:{at}" for group in judging_sensors(ctx) for at in group)
    return () if len(keys) < 2 or any(ctx.has(role) for role in LOADS_AND_FEEDS) else keys


def start(ctx: Context) -> State:
    """Nothing seen."""
    count = len(sensors(ctx))
    return {
        "lately": recent_level.start(count, ctx.cells(180), ctx.cells(120)),
        "just": recent_level.start(count, ctx.cells(30), 0),
        "on": np.zeros(1, bool),
        "fell": blank(1, ctx.cells(30)),
        "empties": np.zeros(1, np.int64),
    }


def steps_down(
    state: State, view: CoarseView, armed: Bools, runs_empty_s: float, ctx: Context
) -> tuple[Bools, Floats, State]:
    """Where all pressures have stepped down together and stay there, [n], and how far the least of them is down, ln.

    runs_empty_s: what is waited for while they may fall because a stop is near.
    """
    keys = sensors(ctx)
    rows = [log_ratio(view, key, view.get(key)) for key in keys]
    ratio, scatter = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.array([np.log(np.where(view.get(key) > 0, view.get(key), np.nan)) for key in keys])
    lately_state, lately = recent_level.advance(state["lately"], logs)
    just_state, just = recent_level.advance(state["just"], logs)
    with np.errstate(invalid="ignore", divide="ignore"):
        step, least = just - lately, np.fmax(LEAST_LN, SIGMAS * scatter)
        begins = ((step <= -least) & (ratio <= -least)).all(axis=0)
        begins &= step.max(axis=0) <= ALIKE * step.min(axis=0)
        back = ~(ratio <= -STAYS * LEAST_LN).all(axis=0)
    on, on_state = two_threshold(state["on"], (begins & armed)[None, :], (back | ~armed)[None, :])
    least_down = ratio.max(axis=0)
    joined, fell = with_past(state["fell"], least_down[None, :])
    with np.errstate(invalid="ignore"):
        falling = joined[:, : view.n] - least_down >= STILL_FALLING_LN
        length, empties = run_length(state["empties"], falling | (least_down <= EMPTIES_LN)[None, :])
    waits = (length[0] > 0) & (length[0] < ctx.cells(runs_empty_s))
    after = {"lately": lately_state, "just": just_state, "on": on_state, "fell": fell, "empties": empties}
    return on[0] & ~waits, least_down, after
