"""What the feeders are told where no set-point is logged: read from rates that all move by one factor.

Ratio control, a rate trimmed by hand, a slower shift: every feeder goes to another rate in the same minutes, by the
same share. No feeder fails like that. What is asked then is the recipe's rate (or where none is stated what ran first)
times that factor, and follows while they move. One feeder that goes alone moves nothing. Feeders that stand in their
own material over one chute lose rate together too, but after the load has gone: that is not followed either.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.contract import Context, State
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    trailing_greatest,
    trailing_least,
    trailing_mean,
    with_past,
)
from monitor.phase_cells import first as first_of
from monitor.physics.composition import total_rate_kg_h
from monitor.view import Readings

LEAST_MOVE, CLEAR_MOVE = 0.04, 0.15
"""ln rate: less is scatter or one feeder's trim; so much is no scatter of several feeders at once."""

MOVES_S, MOVES_CLEARLY_S = 60.0, 30.0
"""It has lasted so long when it is followed, beside the minute of the means. Common practice, no source."""

APART, APART_SHARE, GOES_ALONG = 0.03, 0.5, 0.5
"""ln rate, and share of the common move, by which a feeder may be off it; each must have gone half of it at least."""

AGREEING_SHARE, LARGE_SHARE = 0.9, 0.1
"""So much of the rate must move together, and every feeder that has so much of it."""

SETTLED_LN, SETTLED_S, RESTS_S = 0.01, 60.0, 180.0
GONE_LN, BACK_S = np.log(0.4), 180.0
"""Feeders with less than this of their rate are switched off or on; what they do within three minutes is no trim."""

LED_LN, LED_S, LOAD_LN, LOAD_PER_LN, LATELY_S = 0.1, 120.0, 0.12, 0.5, 1800.0
"""Load per rate over speed, ln, against the most of the last half hour: so far down two minutes ago it had gone before
the feeders; further down now than this and half the move, less goes through than they say. Common practice."""

FIRST_S = 300.0


@dataclass(frozen=True)
class Asked:
    """factor: of the recipe's rate, or of what ran first, [n]; 1 where it never moved, nothing known or a set-point
    logged. total: kg/h, [n], NaN where not known. together: all rates are on their way off it by one factor, [n].
    """

    factor: Floats
    total: Floats
    together: Bools


def as_planned(n: int) -> Asked:
    """Of so many cells in which nothing is known to have moved."""
    return Asked(np.ones(n), np.full(n, np.nan), np.zeros(n, bool))


def possible(ctx: Context) -> bool:
    """Whether rates of at least two feeders are all that tells what is asked of a starve-fed line."""
    told = ctx.has("feeder_setpoint") or ctx.has("line_rate_setpoint")
    relative = ctx.line.any_relative("feeder_rate", "line_rate")
    return ctx.starve_fed and not told and not relative and len(ctx.subjects_of("feeder_rate")) >= 2


def start(ctx: Context) -> State:
    """Nothing seen. base: kg/h of each feeder at factor 1; level, home, origin: ln factor now, where it last
    stood, where it began to move; run: cells in which they have gone together, or while they move have not."""
    if not possible(ctx):
        return {}
    rows, recipe = len(ctx.subjects_of("feeder_rate")), ctx.recipe.name if ctx.recipe else ""
    return {
        "recipe": recipe,
        "base": _of_recipe(ctx),
        "level": np.zeros(1),
        "home": np.zeros(1),
        "origin": np.zeros(1),
        "moving": np.zeros(1, bool),
        "run": np.zeros(1, np.int64),
        "calm": np.zeros(1, np.int64),
        "half": blank(rows, ctx.cells(30) - 1),
        "minute": blank(rows, ctx.cells(60) - 1),
        "first": blank(rows, ctx.cells(FIRST_S) - 1),
        "totals": blank(1, ctx.cells(SETTLED_S)),
        "least": blank(1, ctx.cells(BACK_S) - 1),
        "machine": blank(2, ctx.cells(60) - 1),
        "work": blank(1, ctx.cells(LATELY_S) - 1),
        "worked": blank(1, ctx.cells(LED_S)),
    }


