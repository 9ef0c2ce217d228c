"""The shares fed are not those of the recipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, blank, trailing_mean
from monitor.levels import levels_above
from monitor.records import Evidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class ShareWrong:
    """The share of an ingredient is not the recipe's, though its feeder may follow its set-point perfectly.

    An operator would say: "the recipe was keyed in wrong". Shares from 5 min means of the reported rates against
    the recipe: off by more than 4 % of the share and 0.3 percentage points (under 5 % share: 6 % of it and 0.05
    points). A feeder that the recipe does not name should feed nothing. Refills report the held rate and count.
    Composition at the die lags by the residence time; this judges what is fed. Look-alikes: one feeder off target
    (that finding explains this one).
    Missing readings of any feeder make all shares unknown. Memory: 30 cells a feeder. Common practice, no source.
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
    quantities: ClassVar[tuple[str, ...]] = ("total_feed",)

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
        return {"rates": blank(len(subjects), ctx.cells(300) - 1), "on": np.zeros((len(subjects), 2), bool)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 twice as far off."""
        armed = view.in_phase("steady")
        rates = np.where(armed, view.rows("feeder_rate", subjects), np.nan)
        mean, past = trailing_mean(state["rates"], rates, ctx.cells(240))
        total = np.zeros(view.n)
        for row in mean:
            total = total + row
        recipe = self._wanted(subjects, ctx)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(total > 0, 100 * mean / total, np.nan)
            off = np.abs(share - recipe)
        small = recipe < self.small_share
        near = np.where(
            small, np.fmax(self.small_off_pct / 100 * recipe, 0.05), np.fmax(self.off_pct / 100 * recipe, 0.3)
        )
        near = np.where(np.isnan(recipe), np.nan, near)
        on, level = levels_above(state["on"], off, (near, 2 * near), 0.3 * near, np.broadcast_to(armed, off.shape))
        wanted = view.rows("feeder_setpoint", subjects)
        facts = {
            "share": share,
            "recipe": np.broadcast_to(recipe, share.shape),
            "rate": mean,
            "wanted": wanted,
        }
        return {"rates": past, "on": on}, Judged(level, off / near, facts)

    @staticmethod
    def _wanted(subjects: tuple[str, ...], ctx: Context) -> Floats:
        """Share of each feeder, [subject, 1]: none of what the recipe does not name, if it names any feeder here."""
        shares = ctx.recipe.shares if ctx.recipe else {}
        others = 0.0 if any(name in shares for name in subjects) else np.nan
        return np.array([shares.get(name, others) for name in subjects]).reshape(-1, 1)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Share against recipe; whether the feeder follows its set-point."""
        name = feeder_signals.label(subject, ctx)
        logged = facts["wanted"] == facts["wanted"]
        follows = abs(facts["rate"] - facts["wanted"]) <= 0.03 * facts["wanted"]
        if follows:
            causes = ("set-point of this feeder is not the recipe's: it follows it", "another feeder's set-point")
        elif logged:
            causes = ("this feeder does not follow its set-point", "another feeder is off")
        else:
            causes = ("set-point of this or another feeder is not the recipe's", "this or another feeder is off")
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
            ("set-points of all feeders against the recipe", "the recipe loaded on the line"),
        )
