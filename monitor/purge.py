"""A purge between two products, cell by cell: all that is fed but one feeder is shut off on purpose.

An operator would say: "we flush with the main polymer". At a change-over the fillers, additives and liquids are shut
off together, the carrier goes on at another rate and the screws at another speed for some minutes. One feeder alone
that brings nothing has failed; so has one whose set-point still asks for it.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, last_known, run_length, with_past
from monitor.physics.composition import total_rate_kg_h
from monitor.quantities.feed import wanted_rates
from monitor.view import Readings

BEFORE_S, STILL_THERE_S = 180.0, 120.0
"""What is shut off together falls from all to nothing within a minute; a filtered rate takes one more. Common practice,
no source."""

GONE, THERE = 0.25, 0.75
"""Of what it was: below this a feeder is shut off, above this it still fed."""

LEAST_SHARE = 0.002
"""Of all that is fed; what fed less before was not in use."""

GOES_ON, EBBS, EBBS_S = 0.2, 0.9, 20.0
"""Of what it was: the carrier feeds so much at least, and does not lose a tenth of that in 20 s: it is no stop."""

SPEED_MOVED, CARRIER_MOVED = 0.05, 0.1
"""Parts of what they were. Whoever purges sets the speed, and mostly the carrier too, in the same minute."""

CHANGED_S = 1200.0
"""A purge comes within some 20 minutes of the note that says that the recipe is another; common practice, no source."""

LONGEST_S = 1800.0
"""Nobody purges for longer; what is missing then is missed. Common practice, no source."""

NEVER = 10**6


def start(ctx: Context) -> State:
    """Nothing seen. before: what those that are shut off fed until then, else NaN. on_for: cells of the purge."""
    count = len(ctx.subjects_of("feeder_rate"))
    return {
        "rates": blank(count, ctx.cells(BEFORE_S)),
        "speeds": blank(1, ctx.cells(BEFORE_S)),
        "newest": np.full(count, np.nan),
        "since_change": np.full(1, NEVER, np.int64),
        "before": np.full(count, np.nan),
        "on_for": 0,
    }


def product_changed(state: State) -> State:
    """Another recipe from now on."""
    return {**state, "since_change": np.zeros(1, np.int64)}


def advance(state: State, readings: Readings, ctx: Context) -> tuple[Bools, State]:
    """Cells in which the line is purged with one of its feeders, [n], and the state."""
    feeders, n = ctx.subjects_of("feeder_rate"), readings.n
    if len(feeders) < 2 or not ctx.starve_fed or not n:
        return np.zeros(n, bool), state
    rate, newest = last_known(state["newest"], readings.rows("feeder_rate", feeders))
    joined, rates = with_past(state["rates"], rate)
    speeds, speeds_past = with_past(state["speeds"], readings.get("screw_speed")[None, :])
    since, since_state = run_length(state["since_change"], np.ones((1, n), bool))
    asked = readings.rows("feeder_setpoint", feeders)
    past = joined.shape[1] - n
    before = joined[:, :n]
    total = total_rate_kg_h(np.nan_to_num(before))
    with np.errstate(invalid="ignore", divide="ignore"):
        fed = before > LEAST_SHARE * total
        still_there = joined[:, past - ctx.cells(STILL_THERE_S) :][:, :n] >= THERE * before
        gone = fed & still_there & (rate <= GONE * before) & ~(asked > GONE * before)
        lately = joined[:, past - ctx.cells(EBBS_S) :][:, :n]
        carrier = fed & (rate >= GOES_ON * before) & (rate >= EBBS * lately)
        moved = carrier & (np.abs(rate / before - 1) > CARRIER_MOVED)
        speed_moved = np.abs(speeds[0, speeds.shape[1] - n :] / speeds[0, :n] - 1) > SPEED_MOVED
    count, used = np.count_nonzero(gone, axis=0), np.count_nonzero(fed, axis=0)
    begins = (count >= 1) & (np.count_nonzero(carrier, axis=0) == 1) & (count + 1 == used) & speed_moved
    begins &= (count >= 2) | moved.any(axis=0) | (since[0] <= ctx.cells(CHANGED_S))
    after = {**state, "rates": rates, "speeds": speeds_past, "newest": newest}
    after["since_change"] = np.minimum(since_state, NEVER)
    if not state["on_for"] and not begins.any():
        return begins, after
    wanted = wanted_rates(readings, feeders, ctx)
    on, kept, on_for = np.zeros(n, bool), state["before"], state["on_for"]
    for i in range(n):
        if not on_for and begins[i]:
            kept, on_for = np.where(gone[:, i], before[:, i], np.nan), 1
        elif on_for and _goes_on(rate[:, i], wanted[:, i], kept) and on_for < ctx.cells(LONGEST_S):
            on_for += 1
        else:
            kept, on_for = np.full(len(feeders), np.nan), 0
        on[i] = on_for > 0
    return on, {**after, "before": kept, "on_for": on_for}


def _goes_on(rate: Floats, wanted: Floats, before: Floats) -> bool:
    """Whether those that were shut off bring nothing yet, and another something."""
    shut = np.isfinite(before)
    with np.errstate(invalid="ignore"):
        back = shut & ((rate > GONE * before) | (rate >= 2 * GONE * np.where(wanted > 0, wanted, np.inf)))
    return not back.any() and bool((rate[~shut] > 0).any())
