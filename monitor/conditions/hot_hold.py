"""Melt stands still in a hot barrel for longer than it bears."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.contract import CLEAR, UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, accumulate_while, last_known, two_threshold
from monitor.materials import cold_start_limit_c, hot_hold_min
from monitor.records import Evidence, Family
from monitor.view import CoarseView

USUAL_HOLD_MIN = 30.0

HALVES_C = 10.0
NEAR_C = 5.0
"""Within the outer tolerance of a zone it is at its temperature."""

FUMING = {"hydrogen_chloride", "formaldehyde", "fluorine"}
"""Cautions of materials that give off corrosive or toxic fumes when held hot."""


@dataclass(frozen=True)
class HotHold:
    """The screw has stood still, hot, for longer than the material allows.

    An operator would say: "it has been standing hot for an hour". The minutes count while the screw stands and the
    hottest zone is above the melting point (Tg + 50 C for amorphous); allowed are the recipe's, else the material's,
    else 30 min. Those are minutes at the recipe's temperature: a minute at 10 C less is half of one (van 't Hoff's
    rule; 140 kJ/mol make it so at 225 C; value from memory), so that a barrel set back for the night ages slowly; a
    minute hotter counts as one. After a heat-up from cold they count once the soak is over. Look-alikes: cooled down
    (not hot), turning slowly to purge (turning). Priority 1 for materials that give off corrosive or toxic fumes, else
    2. Missing readings keep the clock running for the on-delay only. Memory: 3 numbers.
    """

    off_s: float = setting(10, 10, 600, "s")

    name: ClassVar[str] = "hot_hold"
    family: ClassVar[Family] = "hot_hold"
    title: ClassVar[str] = "standing hot for too long"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line."""
        return ("line",) if ctx.has("zone_temperature") and ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """The screw, which stands."""
        return "screw_speed"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The allowed minutes are the delay."""
        return Timing(10.0, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Cells standing hot so far; cooled: the barrel was below the melting point since the screw last turned."""
        return {"cells": 0.0, "aged": 0.0, "cooled": np.zeros(1, bool)}

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until the melt has aged by what is allowed, a cell by one at most; see `resting`."""
        return ctx.cells(60.0 * self.allowed_min(ctx)) - math.ceil(state["aged"])

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        zones = tuple(z for z in ctx.subjects_of("zone_temperature") if ctx.line.zone_named(z).kind != "feed")
        rows = view.rows("zone_temperature", zones)
        hottest = np.full(view.n, np.nan)
        for row in rows:
            hottest = np.fmax(hottest, row)
        limit = self.hot_limit_c(ctx)
        standing = view.ages["still"] > 0
        with np.errstate(invalid="ignore"):
            hot = standing & (hottest >= limit) if limit is not None else np.zeros(view.n, bool)
        known = np.isfinite(hottest) & np.isfinite(view.get("screw_speed"))
        heating_up = view.in_phase("heating", "soaking")
        cooled, cooled_after = two_threshold(
            state["cooled"], (known & standing & ~hot)[None, :], (known & ~standing)[None, :]
        )
        counts = hot & ~(cooled[0] & heating_up)
        # A cell that is not known neither counts nor ends the count.
        told = np.flatnonzero(known)
        each = np.array([np.ones(view.n), self._pace(hottest, ctx)])[:, told]
        before = np.array([state["cells"], state["aged"]])
        sums, _ = accumulate_while(before, each, np.tile(counts[told], (2, 1)))
        counted = np.full((2, view.n), np.nan)
        counted[:, told] = sums
        held, after = last_known(before, counted)
        minutes, aged = held * view.step / 60e9
        allowed = self.allowed_min(ctx)
        level = np.where(aged > allowed, np.int8(1), np.int8(CLEAR))
        level = np.where(known, level, np.int8(UNKNOWN))[None, :].astype(np.int8)
        facts = {"minutes": minutes, "aged": aged, "hottest": hottest}
        kept = {"cells": float(after[0]), "aged": float(after[1]), "cooled": cooled_after}
        return kept, Judged(level if subjects else level[:0], aged[None, :], facts)

    @staticmethod
    def _pace(hottest: Floats, ctx: Context) -> Floats:
        """How much a minute ages the melt, against one at the recipe's hottest zone, [n], 1 at most."""
        usual = max(ctx.recipe.zones.values(), default=np.nan) if ctx.recipe else np.nan
        colder = np.where(np.isfinite(hottest - usual), np.fmax(usual - hottest - NEAR_C, 0.0), 0.0)
        return np.exp2(-colder / HALVES_C)

    def hot_limit_c(self, ctx: Context) -> float | None:
        """Temperature above which standing melt ages, C."""
        told = ctx.recipe.recipe.flows_from_c() if ctx.recipe else None
        if told is not None:
            return told
        if ctx.material:
            return cold_start_limit_c(ctx.material, 0.0)
        wanted = [*ctx.recipe.zones.values()] if ctx.recipe else []
        return max(wanted) - 40.0 if wanted else None

    def allowed_min(self, ctx: Context) -> float:
        """Minutes the material may stand hot."""
        if ctx.recipe and ctx.recipe.recipe.hot_hold_min is not None:
            return ctx.recipe.recipe.hot_hold_min
        hottest = max(ctx.recipe.zones.values(), default=None) if ctx.recipe else None
        return hot_hold_min(ctx.material, hottest) if ctx.material else USUAL_HOLD_MIN

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long, how hot, what it may bear."""
        allowed = self.allowed_min(ctx)
        fumes = ctx.material is not None and bool(FUMING & set(ctx.material.cautions))
        return Explanation(
            f"over its allowed {allowed:.0f} min: standing hot for {facts['minutes']:.0f} min by now",
            1 if fumes else 2,
            "high",
            (
                Evidence("standing hot", facts["minutes"], "min"),
                Evidence("that is, at the recipe's temperature", facts["aged"], "min", allowed),
                Evidence("hottest zone", facts["hottest"], "C"),
            ),
            ("long stop with the heating left on",),
            ("purge before product is made again", "lower the zones or purge now, by site procedure"),
            f"{cautions.HOLD} {cautions.HEAT}" if fumes else cautions.HOLD,
        )
