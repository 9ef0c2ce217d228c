"""What leaves the die has not the composition of the recipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Floats, last_known, running_total
from monitor.levels import levels_above
from monitor.physics.composition import share_relative_sd, total_rate_kg_h
from monitor.quantities import at_die
from monitor.quantities.screw import RESIDENCE_TIME
from monitor.quantities.windows import window_mean, window_start, window_sums
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

FIRST_S = 600.0
"""What comes first after a start goes to scrap: feeders overshoot, ways fill and wash out."""

LEAVES_S = 120.0
"""What was fed by speed alone has left the die after so long."""

WEIGHED_SD, TURNED_SD = 0.005, 0.02
"""Relative standard deviation of what a feeder delivers, weighed and by speed alone (refill, volumetric). Usual
repeatability at two sigma is 0.5 to 1 % and 1 to 3 %: values from memory; the upper ends taken here."""


@dataclass(frozen=True)
class CompositionAtDie(FeederRule):
    """The share of an ingredient in what leaves the die is off the recipe, kilogram by kilogram.

    An operator would say: "what comes out now is not the product". Every feeder's rate is followed to the die, delayed
    by the kilograms its own way holds (a side feeder's is shorter), mixed, and integrated; then the shares are taken:
    the mean of a minute off by 4 % of the share and 0.3 points (under 5 % share: 6 % and 0.05 points), by 3.5 times
    the scatter of those means, and by what refills and volumetric mode leave unsure, for 180 s it is said (the
    overshoot after a refill is through by then), level 2 from twice that; of the ingredient furthest off and those
    half as far. Each feeder may be in tolerance and the product still out. How sure the share is comes from the
    feeders' usual repeatability, wider for what was fed in refills and volumetric mode; kilograms so far are given.
    share_wrong says the same early, at the feeders. Look-alikes: the first ten minutes after a start (scrap: not
    judged), refills (the drive tells what is fed, where logged), a catch sample (mixed out), ratio control pulling all
    feeders (shares stay; with unequal ways a real blip, at a planned change not judged). What runs through unweighed
    (flushing) or does not come (feeder_weight_still) is not in the reported rates: those findings say so. Missing
    rates over a minute make it unknown until they have left the die. Memory: a total a feeder, beside the quantity's
    half hour. Common practice, no source.
    """

    off_pct: float = setting(4, 0.5, 50, "% of the share")
    small_off_pct: float = setting(6, 0.5, 50, "% of the share, small shares")
    small_share: float = setting(5, 0, 50, "% share")
    scatters: float = setting(3.5, 0, 10, "times the scatter of its minutes")
    on_s: float = setting(180, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "composition_at_die"
    family: ClassVar[Family] = "composition"
    title: ClassVar[str] = "composition at the die off the recipe"
    charted: ClassVar[str] = "die_share"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "geometry")
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe", "feeder_drive", "feeder_refill|feeder_weight")
    quantities: ClassVar[tuple[str, ...]] = ("die_share", "die_flow", "residence_time", "total_feed")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """All feeders, where there are at least two in a known unit and the line's geometry is stated."""
        if not (at_die.composition_possible(ctx) and RESIDENCE_TIME.possible(ctx)):
            return ()
        return feeder_signals.usable_feeders(ctx)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing out."""
        count = len(subjects)
        return {
            "minute": window_start(count, ctx.cells(60)),
            "scatter": feeder_signals.scatter_start(subjects, ctx),
            "turned": window_start(count, ctx.cells(LEAVES_S)),
            "on": np.zeros((count, 2), bool),
            "total": np.zeros(count),
            "mark": np.zeros(count),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 twice as far off."""
        armed = view.in_phase("steady") & (view.ages["started"] >= FIRST_S) & ctx.starve_fed
        fine = np.where(armed, feeder_signals.rows_of(view, "die_share", subjects), np.nan)
        after: State = {}
        share, after["minute"] = window_mean(state["minute"], fine, ctx.cells(60), ctx.cells(40))
        scatter, after["scatter"] = feeder_signals.minute_scatter(state["scatter"], share, ctx)
        flow = feeder_signals.rows_of(view, "die_flow", subjects)
        recipe = feeder_signals.recipe_shares(subjects, ctx)
        small = recipe < self.small_share
        near = np.where(
            small, np.fmax(self.small_off_pct / 100 * recipe, 0.05), np.fmax(self.off_pct / 100 * recipe, 0.3)
        )
        near = np.where(np.isnan(recipe), np.nan, near)
        sure, weighed = self._sure(state, share, view, subjects, after, ctx)
        plain, near = near, np.fmax(near, self.scatters * scatter) + 2 * (sure - weighed)
        off = np.abs(share - recipe)
        on, level = levels_above(state["on"], off, (near, 2 * near), 0.3 * near, np.broadcast_to(armed, off.shape))
        level[~feeder_signals.leading(off / plain) & (level > 0)] = 0
        with np.errstate(invalid="ignore"):
            out = off >= near
        step_kg = np.nan_to_num(total_rate_kg_h(flow) * ctx.step_s / 3600)
        kilograms = running_total(state["total"], np.array(feeder_signals.by_cell(step_kg, subjects)))
        mark, mark_state = last_known(state["mark"], np.where(out, np.nan, kilograms))
        facts = {
            "share": share,
            "recipe": np.broadcast_to(recipe, share.shape),
            "sure": 2 * sure,
            "near": np.broadcast_to(near, share.shape),
            "kilograms": kilograms - mark,
            "fed_share": feeder_signals.rows_of(view, "share", subjects),
            "residence_s": feeder_signals.by_cell(view.quantity("residence_time"), subjects),
        }
        after |= {
            "on": on,
            "total": kilograms[:, -1].copy() if view.n else state["total"],
            "mark": mark_state,
        }
        return after, Judged(level, off / plain, facts)

    @staticmethod
    def _sure(
        state: State, share: Floats, view: CoarseView, subjects: tuple[str, ...], after: State, ctx: Context
    ) -> tuple[Floats, Floats]:
        """Standard deviation of the share, points: as fed lately, and if all had been weighed."""
        mode = view.rows("feeder_gravimetric", subjects)
        with np.errstate(invalid="ignore"):
            turned = np.where(feeder_signals.refilling(view, subjects) | (mode < 0.5), 1.0, np.nan)
        _, (lately,), after["turned"] = window_sums(state["turned"], turned, (ctx.cells(LEAVES_S),))
        sd = np.where(lately > 0, TURNED_SD, WEIGHED_SD)
        return share * share_relative_sd(share / 100, sd), share * share_relative_sd(
            share / 100, np.full(share.shape, WEIGHED_SD)
        )

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Share at the die against recipe, how sure, how many kilograms, whether it is over at the feeders."""
        name, share, recipe = feeder_signals.label(subject, ctx), facts["share"], facts["recipe"]
        back = abs(facts["fed_share"] - recipe) < facts["near"]
        clear = abs(share - recipe) > facts["near"] + facts["sure"]
        at_feeders = ("the share fed now is right again: what comes out was fed before",) if back else ()
        touched = feeder_signals.what_losing_it_does(subject, ctx)
        return Explanation(
            f"{name}: {share:.2f} % of what leaves the die, recipe {recipe:.2f} %",
            2 if level > 1 else 3,
            "high" if clear else "medium",
            (
                Evidence("share at the die", share, "%", recipe, None, self.channel(subject)),
                Evidence("share known to about", facts["sure"], "%"),
                Evidence("left the die so", facts["kilograms"], "kg"),
                Evidence("share fed now", facts["fed_share"], "%", recipe, None, f"share:{subject}"),
            ),
            (
                Cause("this feeder was off its rate", at_feeders, (), (
                    "feeder_off_target", "feeder_bridged", "feeder_tripped", "liquid_prime_lost",
                    "liquid_nozzle_plugged")),
                Cause("another feeder was off its rate", at_feeders),
                Cause("set-points are not the recipe's", (), at_feeders, ("share_wrong",)),
            ),
            ("product of this time: hold, check", "which feeder strayed", touched),
        )  # fmt: skip
