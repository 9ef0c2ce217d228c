"""Where the limits of a zone or melt temperature lie, and when they may be judged."""

from __future__ import annotations

import numpy as np

from ingest.roles import channel_key
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, run_length, with_past
from monitor.phases import NEVER, RUNNING
from monitor.view import CoarseView

AWAY_C = 3.0

COLD_C = 10.0
"""A zone so far under its target comes up with full heat and runs past it; 20 to 40 min bring it back, common practice,
no source."""

BACK_CELLS, BACK_C = (60, 120), 0.5
"""What has come back by so much in ten or twenty minutes decays: the loop is at work."""

SLOW_SHARE = 3.0
"""The last degree takes so much longer than the time to settle where a loop resets slowly; decaying, it is let."""

LONG_AGO = 1_000_000
"""Cells: what is not known to have happened lately."""


def limits(
    role: str,
    subjects: tuple[str, ...],
    side: int,
    inner_c: float,
    outer_c: float,
    view: CoarseView,
    ctx: Context,
) -> tuple[Floats, Floats, Floats]:
    """Target, inner and outer limit, [subject, n] each; NaN where there is none.

    side: +1 upper, -1 lower. The recipe's window counts; without one a zone has its target (recipe, else the
    controller's set-point) plus or minus `inner_c` and `outer_c`; a melt temperature without a window has none.
    """
    target, inner, outer = (np.full((len(subjects), view.n), np.nan) for _ in range(3))
    setpoints = view.rows("zone_setpoint", subjects) if role == "zone_temperature" else np.full_like(target, np.nan)
    for row, subject in enumerate(subjects):
        wanted = ctx.recipe.zones.get(subject) if ctx.recipe and role == "zone_temperature" else None
        window = ctx.recipe.window_of(channel_key(role, subject)) if ctx.recipe else None
        if window is not None:
            low_high = (window.high, window.high_outer) if side > 0 else (window.low, window.low_outer)
            near = low_high[0] if low_high[0] is not None else low_high[1]
            inner[row] = np.nan if near is None else near
            outer[row] = np.nan if low_high[1] is None else low_high[1]
            target[row] = window.target if window.target is not None else np.nan
        elif role == "zone_temperature":
            target[row] = setpoints[row] if wanted is None else wanted
            inner[row], outer[row] = target[row] + side * inner_c, target[row] + side * outer_c
        if np.isnan(target[row]).all() and wanted is not None:
            target[row] = wanted
    return target, inner, outer


def start_reached(subjects: tuple[str, ...]) -> State:
    """No temperature has come near its target yet."""
    return {"reached": np.zeros(len(subjects), bool)}


def reached(before: Bools, value: Floats, near: Bools, forget: Bools) -> tuple[Bools, Bools]:
    """Whether a temperature has once been inside its window since the set-point moved or the line was cold.

    near, forget: [subject, n]. Returns ([subject, n], state).
    """
    from monitor.exact import two_threshold

    return two_threshold(before, near & np.isfinite(value) & ~forget, forget)


def zone_ages(view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> Floats:
    """Seconds since each zone's set-point moved, [subject, n].

    A set-point away from the recipe is no reason to wait: such a zone counts as settled.
    """
    order = ctx.subjects_of("zone_temperature")
    ages = np.array([view.ages["zones"][order.index(name)] for name in subjects]).reshape(len(subjects), view.n)
    wanted = [ctx.recipe.zones.get(name, np.nan) if ctx.recipe else np.nan for name in subjects]
    with np.errstate(invalid="ignore"):
        away = np.abs(view.rows("zone_setpoint", subjects) - np.array(wanted).reshape(-1, 1)) > AWAY_C
    return np.where(away & (ages >= view.step / 1e9), NEVER, ages)


def start_rest(subjects: tuple[str, ...]) -> State:
    """Nothing has upset a zone for long."""
    return {
        "rest": np.full(1, LONG_AGO, np.int64),
        "warm": np.full(len(subjects), LONG_AGO, np.int64),
        "ago": blank(len(subjects), BACK_CELLS[-1]),
    }


def coming_back(state: State, off: Floats, age: Floats, settling_s: float) -> tuple[Bools, State]:
    """Where a zone not yet settled is less off than ten or twenty minutes ago, [subject, n], and the state.

    off: how far too hot or too cold, C. An overshoot that decays is what a loop does; one that stays is not.
    """
    joined, past = with_past(state["ago"], off)
    before = np.fmax(*(joined[:, BACK_CELLS[-1] - ago : joined.shape[1] - ago] for ago in BACK_CELLS))
    with np.errstate(invalid="ignore"):
        less = off <= before - BACK_C
    return less & (age < SLOW_SHARE * settling_s), {"ago": past}


def rested_s(
    state: State, value: Floats, target: Floats, subjects: tuple[str, ...], view: CoarseView, ctx: Context
) -> tuple[Floats, State]:
    """Seconds since something made a zone over- or undershoot, [subject, n], and the state.

    That is: its set-point moved, it was far under its target, the screw started or stopped, speed or rate changed.
    Shear heat and cold feed change at once, the steel and its controller take their time.
    """
    upset = ((view.ages["unchanged"] == 0) & view.in_phase(*RUNNING)) | view.in_phase("stopping")
    upset |= (view.ages["still"] == view.step / 1e9) | (view.ages["turning"] == view.step / 1e9)
    rest, rest_after = run_length(state["rest"], ~upset[None, :])
    with np.errstate(invalid="ignore"):
        cold = value < target - COLD_C
    warm, warm_after = run_length(state["warm"], ~cold)
    cells = np.minimum(rest, warm).astype(float)
    ages = np.minimum(cells * (view.step / 1e9), zone_ages(view, subjects, ctx))
    return ages, {"rest": rest_after, "warm": warm_after}