def _of_recipe(ctx: Context) -> Floats:
    """Recipe share of the recipe's rate of each feeder, kg/h; NaN where the recipe does not say them all."""
    feeders, recipe, rate = ctx.subjects_of("feeder_rate"), ctx.recipe, ctx.recipe_rate_kg_h
    if recipe is None or not rate or not all(name in recipe.shares for name in feeders):
        return np.full(len(feeders), np.nan)
    return np.array([recipe.shares[name] / 100 * rate for name in feeders])


def advance(state: State, readings: Readings, ctx: Context) -> tuple[State, Asked]:
    """What is asked in each cell, as known at its end."""
    n = readings.n
    if not possible(ctx):
        return {}, as_planned(n)
    if not state or state["recipe"] != (ctx.recipe.name if ctx.recipe else ""):
        state = start(ctx)
    if not n:
        return state, as_planned(0)
    kept = dict(state)
    rates = readings.rows("feeder_rate", ctx.subjects_of("feeder_rate"))
    half, kept["half"] = trailing_mean(state["half"], rates)
    minute, kept["minute"] = trailing_mean(state["minute"], rates)
    first, kept["first"] = trailing_mean(state["first"], rates)
    with np.errstate(divide="ignore", invalid="ignore"):
        total = np.log(_sum(minute, state["base"]))[None, :]
        least, kept["least"] = trailing_least(state["least"], np.log(_sum(half, state["base"]))[None, :])
    joined, kept["totals"] = with_past(state["totals"], total)
    past, back = joined.shape[1] - n, ctx.cells(SETTLED_S)
    with np.errstate(invalid="ignore"):
        settled = np.abs(total[0] - joined[0, past - back : past - back + n]) <= SETTLED_LN
        settled &= np.abs(total[0] - joined[0, past - back // 2 : past - back // 2 + n]) <= SETTLED_LN
    calm, kept["calm"] = run_length(state["calm"], settled[None, :])
    led, fall = _load(state, kept, readings, total, settled, ctx)
    level, base = _follow(kept, _Cells(minute, first, total[0], least[0], settled, calm[0], led, fall), ctx)
    with np.errstate(divide="ignore", invalid="ignore"):
        known = np.isfinite(base).any(axis=0)
        d = np.log(half / base) - level
        whole = np.log(_sum(half, base) / _sum(base, base)) - level
        together = _common(d, whole, base) & (np.abs(whole) >= LEAST_MOVE) & _by_load(whole, led, fall)
        together &= least[0] - np.log(_sum(base, base)) - level >= GONE_LN
        asked = np.where(known, _sum(base, base) * np.exp(level), np.nan)
    return kept, Asked(np.exp(level), asked, together & known)


@dataclass(frozen=True)
class _Cells:
    """Means of a minute and of five, [feeder, n]; ln of their sum and its least of three minutes; whether it stands and
    for how many cells; whether the load had gone before, and how far it is down."""

    minute: Floats
    first: Floats
    total: Floats
    least: Floats
    settled: Bools
    calm: NDArray[np.int64]
    led: Bools
    fall: Floats


def _sum(rows: Floats, base: Floats) -> Floats:
    """Sum over the feeders in use, in order; NaN where one of them is not known."""
    used = np.ones(len(rows), bool) if np.isnan(base).all() else (np.nan_to_num(base).reshape(len(rows), -1) > 0).any(1)
    return total_rate_kg_h(rows[used])


def _load(
    state: State, kept: State, readings: Readings, total: Floats, settled: Bools, ctx: Context
) -> tuple[Bools, Floats]:
    """Whether the load per rate over speed was down already two minutes ago, and how far it is down now, ln; [n]."""
    speed = readings.get("screw_speed")
    load = next((readings.get(role) for role in ("torque", "motor_current") if ctx.has(role)), None)
    with np.errstate(divide="ignore", invalid="ignore"):
        if load is None:
            load = readings.get("drive_power") / speed
        rows, kept["machine"] = trailing_mean(state["machine"], np.array([load, speed]))
        work = np.log(rows[:1] * rows[1:]) - total
        work = np.where(np.isfinite(work), work, np.nan)
    most, kept["work"] = trailing_greatest(state["work"], np.where(settled, work, np.nan))
    joined, kept["worked"] = with_past(state["worked"], work)
    with np.errstate(invalid="ignore"):
        return joined[0, : work.shape[1]] < most[0] - LED_LN, np.nan_to_num(most[0] - work[0])


def _by_load(moved: Floats, led: Bools, fall: Floats) -> Bools:
    """Whether the load lets the rates have been turned down. moved: ln."""
    return (moved > 0) | (~led & (fall <= LOAD_LN + LOAD_PER_LN * np.abs(moved)))


def _common(d: Floats, whole: Floats, base: Floats) -> Bools:
    """Whether feeders have moved by one factor, [n]. d, whole: ln of each rate and of their sum over what it was."""
    with np.errstate(invalid="ignore"):
        used, large = base > 0, base >= LARGE_SHARE * _sum(base, base)
        agree = np.abs(d - whole) <= np.fmax(APART, APART_SHARE * np.abs(whole))
        agree &= used & (d * np.sign(whole) >= GOES_ALONG * np.abs(whole))
    share = np.add.reduce(np.where(agree, base, 0.0), axis=0) / np.add.reduce(np.where(used, base, 0.0), axis=0)
    count, of = np.count_nonzero(agree, axis=0), np.count_nonzero(used, axis=0)
    # Beside the large one at least half of the others: one of them may scatter that way by itself.
    return ~(large & ~agree).any(axis=0) & (share >= AGREEING_SHARE) & (count >= 2) & (2 * (count - 1) >= of - 1)


def _follow(kept: State, x: _Cells, ctx: Context) -> tuple[Floats, Floats]:
    """ln factor of each cell, [n], and the rates at factor 1, [feeder, n]; `kept` takes what is known at the end."""
    n = len(x.total)
    level, base = np.zeros(n), np.repeat(kept["base"][:, None], n, axis=1)
    i = 0
    if np.isnan(kept["base"]).all():
        i = first_of(x.calm >= ctx.cells(FIRST_S))
        if i < n:
            kept["base"] = x.first[:, i].copy()
            base[:, i:] = kept["base"][:, None]
    if i == n:
        return level, base
    with np.errstate(divide="ignore", invalid="ignore"):
        d = np.log(x.minute / base)
        whole = x.total - np.log(_sum(base[:, -1], base[:, -1]))
        least = x.least - np.log(_sum(base[:, -1], base[:, -1]))
    now, home, origin = (kept[name][0] for name in ("level", "home", "origin"))
    moving, run = bool(kept["moving"][0]), kept["run"]
    while i < n:
        part = slice(i, n)
        if moving:
            common = _common(d[:, part] - origin, whole[part] - origin, base[:, part])
            apart, after = run_length(run, ~common[None, :])
            off = (least[part] - origin < GONE_LN) | (apart[0] >= ctx.cells(MOVES_S))
            ends = off | (common & (x.calm[part] >= ctx.cells(RESTS_S)))
            last = min(first_of(ends), n - i - 1)
            way = np.where(
                common & ~off, np.array([whole[part], np.where(x.settled[part], whole[part], np.nan)]), np.nan
            )
            there, (now, home) = last_known(np.array([now, home]), way[:, : last + 1])
            level[i : i + last + 1] = there[0]
            if ends[last]:
                now = home if off[last] else now
                home, moving, after = now, False, np.zeros(1, np.int64)
                level[i + last] = now
            run = after
            i += last + 1
            continue
        moved = whole[part] - now
        with np.errstate(invalid="ignore"):
            goes = _common(d[:, part] - now, moved, base[:, part]) & (np.abs(moved) >= LEAST_MOVE)
            goes &= (least[part] - now >= GONE_LN) & _by_load(moved, x.led[part], x.fall[part])
            need = np.where(np.abs(moved) >= CLEAR_MOVE, ctx.cells(MOVES_CLEARLY_S), ctx.cells(MOVES_S))
        length, after = run_length(run, goes[None, :])
        first = first_of(length[0] >= need)
        level[i : i + first] = now
        if first == n - i:
            run = after
            break
        now, origin, moving, run = float(whole[i + first]), now, True, np.zeros(1, np.int64)
        level[i + first] = now
        i += first + 1
    kept |= {"level": np.array([now]), "home": np.array([home]), "origin": np.array([origin])}
    kept |= {"moving": np.array([moving]), "run": run}
    return level, base
