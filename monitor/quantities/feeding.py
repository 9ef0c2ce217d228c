"""What a single feeder does: when it is refilled, what its screw delivers a turn, and what that usually is."""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, count_true, run_length, running_total, two_threshold, with_past
from monitor.phase_names import PHASES
from monitor.quantities.feed import wanted_rates
from monitor.quantities.quantity import Inputs, Quantity
from monitor.quantities.windows import window_mean, window_start

AFTER_REFILL_S = 30.0
"""A controller needs this long after its hold to find its rate again; common practice, no source."""

UNANSWERED_S = 60.0
"""A mark that has stood for so long while the weight does not rise is a call that nobody answers, no refill."""

BY_HAND_S, AFTER_BY_HAND_S = 120.0, 300.0
"""A refill that lasts a minute and a half and more (here with the 30 s after it) is made by hand, bag by bag: the hold
of many controllers runs out meanwhile, they take the rising weight for no loss, and for some minutes their rate is
wrong. A large hopper may fill as long through its valve: then the rate shown stands to the digit, within HELD_NEAR of
what is wanted, to the end, and is right soon after. A hold has run out where the rate moves for RUN_OUT_S of such a
refill. Common practice, no source."""

HELD_NEAR, RUN_OUT_S = 0.1, 30.0

LEAST_RISE_SHARE, LEAST_RISE_KG, RISE_NOISES = 0.002, 0.05, 6.0
"""A weight that rises by more than all of these within a cell, or steadily over three, is being filled."""

NOISE_OF_DIGIT = 0.25
"""Noise to reckon with on a scale that shows whole steps, in its steps."""

SLOW_CELLS, SLOW_SHARE = 12, 0.03
"""Filled slowly: by this part of the weight in two minutes; by hand a hopper is full in a quarter of an hour. A valve
that leaks is slower."""

DIGIT_CELLS = 12
LEAP_SHARE, LEAP_KG = 0.005, 0.6
"""No single second difference counts for more than this in the noise of a scale: it was filled or touched."""

NOISE_FACTOR = 0.6
"""Standard deviation of a weight from the mean size of its second differences: sqrt(pi / 2) / sqrt(6) is 0.51; a
little more for what is not independent."""

LEAST_DRIVE_PCT = 3.0
"""A feed factor below this drive speed is a quotient of two small figures."""

FILL_PARTS = 4
LEARN_CELLS = 30
"""The usual feed factor of each quarter of the hopper is the mean of its first so many calm cells under a recipe."""

CALM_SHARE = 0.05


def disturbance_kg(weight: Floats, noise: Floats) -> Floats:
    """What a weight does not move by of itself from one cell to the next, beside what is fed.

    weight, kg; noise: `weight_noise`, kg; [row, n] each.
    """
    return np.fmax(np.fmax(LEAST_RISE_SHARE * weight, LEAST_RISE_KG), RISE_NOISES * np.nan_to_num(noise))


def digit_kg(raw: Floats) -> Floats:
    """Smallest step of a scale, from weights as logged: 1, 0.1 or 0.01 kg if all of the last cells are whole
    numbers of it, else 0. [row, DIGIT_CELLS - 1 + n] -> [row, n].
    """
    out = np.zeros((raw.shape[0], raw.shape[1] - DIGIT_CELLS + 1))
    for digit in (0.01, 0.1, 1.0):
        steps = raw / digit
        with np.errstate(invalid="ignore"):
            between = np.abs(steps - np.round(steps)) > 1e-6 * np.fmax(np.abs(steps), 1.0)
        whole = count_true(between, DIGIT_CELLS) == 0
        out = np.where(whole, digit, out)
    return out


def rises(weights: Floats, least: Floats) -> Bools:
    """Cells in which a weight goes up as only filling makes it go, or somebody's hand. [row, 12 + n] -> [row, n].

    weights: with the twelve cells before. least: kg, [row, n]. At once, steadily over three cells, or, where neither
    was so lately, slowly over two minutes and still going: a feeder that only feeds never gains.
    """
    past = SLOW_CELLS
    now, step = weights[:, past:], weights[:, 1:] - weights[:, :-1]
    with np.errstate(invalid="ignore"):
        steps = [step[:, past - 1 - back : step.shape[1] - back] for back in range(4)]
        steady = (steps[0] > 0) & (steps[1] > 0) & (steps[2] > 0) & (now - weights[:, past - 3 : -3] > least)
        lately = np.fmax(np.fmax(steps[0], steps[1]), np.fmax(steps[2], steps[3])) > least
        slow = (now - weights[:, :-past] > np.fmax(least, SLOW_SHARE * now)) & (
            now - weights[:, past - 4 : -4] > least / 4
        )
        return (steps[0] > least) | steady | (slow & ~lately)


