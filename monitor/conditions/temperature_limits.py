"""Where the limits of a zone or melt temperature lie, and when they may be judged."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key
from monitor import recent_level
from monitor.conditions.machine_load import judging_sensors
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, run_length, trailing_extremes, two_threshold, with_past
from monitor.materials import cold_start_limit_c
from monitor.phases import COLD_BY_C, NEVER, RUNNING
from monitor.view import CoarseView

AWAY_C = 3.0

COLD_C = 10.0
"""A zone so far under its target comes up with full heat and runs past it; 20 to 40 min bring it back, common practice,
no source."""

BACK_CELLS, BACK_C, BACK_SHARE = (60, 120), 0.5, 0.2
"""What has come back by so much in ten or twenty minutes, and by such a share of what it was, decays: the loop is at
work. Slower, with a time constant over an hour and a half, is neither heater nor steel. Common practice, no source."""

SLOW_SHARE = 3.0
"""The last degree takes so much longer than the time to settle where a loop resets slowly; decaying, it is let."""

STAYS_S, STAYS_C = 600.0, 1.0
"""Arrived and stayed: inside its window, and within so much for so long. A zone on its way through a window of 3 C in
half an hour moves by as much; a controller's ripple and a display's digits are less. Common practice, no source."""

TOLD_C = 0.5
LEAST_STEP_C = 1e-3
"""Less is arithmetic between the sensor and the log."""

MOST_STEP_C = 1.0
"""Coarser than whole degrees no temperature is logged: a first move that is larger is one of the zone."""

UPSET_SHARE = 0.075
"""A loop is linear: what a start, all of speed and rate at once, does to a zone, 40 C at most (value from memory), a
change by so much does to it in proportion: 3 C, the plain window. Less upsets no zone out of its window."""

SAG_SHARE = 0.02
"""Heat goes with the square of the mains: so much less voltage takes 4 % of every heater's, and the loops have to find
a new output. A heater without its voltage is told by what it does afterwards. Common practice, no source."""

SWING_S = 1200.0
"""The longest cycle of a loop that swings, in autotune or hunting (`zone_hunting`): what was half a limit off on the
other side within it is the other half of a swing."""

STIFF_AFTER_S = 600.0
"""What the screw still turns in a zone below the melting point after so long was not frozen in a stop."""

STAYS_CELLS = 60
"""Cells of 10 s in `STAYS_S`."""

RISES_CELLS, RISES_C = 12, 2.0
"""Faster than this no zone comes up but by its heaters or by what the screw gives it again."""

DEAD_TIME_S = 240.0
"""So long nothing is seen of an upset: dead times of barrel zones are 0.5 to 4 min (values from memory)."""

INNER_PASSING, OUTER_PASSING, INNER, OUTER, CEILING = 1, 2, 3, 4, 5
"""Levels: beyond the inner or the outer limit while something passes that may be over in two minutes; beyond them while
nothing does, or for longer; above the ceiling of the material. From `INNER` on they are said sooner."""

PASSING_SHARE, PASSING_S, BEFORE_S = 0.04, 300.0, (300.0, 120.0)
"""A lump, a catch sample, a stop shows in load or pressure: so far off their mean over the five minutes that ended two
minutes before. It is washed out, and the couples have followed, in five minutes. Common practice, no source."""

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


def by_words(role: str, subject: str, ctx: Context) -> str:
    """', by its set-point' where the limits of a zone lie about that, as no recipe says what is wanted; else ''."""
    if role != "zone_temperature":
        return ""
    recipe = ctx.recipe
    known = recipe is not None and (subject in recipe.zones or recipe.window_of(channel_key(role, subject)) is not None)
    return "" if known else ", by its set-point"


def too_cold_c(target: Floats, ctx: Context) -> Floats:
    """Below this the melt in a zone that is meant to be hotter stiffens: melting point, Tg + 50 C where amorphous.

    target, C [subject, n]. NaN where the material is not known or the zone is not meant to melt it.
    """
    told = ctx.recipe.recipe.flows_from_c() if ctx.recipe else None
    if told is None and ctx.material:
        told = cold_start_limit_c(ctx.material, 0.0)
    limit = np.nan if told is None else float(told)
    with np.errstate(invalid="ignore"):
        return np.where(target > limit + COLD_C, limit, np.nan)


def start_reached(subjects: tuple[str, ...]) -> State:
    """No temperature has come near its target yet."""
    return {"reached": np.zeros(len(subjects), bool)}


def reached(before: Bools, value: Floats, near: Bools, forget: Bools) -> tuple[Bools, Bools]:
    """Whether a temperature has once been inside its window since the set-point moved or the line was cold.

    near, forget: [subject, n]. Returns ([subject, n], state).
    """
    return two_threshold(before, near & np.isfinite(value) & ~forget, forget)


def start_ran() -> State:
    """The line has not run yet, as far as is known."""
    return {"ran": np.zeros(1, np.int64)}


def ran_s(state: State, view: CoarseView) -> tuple[Floats, State]:
    """Seconds the line has run without a break, since the log began at most, [1, n]; and the state.

    What never came inside its window in heat-up is no reason to wait for ever: a line that has made product for as long
    as settling takes is judged as it is.
    """
    cells, after = run_length(state["ran"], view.in_phase(*RUNNING)[None, :])
    return cells.astype(float) * (view.step / 1e9), {"ran": after}


def never_words(facts: dict[str, float]) -> str:
    """'; not once inside since the line runs' of what has not come near its target yet."""
    return "" if facts["arrived"] else "; not once inside it since the line runs"


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
        "lately": blank(len(subjects), STAYS_CELLS - 1),
        "settled": np.zeros(len(subjects), bool),
        "ends": blank(2 * len(subjects), 1),
        "step": np.full(len(subjects), np.inf),
        "mains": recent_level.start(1, 60, 6),
        "asked": recent_level.start(2, 60, 6),
        "told": np.full(len(subjects), LONG_AGO, np.int64),
        "outside": np.zeros(len(subjects), np.int64),
        "target": np.full(len(subjects), np.nan),
    }


def settled_s(state: State, value: Floats, near: Bools, age: Floats, half_step: Floats) -> tuple[Floats, State]:
    """The ages, [subject, n], endless where a zone has arrived and stayed since it was upset, and the state.

    near: inside its window. half_step: see `half_step_c`; within a step nobody sees a reading move. Settling ends when
    the zone has settled, not only after a fixed time.
    """
    low, high, lately = trailing_extremes(state["lately"], value)
    with np.errstate(invalid="ignore"):
        stayed = near & (high - low + 2 * half_step <= STAYS_C) & (age >= DEAD_TIME_S + STAYS_S)
    settled, after = two_threshold(state["settled"], stayed, age < DEAD_TIME_S + STAYS_S)
    return np.where(settled, NEVER, age), {"lately": lately, "settled": after}


def rising(state: State, value: Floats) -> Bools:
    """Where a zone comes up by `RISES_C` in two minutes, [subject, n]. state: as `settled_s` keeps it."""
    joined, _ = with_past(state["lately"], value)
    before = joined[:, state["lately"].shape[1] - RISES_CELLS :][:, : value.shape[1]]
    with np.errstate(invalid="ignore"):
        return value - before >= RISES_C


def start_passing(subjects: tuple[str, ...], ctx: Context) -> State:
    """Nothing has passed, nothing is out."""
    width, lag = (ctx.cells(seconds) for seconds in BEFORE_S)
    return {
        "outside": np.zeros(len(subjects), np.int64),
        "before": recent_level.start(2, width, lag),
        "calm": np.zeros(1, np.int64),
    }


def for_certain(
    state: State, level: NDArray[np.int8], inside: Bools, least_s: float, view: CoarseView, ctx: Context
) -> tuple[NDArray[np.int8], State]:
    """Levels 1, 2 and 3, inner, outer and ceiling, as the levels of this module; and the state.

    inside: within the inner limit, [subject, n]; a reading that is missing is neither. least_s: out for so long nothing
    passes. Where neither load nor pressure is known nobody knows that nothing does.
    """
    length, outside = run_length(state["outside"], ~inside)
    loads = [view.get(role) for role in ("torque", "motor_current", "drive_power") if ctx.has(role)]
    pressures = [view.get(f"melt_pressure:{at}") for group in judging_sensors(ctx)[:1] for at in group]
    unknown = np.full(view.n, np.nan)
    rows = np.array([*(loads or [unknown])[:1], *(pressures or [unknown])[:1]])
    before_state, before = recent_level.advance(state["before"], rows)
    with np.errstate(invalid="ignore"):
        steady = np.abs(rows - before) <= PASSING_SHARE * np.abs(before)
    steady |= np.isnan(rows) & np.isnan(before)
    nothing = np.logical_and.reduce(steady, axis=0) & np.logical_or.reduce(np.isfinite(rows), axis=0)
    calm, calm_state = run_length(state["calm"], nothing[None, :])
    certain = (length >= ctx.cells(least_s)) | (calm >= ctx.cells(PASSING_S))
    out = np.where((level > 0) & (level < 3) & certain, level + np.int8(2), level)
    out = np.where(level == 3, np.int8(CEILING), out)
    return out, {"outside": outside, "before": before_state, "calm": calm_state}


def half_step_c(state: State, low: Floats, high: Floats) -> tuple[Floats, State]:
    """Half of the step by which each reading moves at least, [subject, n], 0 where it has not moved yet; and the state.

    A reading rounded to its step is beyond a limit for certain where it is so by half a step. low, high: extremes of
    the cells.
    """
    count = len(low)
    joined, ends = with_past(state["ends"], np.concatenate((low, high), axis=0))
    with np.errstate(invalid="ignore"):
        spans = np.fmax(high, joined[count:, :-1]) - np.fmin(low, joined[:count, :-1])
        moves = np.where(spans > LEAST_STEP_C, spans, np.inf)
    least = np.minimum.accumulate(np.concatenate((state["step"][:, None], moves), axis=1), axis=1)
    steps = least[:, 1:]
    return np.where(np.isfinite(steps), 0.5 * np.fmin(steps, MOST_STEP_C), 0.0), {
        "ends": ends,
        "step": least[:, -1].copy(),
    }


def _asked(view: CoarseView, ctx: Context) -> Floats:
    """Speed and rate wanted, else as they are, [2, n]; NaN where not known."""

    def total(whole: str, part: str) -> Floats:
        rows = view.rows(part, ctx.subjects_of(part))
        return np.add.reduce(rows, axis=0) if len(rows) else view.get(whole)

    rates = total("line_rate_setpoint", "feeder_setpoint"), total("line_rate", "feeder_rate")
    speeds = view.get("screw_speed_setpoint"), view.get("screw_speed")
    return np.array([np.where(np.isnan(wanted), actual, wanted) for wanted, actual in (speeds, rates)])


def coming_back(state: State, off: Floats, age: Floats, settling_s: float) -> tuple[Bools, State]:
    """Where a zone not yet settled is less off than ten or twenty minutes ago, [subject, n], and the state.

    off: how far too hot or too cold, C. An overshoot that decays is what a loop does; one that stays is not.
    """
    joined, past = with_past(state["ago"], off)
    before = np.fmax(*(joined[:, BACK_CELLS[-1] - ago : joined.shape[1] - ago] for ago in BACK_CELLS))
    with np.errstate(invalid="ignore"):
        less = off <= before - np.fmax(BACK_C, BACK_SHARE * before)
    return less & (age < SLOW_SHARE * settling_s), {"ago": past}


def rested_s(
    state: State,
    value: Floats,
    target: Floats,
    subjects: tuple[str, ...],
    view: CoarseView,
    ctx: Context,
    cold_counts: bool = True,
) -> tuple[Floats, State]:
    """Seconds since something made a zone over- or undershoot, [subject, n], and the state.

    That is: its set-point moved, another recipe wants another temperature, it was far under its target, the screw
    started or stopped, speed or rate changed by `UPSET_SHARE` at least against the ten minutes before, the mains
    sagged or came back, where their voltage is logged. Shear heat and cold feed change at once, the steel and its
    controller take their time.
    """
    asked = _asked(view, ctx)
    asked_state, asked_ago = recent_level.advance(state["asked"], asked)
    with np.errstate(invalid="ignore"):
        small = (np.abs(asked - asked_ago) <= UPSET_SHARE * np.abs(asked_ago)) | np.isnan(asked)
    small = small.all(axis=0) & np.isfinite(asked).any(axis=0)
    upset = ((view.ages["unchanged"] == 0) & view.in_phase(*RUNNING) & ~small) | view.in_phase("stopping")
    upset |= (view.ages["still"] == view.step / 1e9) | (view.ages["turning"] == view.step / 1e9)
    mains_state, mains_ago = recent_level.advance(state["mains"], view.get("mains_voltage")[None, :])
    with np.errstate(invalid="ignore"):
        upset |= np.abs(view.get("mains_voltage") - mains_ago[0]) > SAG_SHARE * mains_ago[0]
    rest, rest_after = run_length(state["rest"], ~upset[None, :])
    with np.errstate(invalid="ignore"):
        cold = (value < target - COLD_C) & cold_counts
    warm, warm_after = run_length(state["warm"], ~cold)
    # Another recipe comes with other set-points, whether these are logged or not.
    before = np.concatenate((state["target"][:, None], target), axis=1)[:, :-1]
    with np.errstate(invalid="ignore"):
        same = ~(np.abs(target - before) > TOLD_C)
    told, told_after = run_length(state["told"], same)
    cells = np.minimum(np.minimum(rest, warm), told).astype(float)
    ages = np.minimum(cells * (view.step / 1e9), zone_ages(view, subjects, ctx))
    last = np.where(np.isfinite(target[:, -1]), target[:, -1], state["target"]) if view.n else state["target"]
    after = {"rest": rest_after, "warm": warm_after, "mains": mains_state, "asked": asked_state}
    return ages, {**after, "told": told_after, "target": last}


def cold_barrel(view: CoarseView, ctx: Context) -> Bools:
    """Whether a zone with melt in it is far below what the recipe wants, [n]: the line is off, or not yet hot."""
    wanted = ctx.recipe.zones if ctx.recipe else {}
    zones = tuple(
        zone
        for zone in ctx.subjects_of("zone_temperature")
        if zone in wanted and ctx.line.zone_named(zone).kind != "feed"
    )
    aims = np.array([wanted[zone] for zone in zones]).reshape(-1, 1)
    with np.errstate(invalid="ignore"):
        return np.logical_or.reduce(view.rows("zone_temperature", zones) < aims - COLD_BY_C, axis=0)
