"""A feeder's hopper is due for refill and nothing comes; a hopper runs empty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, last_known, two_threshold
from monitor.levels import rule
from monitor.physics.loss_in_weight import time_to_empty_s
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

REMEMBERED = 3
STAYS_SHARE, STAYS_NOISES = 0.15, 6.0
"""A refill leaves so much more in the hopper than was in it; a hand on it does not."""

GIVEN_SHARE = 0.95
"""A refill is called for at the level of the line file and comes a moment later, a little lower."""

LEARNED_SHARE = 0.8
"""Where no refill level is given: this part of the lowest of the last three weights at which a refill came."""

BY_HAND_S = 600.0

EMPTY_SHARE = 0.2
"""Where no rate tells how long it lasts: this part of the weight at which it is refilled is nothing."""

COMES_SHARE = 0.2
"""A feeder that brings less than this part of what is wanted lives on no stock any more: it is empty, or bridged."""

EARLIER_SHARE = 0.95
"""Where one is given and the last three refills all came lower: this part of the lowest of them."""


def refill_levels(
    state: Floats, edge: Bools, view: CoarseView, subjects: tuple[str, ...], ctx: Context
) -> tuple[Floats, Floats, Bools]:
    """Weight below which a refill is due, kg, [subject, n]; NaN where neither given nor learned yet.

    state: [subject * (REMEMBERED + 2)]: weights before the last refills, newest first, before the one that may be
    going on, and of the last cell. edge: whether the last cell was one of a refill, [subject].
    """
    count = len(subjects)
    weight, busy = view.rows("feeder_weight", subjects), feeder_signals.refilling(view, subjects)
    kept = state.reshape(REMEMBERED + 2, count)
    filled, last = last_known(kept[-1], weight)
    before = np.concatenate((kept[-1][:, None], filled), axis=1)[:, :-1]
    was = np.concatenate((edge[:, None], busy), axis=1)[:, :-1]
    start, start_last = last_known(kept[-2], np.where(busy & ~was, before, np.nan))
    noise = np.nan_to_num(feeder_signals.rows_of(view, "weight_noise", subjects))
    with np.errstate(invalid="ignore"):
        stays = filled - start >= STAYS_SHARE * start + STAYS_NOISES * noise
    value, out, after, mark = start, [], [], ~busy & was & stays
    for number in range(REMEMBERED):
        known, newest = last_known(kept[number], np.where(mark, value, np.nan))
        value = np.concatenate((kept[number][:, None], known), axis=1)[:, :-1]
        out.append(known)
        after.append(newest)
    lowest = LEARNED_SHARE * np.minimum(np.minimum(out[0], out[1]), out[2])
    given = np.array([[ctx.line.feeder_named(name).refill_below_kg or np.nan] for name in subjects]).reshape(-1, 1)
    # Where refills always come lower than the line file says, its level is not the plant's.
    level = np.where(np.isnan(given), lowest, np.fmin(GIVEN_SHARE * given, EARLIER_SHARE / LEARNED_SHARE * lowest))
    return (
        level,
        np.concatenate((*after, start_last, last)),
        np.concatenate((edge[:, None], busy), axis=1)[:, -1].copy(),
    )


@dataclass(frozen=True)
class RefillNotAnswered(FeederRule):
    """The weight is under the refill level for more than 30 s and no refill comes.

    An operator would say: "it calls for material and nothing comes". Level: 0.95 of `refill_below_kg` of the line
    file, else 0.8 of the lowest of the last three weights at which a refill came (0.95 of it where refills always
    come lower than the line file says). The time to empty at the reported rate is shown and says how urgent it is: a
    note while more than 20 min are left (hoppers filled by hand wait for minutes as a matter of course), priority 3
    below it, 2 below 10 min. Common practice, no source. Look-alikes: a refill that comes within 30 s, a hand on the
    hopper (the weight goes up), a feeder switched off or run empty on purpose before a stop or change (only steady
    running with the feeder wanted counts). It lasts until the weight is over the level again: what shakes on an empty
    scale is no refill, and while a refill may be going on it neither begins nor ends. Missing readings neither start
    nor end it. Memory: three weights a feeder.
    """

    soon_s: float = setting(600, 10, 3600, "s to empty, from which it is urgent")
    time_enough_s: float = setting(1200, 30, 14400, "s to empty, over which it is a note")
    longest_s: float = setting(86400, 30, 864000, "s to empty, at most")
    on_s: float = setting(30, 10, 3600, "s")
    off_s: float = setting(20, 10, 3600, "s")

    name: ClassVar[str] = "refill_not_answered"
    title: ClassVar[str] = "refill not answered"
    charted: ClassVar[str] = "feeder_weight"
    needs: ClassVar[tuple[str, ...]] = ("feeder_weight",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_setpoint", "feeder_refill")
    quantities: ClassVar[tuple[str, ...]] = ("refilling", "weight_noise")

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A refill by hand, during which nothing is told, takes minutes."""
        return Timing(self.on_s, self.off_s, BY_HAND_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No level learned."""
        count = len(subjects)
        return {
            "levels": np.full((REMEMBERED + 2) * count, np.nan),
            "edge": np.zeros(count, bool),
            "on": np.zeros(count, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 due, 2 to be seen to, 3 urgent."""
        due, levels, edge = refill_levels(state["levels"], state["edge"], view, subjects, ctx)
        weight, wanted = view.rows("feeder_weight", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        rate = view.rows("feeder_rate", subjects)
        left = self._left(weight, rate, wanted)
        bar = self._bar(due, subjects, ctx)
        noise = STAYS_NOISES * np.nan_to_num(feeder_signals.rows_of(view, "weight_noise", subjects))
        armed = view.in_phase("steady") & ~(wanted <= 0) & np.isfinite(bar)
        with np.errstate(invalid="ignore"):
            rises, falls = (weight <= bar) & ~(left > self.longest_s), weight > 1.02 * bar + noise
        busy = feeder_signals.refilling(view, subjects)
        on, on_state = two_threshold(state["on"], rises & armed & ~busy, falls | ~armed)
        level = rule(on, np.isfinite(weight) & ~(on & busy), armed)
        with np.errstate(invalid="ignore"):
            level[(level == 1) & ~(left > self.time_enough_s)] = 2
            level[(level == 2) & ((left < self.soon_s) | (np.isnan(left) & (weight <= EMPTY_SHARE * bar)))] = 3
        facts = {
            "weight": weight,
            "due": np.broadcast_to(bar, weight.shape),
            "left_s": left,
            "rate": rate,
            "wanted": wanted,
        }
        after = {"levels": levels, "edge": edge, "on": on_state}
        return after, Judged(level, -np.nan_to_num(weight), facts)

    @staticmethod
    def _left(weight: Floats, rate: Floats, wanted: Floats) -> Floats:
        """Seconds to empty at the reported rate, else at the wanted one."""
        with np.errstate(invalid="ignore"):
            flow = np.where(rate >= COMES_SHARE * wanted, rate, wanted)
        return np.asarray(time_to_empty_s(weight_kg=weight, rate_kg_h=np.where(np.isnan(flow), rate, flow)))

    def _bar(self, due: Floats, subjects: tuple[str, ...], ctx: Context) -> Floats:
        """Weight at or below which it is said, kg."""
        return due

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long it lasts."""
        name, left = feeder_signals.label(subject, ctx), facts["left_s"]
        dry = facts["rate"] < COMES_SHARE * facts["wanted"]
        lasts = f"empty in {left / 60:.0f} min" if left >= 90 else f"empty in {left:.0f} s"
        lasts = "empty now" if left <= 0 else lasts
        lasts = "and nothing of it comes" if dry else lasts
        evidence = [
            Evidence("weight in its hopper", facts["weight"], "kg", facts["due"], None, self.channel(subject)),
        ]
        if left == left and not dry:
            evidence.append(Evidence("time to empty", left / 60, "min"))
        return Explanation(
            f"{name}: {max(facts['weight'], 0.0):.1f} kg left, no refill"
            + (f", {lasts}" if dry or left == left else ""),
            (4, 3, 2)[min(max(level, 1), 3) - 1],
            "high",
            tuple(evidence),
            (
                Cause("silo or station empty, loader off"),
                Cause("refill valve or its air does not open"),
                Cause("bridge above the refill valve"),
                Cause("filled by hand: somebody is late"),
            ),
            ("silo and loader", "refill valve and its call", f"what else runs out: {_touch(subject, ctx)}"),
        )


@dataclass(frozen=True)
class HopperRunningEmpty(RefillNotAnswered):
    """A feeder's hopper is nearly empty, whatever its refill level.

    An operator would say: "the hopper is running empty". Weight under 5 % of the hopper size (`hopper_kg`) and 0.7 of
    the refill level, where these are known, with less than ten minutes left at this rate. As
    refill_not_answered in all else.
    """

    longest_s: float = setting(600, 30, 86400, "s to empty, at most")
    empty_share: float = setting(0.05, 0.0, 0.5, "of the hopper size")
    on_s: float = setting(20, 10, 3600, "s")

    name: ClassVar[str] = "hopper_running_empty"
    title: ClassVar[str] = "feeder hopper running empty"

    def _bar(self, due: Floats, subjects: tuple[str, ...], ctx: Context) -> Floats:
        sizes = np.array([[ctx.line.feeder_named(name).hopper_kg or np.nan] for name in subjects]).reshape(-1, 1)
        return np.fmin(self.empty_share * sizes, 0.7 * due)


def _touch(subject: str, ctx: Context) -> str:
    return feeder_signals.what_losing_it_does(subject, ctx)