def scale_noise(weights: Floats, most: Floats) -> Floats:
    """Size of each second difference as a standard deviation, none counted above `most`. [row, 2 + n] -> [row, n]."""
    bend = np.abs(weights[:, 2:] - 2 * weights[:, 1:-1] + weights[:, :-2])
    return NOISE_FACTOR * np.where(np.isnan(bend), np.nan, np.fmin(bend, most))


def weight_noise_of(feeder: str) -> Quantity:
    """Standard deviation of a scale over the last five minutes, kg; a quarter of its digit at least.

    It stands for the cells before: a rise must not raise the bar it is to be held against.
    """

    def start(ctx: Context) -> State:
        return {
            "weight": blank(1, 2),
            "raw": blank(1, DIGIT_CELLS - 1),
            "noise": window_start(1, ctx.cells(300)),
            "last": blank(1, 2),
        }

    def cells(state: State, x: Inputs) -> tuple[State, Floats]:
        weight = x.readings.rows("feeder_weight", (feeder,))
        after: State = {}
        weights, after["weight"] = with_past(state["weight"], weight)
        raw, after["raw"] = with_past(state["raw"], x.readings.rows("feeder_weight", (feeder,), raw=True))
        bends = scale_noise(weights, np.fmax(LEAP_SHARE * weight, LEAP_KG))
        noise, after["noise"] = window_mean(state["noise"], bends, state["noise"]["sum"].shape[1])
        before, after["last"] = with_past(state["last"], noise)
        return after, np.fmax(before[0, :-2], NOISE_OF_DIGIT * digit_kg(raw)[0])

    return Quantity(
        f"weight_noise:{feeder}",
        "kg",
        f"scatter of the weight of {feeder}",
        cells,
        start=start,
        possible=lambda ctx: feeder in ctx.subjects_of("feeder_weight"),
    )


def refilling_of(feeder: str, needs: tuple[str, ...]) -> Quantity:
    """1 while a feeder is refilled and for 30 s after, 2 once that has lasted as only filling by hand does and for five
    minutes after it, else 0: by its own word and by its weight.

    By hand is what goes on so long while the rate shown is not held. A refill mark that never comes does not hide a
    refill, and a weight that is not logged does not hide a mark. A mark that goes on while the weight does not rise is
    a call that is not answered.
    needs: its `weight_noise`, where it is weighed.
    """

    def start(ctx: Context) -> State:
        return {
            "weight": blank(1, SLOW_CELLS),
            "busy": blank(1, ctx.cells(AFTER_REFILL_S)),
            "lasts": np.zeros(1, np.int64),
            "calls": np.zeros(1, np.int64),
            "by_hand": blank(1, ctx.cells(AFTER_BY_HAND_S)),
            "rate": blank(1, 1),
            "moves": np.zeros(1, np.int64),
            "ran_out": np.zeros(1, bool),
        }

    def cells(state: State, x: Inputs) -> tuple[State, Floats]:
        weight = x.readings.rows("feeder_weight", (feeder,))
        mark = x.readings.rows("feeder_refill", (feeder,))
        weights, weight_past = with_past(state["weight"], weight)
        noise = x.made.get(f"weight_noise:{feeder}", np.zeros(x.readings.n))
        filled = rises(weights, disturbance_kg(weight, noise[None, :]))
        with np.errstate(invalid="ignore"):
            marked = mark > 0.05
        calls, calls_state = run_length(state["calls"], marked & ~filled & np.isfinite(weight))
        busy = filled | (marked & (calls <= x.ctx.cells(UNANSWERED_S)))
        marks, busy_past = with_past(state["busy"], busy.astype(float))
        reach = state["busy"].shape[1] + 1
        lately = count_true(marks > 0, reach)[0] > 0
        lasts, lasts_state = run_length(state["lasts"], lately[None, :])
        rate = x.readings.rows("feeder_rate", (feeder,))
        rates, rate_past = with_past(state["rate"], rate)
        wanted = wanted_rates(x.readings, (feeder,), x.ctx)
        with np.errstate(invalid="ignore"):
            held = (rate == rates[:, :-1]) & (np.abs(rate - wanted) <= HELD_NEAR * wanted)
        moves, moves_state = run_length(state["moves"], busy & ~held)
        ran_out, out_state = two_threshold(state["ran_out"], moves >= x.ctx.cells(RUN_OUT_S), ~lately[None, :])
        long, by_hand_past = with_past(state["by_hand"], ((lasts >= x.ctx.cells(BY_HAND_S)) & ran_out).astype(float))
        by_hand = count_true(long > 0, state["by_hand"].shape[1] + 1)[0] > 0
        known = np.isfinite(weight[0]) | np.isfinite(mark[0]) | lately
        after = {"weight": weight_past, "busy": busy_past, "lasts": lasts_state, "by_hand": by_hand_past}
        after |= {"calls": calls_state, "rate": rate_past, "moves": moves_state, "ran_out": out_state}
        return after, np.where(known, np.where(by_hand, 2.0, lately.astype(float)), np.nan)

    return Quantity(
        f"refilling:{feeder}",
        "1",
        f"1 while {feeder} is refilled and for 30 s after, 2 where that is done by hand and for five minutes after",
        cells,
        needs,
        start=start,
        possible=lambda ctx: any(feeder in ctx.subjects_of(role) for role in ("feeder_weight", "feeder_refill")),
    )


