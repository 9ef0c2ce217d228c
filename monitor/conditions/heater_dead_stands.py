"""A dead heater, or supply, that was found stands until the zone is seen to be heated.

Melt, neighbours and shear warm a zone without a heater too: that it rises, or holds, proves nothing while it calls for
full heat below its set-point. It is heated when it comes to its set-point with output to spare, when it draws its
current, or when it keeps up with the other zones of a heat-up. With its output taken back below its set-point, or
another set-point, nothing can be said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.conditions.standing_faults import UNSEEN_S
from monitor.contract import CLEAR, UNKNOWN, Context, State
from monitor.exact import Bools, Floats, last_known, run_length, two_threshold

SAME_SET_C = 5.0
FEW = 2
"""With fewer zones left that get no heat it is no longer the supply."""


@dataclass(frozen=True)
class Signs:
    """What zones show, [zone, n] each. dead: found by the rule; asks: full heat called for, under set; short: and not
    rising; back: seen to be heated, whatever its set-point; at_set: at it, with output to spare; wanted: C."""

    dead: Bools
    asks: Bools
    short: Bools
    back: Bools
    at_set: Bools
    wanted: Floats


@dataclass(frozen=True)
class Stands:
    """missing: zones whose heat was found missing and is not back, or is back for too short a time; back: those that
    are heated now, [zone, n] each."""

    missing: Bools
    back: Bools


def start(zones: int) -> State:
    """Nothing found. alone, shared: found by itself, as one of several; set: set-point then; supply: several."""
    return {
        "alone": np.zeros(zones, bool),
        "shared": np.zeros(zones, bool),
        "supply": np.zeros(1, bool),
        "set": np.full(zones, np.nan),
        "back": np.zeros(zones, np.int64),
        "unheard": np.zeros(zones, np.int64),
    }


class Walk:
    """One call: first the zones by themselves, then, with what is known of the supply, all of them."""

    def __init__(self, state: State, signs: Signs, off_s: float, ctx: Context) -> None:
        self.state, self.signs = state, signs
        told = signs.short | signs.dead
        before, self.set_after = last_known(state["set"], np.where(told, signs.wanted, np.nan))
        with np.errstate(invalid="ignore"):
            same = np.abs(signs.wanted - before) <= SAME_SET_C
        self.back = signs.back | (signs.at_set & same)
        unheard = ~self.back & ~(signs.asks | told)
        back_run, self.back_after = run_length(state["back"], self.back)
        unheard_run, self.unheard_after = run_length(state["unheard"], unheard)
        # A cell longer than the episode waits: it is that which says how it ended.
        self.goes = (back_run > ctx.cells(off_s)) | (unheard_run > ctx.cells(UNSEEN_S))
        self.alone, self.alone_after = two_threshold(state["alone"], signs.dead, self.goes)

    def missing(self) -> Bools:
        """Zones that get no heat now, as far as each tells by itself, [zone, n]."""
        return self.signs.dead | (self.alone & self.signs.asks & ~self.back)

    def with_supply(self, supply: Bools) -> tuple[State, Stands, Bools]:
        """supply: cells in which the rule finds several at once, [n]. State, what stands, cells in which it is the
        supply [n]."""
        signs = self.signs
        shared, shared_after = two_threshold(
            self.state["shared"], supply[None, :] & (signs.short | signs.dead), self.goes
        )
        missing = self.alone | shared
        few = ~supply & (np.count_nonzero(missing, axis=0) < FEW)
        stands, supply_after = two_threshold(self.state["supply"], supply[None, :], few[None, :])
        after = {
            "alone": self.alone_after,
            "shared": shared_after,
            "supply": supply_after,
            "set": self.set_after,
            "back": self.back_after,
            "unheard": self.unheard_after,
        }
        return after, Stands(missing, self.back), stands[0]


def levels(rule: np.ndarray, stands: Stands, signs: Signs, supply: Bools) -> tuple[np.ndarray, np.ndarray]:
    """Levels of the zones and of all of them together, int8 [zone, n] and [1, n]; rule: where nothing stands."""
    lacks = stands.missing & (signs.dead | (signs.asks & ~stands.back))
    said = np.where(lacks, 1, np.where(stands.back, CLEAR, UNKNOWN))
    zones = np.where(supply, np.where(rule == UNKNOWN, UNKNOWN, CLEAR), np.where(stands.missing, said, rule))
    unheard = (stands.missing & ~stands.back).any(axis=0)
    together = np.where(supply, np.where(lacks.any(axis=0), 1, np.where(unheard, UNKNOWN, CLEAR)), CLEAR)
    return zones.astype(np.int8), together[None, :].astype(np.int8)
