"""A scale jump too small for a minute of torque: told by means of minutes of torque or pressure before and after it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor import recent_level
from monitor.conditions import another_melt, feeder_signals, usual_jumps
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, run_length, trailing_extremes, with_past
from monitor.physics.composition import total_rate_kg_h
from monitor.view import CoarseView

NOW_S, BEFORE_S, USUAL_S = 240.0, 240.0, 900.0
"""Means that are held against each other: of now, and of before the jump, shorter and longer."""

JUMP_FROM_S, JUMP_TO_S = 600.0, 360.0
"""The jump lies so long ago: its loop has come back and its material is through before the mean of now begins."""

LAG_S = JUMP_FROM_S + 60.0
"""The means of before end a minute ahead of it."""

STEADY_S = LAG_S + BEFORE_S
OVER_S = 3600.0

JUMP_SIGMAS, STEP_SIGMAS = 5.0, 5.0
"""Scatters of the mean of 30 s and of 240 s, as they were before the jump. The difference of two means of 240 s
scatters 1.4 times as much as one: three and a half of its own, at one chosen moment, are chance once in 4000."""

LEAST_TORQUE, LEAST_PRESSURE = 0.015, 0.012
"""ln; what screens, zones and the room do to them within ten minutes is less. Common practice, no source."""

PRESSURE_PER_FEED = 0.35
"""Power law: ln pressure by ln rate."""

MOST_RAISES, MOST_LOWERS = 6.0, 15.0
"""ln torque or pressure by the jump that is seen times its feeder's share. The loop has put half of the jump right
before a mean of 30 s shows it. A filler thickens the melt by up to three times its share; one per cent of oil,
plasticiser or lubricant takes 5 to 8 % of the viscosity. Common practice, no source."""

MELT_PER_LN_C, MAIN_SHARE = 50.0, 0.5
"""Shear heats a melt by some 50 C over its barrel, and goes with the viscosity that a filler or an oil makes; the main
ingredient is what the others are in. Common practice, no source."""

TORQUE_SHOWS, OF_DIFFERENCE = 0.4, 1.4
"""ln torque by the jump that is seen times its feeder's share, at the least, where that is more than the scatter of the
difference of two means: what is fed moves torque more than pressure. A pressure that goes without it, be it of screen,
die, vent or lot, and a feeder that jumped by chance are no scale. Common practice, no source."""

DRIFTS = 0.3
"""Of the step: as much had gone that way before the jump already, a drift."""

CAME_BACK = 0.5
LEAST_JUMP = 0.025
SAME_SHARE, WANDERS = 0.01, 3.0
"""A rate stands where it stood within so much of it, and so many scatters of its own means of four minutes."""

AFTER_REFILL_S, HELD_CELLS = 300.0, 2
"""For so long after a refill its controller swings, and what came may be of another lot. A rate that stands on its
set-point to the digit for so many cells more is that of a refill hold, marked or not."""

TRIMMED_SHARE = 0.005


@dataclass(frozen=True)
class Lasting:
    """rises: by torque, by pressure, [2, feeder, n]. jump: of the set rate, [feeder, n]. step, now, before: ln torque,
    ln pressure, [2, n]. gone: nothing left to compare with, [n]. free: no refill for minutes, [feeder, n]."""

    free: Bools
    rises: Bools
    jump: Floats
    step: Floats
    now: Floats
    before: Floats
    gone: Bools


def start(count: int, ctx: Context) -> State:
    """Nothing seen."""
    now, lag = ctx.cells(NOW_S), ctx.cells(LAG_S)
    return {
        "since_refill": np.full(count, 10**6, np.int64),
        "held": np.zeros(count, np.int64),
        "rate": blank(count, 1),
        "late": blank(count, ctx.cells(JUMP_TO_S)),
        "peaks": blank(count, ctx.cells(JUMP_FROM_S - JUMP_TO_S) - 1),
        "after": blank(count, ctx.cells(JUMP_TO_S - 60) - 1),
        "asked": blank(count + 1, ctx.cells(STEADY_S) - 1),
        "now": recent_level.start(count + 2, now, 0),
        "before": recent_level.start(count + 2, ctx.cells(BEFORE_S), lag),
        "usual": recent_level.start(2, ctx.cells(USUAL_S), lag),
        "melt": another_melt.start(ctx, NOW_S, BEFORE_S, LAG_S),
        "scatter": feeder_signals.scatter_start([""] * (count + 2), ctx, NOW_S, OVER_S),
        "scatters": blank(2 * count + 2, lag),
    }


def not_asked(
    state: State, short: Floats, view: CoarseView, ctx: Context, subjects: tuple[str, ...]
) -> tuple[Lasting, State]:
    """As `judge` where only refills are of interest: nothing rises. short: [feeder, n]."""
    free, _, kept = _weighed(state, view, ctx, subjects)
    count, n = short.shape
    line = np.full((2, n), np.nan)
    nothing = Lasting(
        free, np.zeros((2, count, n), bool), np.full((count, n), np.nan), line, line, line, np.zeros(n, bool)
    )
    return nothing, {**state, **kept}


def judge(
    state: State, short: Floats, scatter: Floats, own: tuple[Floats, Floats], off: Floats, logs: Floats,
    own_part: Floats, view: CoarseView, ctx: Context, subjects: tuple[str, ...],
) -> tuple[Lasting, State]:  # fmt: skip
    """Whether each feeder jumped some minutes ago and the machine has stood elsewhere since.

    short: mean of 30 s of off; own: how far that goes by itself (usual_jumps); off: rate over wanted less one, NaN
    where not to be judged; scatter: of short, [feeder, n]. logs: ln torque, ln pressure, [2, n].
    own_part: what is left to the zones of both, [n].
    """
    count, n = short.shape
    wanted = feeder_signals.wanted_rates(view, subjects, ctx)
    after: State = {}
    free, weighed, kept = _weighed(state, view, ctx, subjects)
    after |= kept
    short = np.where(free, short, np.nan)
    late, after["late"] = with_past(state["late"], short)
    low, high, after["peaks"] = trailing_extremes(state["peaks"], late[:, :n])
    lowest, highest, after["after"] = trailing_extremes(state["after"], short)
    told = np.concatenate((wanted, view.quantity("total_setpoint")[None, :]))
    least_asked, most_asked, after["asked"] = trailing_extremes(state["asked"], told)
    after["now"], all_now = recent_level.advance(state["now"], np.concatenate((off, logs)))
    after["before"], all_before = recent_level.advance(state["before"], np.concatenate((off, logs)))
    after["usual"], usual = recent_level.advance(state["usual"], logs)
    melt_c, after["melt"] = another_melt.step_c(state["melt"], view, ctx)
    now, before = all_now[count:], all_before[count:]
    of_now, after["scatter"] = feeder_signals.minute_scatter(state["scatter"], all_now, ctx)
    scatters, after["scatters"] = with_past(state["scatters"], np.concatenate((scatter, of_now)))
    its, wanders, usually = scatters[:count, :n], scatters[count : 2 * count, :n], scatters[2 * count :, :n]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = wanted / view.quantity("total_setpoint")
        low, high, lowest, highest = (rows - all_before[:count] for rows in (low, high, lowest, highest))
        jump = np.where(-low > high, low, high)
        far = (np.abs(jump) >= np.fmax(LEAST_JUMP, np.fmax(JUMP_SIGMAS * its, WANDERS * wanders))) & (its > 0)
        far &= usual_jumps.further(own, all_before[:count], jump)
        # A hand on the scale or a loop that hunts swings to both sides; a feeder that is off still has not come back.
        far &= (np.fmin(-low, high) <= CAME_BACK * np.abs(jump)) & (
            np.fmax(-lowest, highest) <= CAME_BACK * np.abs(jump)
        )
        other = all_now[:count] - all_before[:count]
        far &= ~((most_asked - least_asked > TRIMMED_SHARE * most_asked).any(axis=0))
        far &= ~(np.abs(other) > np.fmax(SAME_SHARE, WANDERS * wanders)).any(axis=0)
        far &= feeder_signals.leading(np.nan_to_num(np.abs(jump) / its, posinf=0.0), 1.0)
        shown = total_rate_kg_h(share * np.nan_to_num(other))
        by_feed = np.array([shown, PRESSURE_PER_FEED * shown])
        step = now - before - by_feed
        effect = feeder_signals.torque_effects(subjects, ctx)
        expected = -jump * share * effect
        most = np.where(effect < 0, MOST_LOWERS, MOST_RAISES) * np.abs(expected)
        way = np.sign(expected)
        least = np.fmax(np.array([[LEAST_TORQUE], [LEAST_PRESSURE]]), STEP_SIGMAS * usually)
        least = np.fmax(least, own_part)
        calm = view.in_phase("steady") & (view.ages["unchanged"] >= STEADY_S)
        calm = calm & ~another_melt.goes_with_load(step[0], melt_c, by_own_c(expected, share, effect))
        rises = np.zeros((2, count, n), bool)
        for one, other_one in ((0, 1), (1, 0)):
            went, longer = way * step[one], way * (now[one] - usual[one] - by_feed[one])
            seen = (np.fmin(went, longer) >= least[one]) & (went <= most) & (usually[one] > 0)
            seen &= ~(way * (before[one] - usual[one]) > DRIFTS * went)
            seen &= ~(way * step[other_one] < -np.fmax(0.01, 2 * usually[other_one]))
            shows = TORQUE_SHOWS * np.abs(expected)
            seen &= ~((shows > OF_DIFFERENCE * usually[0]) & (way * step[0] < shows))
            rises[one] = far & seen & calm & weighed
    gone = view.ages["unchanged"] < STEADY_S
    return Lasting(free, rises, jump, step, now, before, gone), after


def by_own_c(expected: Floats, share: Floats, effect: Floats) -> Floats:
    """How much colder or hotter the melt may get as its load falls or rises, by more or less of each ingredient alone,
    C, [feeder, n]. expected: jump by share; share: of all that is fed; effect: on torque, [feeder, 1]."""
    most = np.where(effect < 0, MOST_LOWERS, MOST_RAISES) * np.abs(expected)
    return np.where(share >= MAIN_SHARE, 0.0, MELT_PER_LN_C * most)


def _weighed(state: State, view: CoarseView, ctx: Context, subjects: tuple[str, ...]) -> tuple[Bools, Bools, State]:
    """Cells long enough after a refill, marked, weighed or only held, and cells in which the rate is not held,
    [feeder, n]."""
    asked = view.rows("feeder_setpoint", subjects)
    still, rate = feeder_signals.held_on_set(state["rate"], view.rows("feeder_rate", subjects), asked)
    stands, held = run_length(state["held"], still)
    busy = feeder_signals.refilling(view, subjects) | (stands >= HELD_CELLS)
    since, since_state = run_length(state["since_refill"], ~busy)
    return (
        since >= ctx.cells(AFTER_REFILL_S),
        stands < HELD_CELLS,
        {"since_refill": since_state, "held": held, "rate": rate},
    )
