"""Load and pressure that swell while one feeder is filled and go back with the end of its refill."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.conditions.feeder_signals import to_the_digit
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, count_true, run_length, with_past
from monitor.quantities.feeding import HELD_NEAR

LEFT = 1 / 3
"""Part of its highest to which what swelled has to fall to have gone back."""

BACK_S, LONGEST_S = 300.0, 900.0
"""It is back so soon after the refill: some residence times. A screen or a die that shuts does not open with a hopper's
valve. Longer refills, by hand, are not judged. Common practice, no source."""

FIRST = 0.05
"""What comes in loads the screws before it comes to the die; a screen or die that shuts raises the pressure before the
load. As a part of the highest of each."""

SAID_S = 40.0
"""A swelling that has gone back is told for so long."""

KNOWN_S = 4 * 3600.0
"""A feeder that has flushed at a refill is known to for so long: the next swelling is told as it comes."""

STILL_S, SELDOM_S, SELDOM = 20.0, 600.0, 0.2
"""A rate that stands to the digit for so long, and else hardly ever, is held: its feeder is being filled."""

NEVER = 10**6


def start(count: int, ctx: Context) -> State:
    """Nothing swells. open: cells since it began; torque, pressure: the highest since; first: as it began; told: cells
    left to tell it."""
    return {
        "open": np.zeros(count, np.int64),
        "torque": np.zeros(count),
        "pressure": np.zeros(count),
        "first": np.zeros((2, count)),
        "told": np.zeros(count, np.int64),
        "known": np.full(count, NEVER, np.int64),
        "rate": blank(count, 1),
        "still": np.zeros(count, np.int64),
        "stood": blank(count, ctx.cells(SELDOM_S) - 1),
    }


def held(state: State, rate: Floats, wanted: Floats, ctx: Context) -> tuple[Bools, State]:
    """Where a rate that moves in its last digits stands to the digit, near what is wanted, [feeder, n]."""
    joined, past = with_past(state["rate"], rate)
    with np.errstate(invalid="ignore"):
        still = to_the_digit(joined) & (np.abs(rate - wanted) <= HELD_NEAR * wanted) & (wanted > 0)
    length, still_state = run_length(state["still"], still)
    stood, stood_past = with_past(state["stood"], still.astype(float))
    seldom = count_true(stood > 0, stood_past.shape[1] + 1) - length <= SELDOM * count_true(
        np.isfinite(stood), stood_past.shape[1] + 1
    )
    return seldom & (length >= ctx.cells(STILL_S)), {"rate": past, "still": still_state, "stood": stood_past}


def advance(
    state: State,
    swells: Bools,
    filled: Bools,
    since: NDArray[np.int64],
    marked: Bools,
    judged: Bools,
    load: tuple[Floats, Floats],
    ctx: Context,
) -> tuple[tuple[Bools, Floats, Floats], State]:
    """Where flushing is told, with ln torque and ln pressure of it, [feeder, n] each.

    swells: load and pressure have just risen, [n]. filled: this feeder alone is filled, [feeder, n]; since: cells
    since it was. marked: its refills are known by mark or weight, [feeder]; one that is only guessed by a rate that
    stands has to swell with it twice. judged: the line runs as before, [n]. load: ln torque and ln pressure over
    what is usual, [n] each.
    """
    count, n = filled.shape
    told = np.zeros((count, n), bool)
    torque, pressure = (np.broadcast_to(row, (count, n)).copy() for row in load)
    if not (swells & filled).any() and not state["open"].any() and not state["told"].any():
        known = np.minimum(state["known"] + n, NEVER)
        return (told, torque, pressure), {**state, "known": known}
    s = {name: state[name].copy() for name in ("open", "torque", "pressure", "first", "told", "known")}
    for i in range(n):
        s["known"] = np.minimum(s["known"] + 1, NEVER)
        begins = swells[i] & filled[:, i] & (s["open"] == 0)
        runs = (s["open"] > 0) | begins
        now = np.nan_to_num(np.array([load[0][i], load[1][i]]))
        for name, value in zip(("torque", "pressure"), now, strict=True):
            s[name] = np.where(begins, value, np.where(runs, np.fmax(s[name], value), s[name]))
        s["open"] = np.where(runs, s["open"] + 1, 0)
        s["first"] = np.where(begins, now[:, None], s["first"])
        back = runs & (now[0] <= LEFT * s["torque"]) & (now[1] <= LEFT * s["pressure"]) & bool(judged[i])
        back &= s["first"][0] * s["pressure"] >= s["first"][1] * s["torque"] - FIRST * s["torque"] * s["pressure"]
        again = runs & (s["known"] <= ctx.cells(KNOWN_S))
        s["known"] = np.where(back, 0, s["known"])
        s["told"] = np.where(back & (marked | again), ctx.cells(SAID_S), s["told"])
        told[:, i] = again | (s["told"] > 0)
        torque[:, i] = np.where(told[:, i], s["torque"], torque[:, i])
        pressure[:, i] = np.where(told[:, i], s["pressure"], pressure[:, i])
        s["told"] = np.maximum(s["told"] - 1, 0)
        over = back | (since[:, i] > ctx.cells(BACK_S)) | (s["open"] > ctx.cells(LONGEST_S)) | ~judged[i]
        s["open"] = np.where(over, 0, s["open"])
    return (told, torque, pressure), {**state, **s}