def feed_factor_of(feeder: str, needs: tuple[str, ...]) -> Quantity:
    """Rate over drive speed, kg/h per % drive, outside refills and in gravimetric: goes with bulk density and fill.

    needs: the feeder's `refilling`, where the line can tell it.
    """

    def cells(state: State, x: Inputs) -> tuple[State, Floats]:
        drive = x.readings.get(f"feeder_drive:{feeder}")
        rate = x.readings.get(f"feeder_rate:{feeder}")
        mode = x.readings.get(f"feeder_gravimetric:{feeder}")
        busy = x.made.get(f"refilling:{feeder}", np.zeros(x.readings.n))
        with np.errstate(invalid="ignore"):
            fit = (drive >= LEAST_DRIVE_PCT) & (rate > 0) & ~(busy > 0) & ~(mode < 0.5)
        return state, np.where(fit, rate / np.where(fit, drive, 1.0), np.nan)

    return Quantity(
        f"feed_factor:{feeder}",
        "kg/h/%",
        f"what {feeder} delivers per percent of drive speed",
        cells,
        needs,
        possible=lambda ctx: _known(ctx, "feeder_rate", feeder) and feeder in ctx.subjects_of("feeder_drive"),
    )


def usual_feed_factor_of(feeder: str) -> Quantity:
    """The feed factor this feeder had at this fill of its hopper when the recipe began to run steadily.

    Learned once a recipe, quarter by quarter of the hopper where weight and hopper size are known: it does not
    follow a slow drift. NaN until learned.
    """

    def start(ctx: Context) -> State:
        return {"recipe": "", "sum": np.zeros(FILL_PARTS), "count": np.zeros(FILL_PARTS)}

    def cells(state: State, x: Inputs) -> tuple[State, Floats]:
        recipe = x.ctx.recipe.name if x.ctx.recipe else ""
        if state["recipe"] != recipe:
            state = {**start(x.ctx), "recipe": recipe}
        factor, rate = x[f"feed_factor:{feeder}"], x.readings.get(f"feeder_rate:{feeder}")
        wanted = wanted_rates(x.readings, (feeder,), x.ctx)[0]
        with np.errstate(invalid="ignore"):
            on_set = np.isnan(wanted) | (np.abs(rate - wanted) <= CALM_SHARE * wanted)
        calm = (x.phase == PHASES.index("steady")) & on_set & np.isfinite(factor)
        part = _fill_part(feeder, x)
        here = part == np.arange(FILL_PARTS)[:, None]
        seen = running_total(state["count"], (here & calm).astype(float))
        takes = here & calm & (seen <= LEARN_CELLS)
        total = running_total(state["sum"], np.where(takes, np.nan_to_num(factor), 0.0))
        count = np.fmin(seen, LEARN_CELLS)
        usual = np.full(x.readings.n, np.nan)
        for row in range(FILL_PARTS):
            usual = np.where(here[row] & (count[row] >= LEARN_CELLS), total[row] / LEARN_CELLS, usual)
        if not x.readings.n:
            return state, usual
        return {"recipe": recipe, "sum": total[:, -1].copy(), "count": count[:, -1].copy()}, usual

    return Quantity(
        f"usual_feed_factor:{feeder}",
        "kg/h/%",
        f"what {feeder} delivered per percent of drive speed at this fill when the recipe began",
        cells,
        (f"feed_factor:{feeder}",),
        start=start,
    )


def _fill_part(feeder: str, x: Inputs) -> Floats:
    """Quarter of the hopper that is filled, 0 to 3; 0 throughout where it is not known, NaN where it is unread."""
    hopper = x.ctx.line.feeder_named(feeder).hopper_kg
    if hopper is None or not _known(x.ctx, "feeder_weight", feeder):
        return np.zeros(x.readings.n)
    share = x.readings.get(f"feeder_weight:{feeder}") / hopper
    return np.clip(np.floor(FILL_PARTS * share), 0, FILL_PARTS - 1)


def _known(ctx: Context, role: str, feeder: str) -> bool:
    return feeder in ctx.subjects_of(role) and f"{role}:{feeder}" not in ctx.line.relative_channels
