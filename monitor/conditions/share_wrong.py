"""The shares fed are not those of the recipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import one_side, read_twice
from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, blank
from monitor.levels import levels_above
from monitor.physics.composition import total_rate_kg_h
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

SCATTERS = 2.0
"""A share that scatters from minute to minute is given so many of their standard deviations: 4.5 of its 5 min mean."""


def _shares(rates: Floats) -> Floats:
    """Percent of the sum; NaN where nothing is fed or anything is unread."""
    total = total_rate_kg_h(rates)
    return np.where(total > 0, 100 * rates / np.where(total > 0, total, 1.0), np.nan)


@dataclass(frozen=True)
class ShareWrong:
    """The share of an ingredient is not the recipe's, though its feeder may follow its set-point perfectly.

    An operator would say: "the recipe was keyed in wrong". Shares from 5 min means of the reported rates against
    the recipe: off by more than 4 % of the share and 0.3 percentage points (under 5 % share: 6 % of it and 0.05
    points), of the ingredient furthest off and those half as far. A feeder that the recipe does not name should
    feed nothing. Refills report the held rate and count, but not those by hand, whose hold runs out (refilling 2).
    Where the share in the set-points is not the recipe's either, that is the likeliest cause. This is the early
    word, at the feeders; what leaves the die is judged by composition_at_die. Look-alikes: one feeder off target
    (that finding explains this one), rates logged as whole numbers (half a unit is allowed for), ratio control
    (shares stay). Missing readings of any feeder make all shares unknown. Memory: half an hour of totals a feeder.
    Common practice, no source.
    """

    off_pct: float = setting(4, 0.5, 50, "% of the share")
    small_off_pct: float = setting(6, 0.5, 50, "% of the share, small shares")
    small_share: float = setting(5, 0, 50, "% share")
    on_s: float = setting(120, 10, 3600, "s")
    off_s: float = setting(120, 10, 3600, "s")

    name: ClassVar[str] = "share_wrong"
    family: ClassVar[Family] = "composition"
    title: ClassVar[str] = "share of an ingredient off the recipe"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe", "feeder_setpoint", "feeder_refill|feeder_weight")
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "refilling")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """All feeders, where there are at least two in a known unit."""
        feeders = feeder_signals.usable_feeders(ctx)
        return feeders if len(feeders) > 1 and len(feeders) == len(ctx.subjects_of("feeder_rate")) else ()

    def channel(self, subject: str) -> str:
        """The share."""
        return f"share:{subject}"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the mean's own delay."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {
            "rates": window_start(len(subjects), ctx.cells(300)),
            "last": blank(len(subjects), 2),
            "minute": window_start(len(subjects), ctx.cells(60)),
            "scatter": feeder_signals.scatter_start(subjects, ctx),
            "rounding": feeder_signals.rounding_start(subjects),
            "on": np.zeros((len(subjects), 2), bool),
            "side": one_side.start(len(subjects)),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 twice as far off."""
        armed = view.in_phase("steady")
        by_hand = feeder_signals.filled_by_hand(view, subjects)
        calm, last = read_twice.middle(state["last"], view.rows("feeder_rate", subjects))
        rates = np.where(armed & ~by_hand, calm, np.nan)
        mean, past = window_mean(state["rates"], rates, ctx.cells(300), ctx.cells(240))
        total, share = total_rate_kg_h(mean), _shares(mean)
        recipe = feeder_signals.recipe_shares(subjects, ctx)
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.abs(share - recipe)
        small = recipe < self.small_share
        near = np.where(
            small, np.fmax(self.small_off_pct / 100 * recipe, 0.05), np.fmax(self.off_pct / 100 * recipe, 0.3)
        )
        rounded, rounding = feeder_signals.rounding(state["rounding"], view, subjects)
        with np.errstate(divide="ignore", invalid="ignore"):
            near = np.where(np.isnan(recipe), np.nan, np.fmax(near, np.where(total > 0, 100 * rounded / total, 0.0)))
        after: State = {"last": last}
        minute, after["minute"] = window_mean(state["minute"], rates, ctx.cells(60), ctx.cells(40))
        scatter, after["scatter"] = feeder_signals.minute_scatter(state["scatter"], _shares(minute), ctx)
        plain, near = near, np.fmax(near, SCATTERS * scatter)
        on, level = levels_above(state["on"], off, (near, 2 * near), 0.3 * near, np.broadcast_to(armed, off.shape))
        level[~feeder_signals.leading(off / plain) & (level > 0)] = 0
        level, after["side"] = one_side.one_side(state["side"], level, share - recipe, ctx.cells(self.off_s))
        wanted = view.rows("feeder_setpoint", subjects)
        told = np.zeros(view.n)
        for row in wanted:
            told = told + row
        facts = {
            "share": share,
            "recipe": np.broadcast_to(recipe, share.shape),
            "rate": mean,
            "wanted": wanted,
            "told_share": 100 * wanted / np.where(told > 0, told, np.nan),
            "near": np.broadcast_to(near, share.shape),
        }
        return {**after, "rates": past, "rounding": rounding, "on": on}, Judged(level, off / plain, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Share against recipe; whether the feeder follows its set-point."""
        name = feeder_signals.label(subject, ctx)
        logged = facts["wanted"] == facts["wanted"]
        causes = self._causes(logged, facts)
        return Explanation(
            f"{name}: share {facts['share']:.2f} %, recipe {facts['recipe']:.2f} %",
            2 if level > 1 else 3,
            "high",
            (
                Evidence("share fed", facts["share"], "%", facts["recipe"], None, self.channel(subject)),
                Evidence(
                    name,
                    facts["rate"],
                    "kg/h",
                    None if np.isnan(facts["wanted"]) else facts["wanted"],
                    None,
                    f"feeder_rate:{subject}",
                ),
            ),
            causes,
            (
                "set-points of all feeders against the recipe",
                "the recipe loaded on the line",
                feeder_signals.what_losing_it_does(subject, ctx)
                if facts["share"] < facts["recipe"]
                else feeder_signals.what_more_of_it_does(subject, ctx),
            ),
        )

    @staticmethod
    def _causes(logged: bool, facts: dict[str, float]) -> tuple[Cause, ...]:
        """Whose fault it is, as far as set-points tell."""
        strays = ("feeder_off_target", "feeder_bridged", "feeder_tripped")
        if not logged:
            return (
                Cause("set-point of this or another feeder is not the recipe's"),
                Cause("this or another feeder is off", (), (), strays),
            )
        follows = abs(facts["rate"] - facts["wanted"]) <= 0.03 * facts["wanted"]
        told_wrong = abs(facts["told_share"] - facts["recipe"]) >= facts["near"]
        told = (f"share in the set-points {facts['told_share']:.2f} %, recipe {facts['recipe']:.2f} %",)
        right = ("the set-points are in the recipe's shares",)
        if follows:
            return (
                Cause(
                    "set-point of this feeder is not the recipe's: it follows it",
                    told if told_wrong else (),
                    () if told_wrong else right,
                ),
                Cause("another feeder's set-point", told if told_wrong else (), () if told_wrong else right),
                Cause("another feeder does not follow its set-point", (), (), strays),
            )
        return (
            Cause("this feeder does not follow its set-point", () if told_wrong else right, (), strays),
            Cause("another feeder is off", (), (), strays),
        )
