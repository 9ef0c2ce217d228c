"""A set-point is not what the recipe says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import ROLES, channel_key, split_key
from monitor import fixed_base, mistaken_unit
from monitor.conditions.many_setpoints import many_setpoints
from monitor.conditions.share_scale import kg_h_per_share
from monitor.conditions.vacuum_set_at_first import set_at_first, untold
from monitor.contract import CLEAR, DISARMED, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, last_known, run_length
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

ROLES_WATCHED = ("zone_setpoint", "screw_speed_setpoint", "vacuum_setpoint", "feeder_setpoint")
SAME_SPECIFIC_SHARE = 0.05
"""Speed and rate that moved together within 5 % are a planned change of output, not a wrong speed."""

TOTAL = "total_setpoint"
"""Subject of what is wanted of all feeders, or of the line, together."""

SEVERAL = "all set-points"
"""Subject of many set-points that are off at once."""

MANY = 4
"""So many set-points a look this shift and more are another recipe, not so many mistakes."""

TRIM_SHARE = 0.02
"""A total that moves by less from one 10 s cell to the next is trimmed, not set anew."""

PLANNED_MOVES = 2
"""As many other set-points that moved in the same ten minutes are a recipe being loaded, or a change of product."""

LED_BY_HAND = ("screw_speed_setpoint",)
"""Speed is what an operator moves as the line runs, for minutes at a time, in full sight; a zone set wrong is not
seen."""

STARTED_S = 1800.0
"""So long after a start speed and rate are led up by hand, each in steps; then nothing moves alone."""

SOONEST_SHARE = 0.5
"""Of the time a zone that moved alone must have stood: from what is soon on, the further off it is, the sooner. A zone
is set 15 C up for three minutes on purpose; whoever sets one wrong by twice that sees it. Common practice, no source.
"""

LEAST_FEED_STEP_KG_H = 0.1
"""Set-points are often entered to 0.1 kg/h."""


HELD_BY_PUMP = Cause(
    "the control that holds the suction of the melt pump turns the screw up or down",
    ("its speed is what that control asks for",),
    (),
    ("melt_pump_starved", "melt_pump_worn", "starved", "feeder_bridged", "feeder_tripped"),
)
"""A screw ahead of a melt pump: nobody sets its speed."""


@dataclass(frozen=True)
class SetpointNotRecipe:
    """A set-point of a zone, the screw, a vent or a feeder is not the recipe's.

    An operator would say: "somebody set zone 3 to 235". Judged in steady running. A set-point that moved alone, in
    one step, and one that the log begins with, must have stood for `alone_s` (of speed and rate one is set before
    the other; a zone that is off by more than soon, down to half of that); any other, and a speed, which is led by hand
    in full sight, for `stood_s`, so that a ramp, a recipe being loaded or a change of product is none, and nothing
    is judged for as long after the recipe in force has changed. Zones against the recipe's zones; screw speed
    against the recipe's speed, unless the rate was changed by as much (a planned change of output); vacuum against
    the target of its window, or where the recipe gives none against the first 20 min of steady running (worse: a
    look this shift at most, deeper: a note); each feeder against its share at the scale most feeders agree on, so
    that a change of the total at constant shares is none; the total against the recipe's rate, as far as the speed
    did not go with it. Levels by size: 1 a note (zones only, 2 C; a total a third too low; a speed that holds the
    suction of a melt pump, 20 %), 2 a look this shift (zones 5 C, speed 5 %, vacuum 30 mbar, feeders 3 % of their
    share, total 15 % too high), 3 soon (zones 15 C, speed 20 %, vacuum 100 mbar, feeders 10 %, total 40 %). A speed
    within the window the recipe gives the screw is a note at most. Four and more that are a look this shift are
    another recipe: one finding, which the others stand under; where all zones are the recipe's in another unit of
    temperature, the line file's unit is said to be wrong. Look-alikes: a planned ramp, night set-back, start-up
    set-points (not steady, or within half an hour of the start), trim of the rate, a limiter that takes feed back,
    ratio control that pulls all feeders, rounding of small set-points. Missing readings: a set-point stands until
    the next is read. Memory: 4 numbers a set-point, 20 min of a vacuum's. Common practice, no source.
    """

    zone_note_c: float = setting(2, 0.5, 20, "C")
    zone_c: float = setting(5, 1, 50, "C")
    zone_soon_c: float = setting(15, 2, 100, "C")
    speed_pct: float = setting(5, 1, 50, "% of the recipe's speed")
    speed_soon_pct: float = setting(20, 2, 100, "% of the recipe's speed")
    vacuum_mbar: float = setting(30, 1, 500, "mbar")
    vacuum_soon_mbar: float = setting(100, 5, 1000, "mbar")
    feeder_pct: float = setting(3, 0.5, 50, "% of its share")
    feeder_soon_pct: float = setting(10, 1, 100, "% of its share")
    total_over_pct: float = setting(15, 5, 100, "% over the recipe's rate at this speed")
    total_over_soon_pct: float = setting(40, 10, 200, "% over the recipe's rate at this speed")
    total_under_pct: float = setting(35, 10, 90, "% under the recipe's rate at this speed")
    stood_s: float = setting(600, 60, 7200, "s unchanged")
    alone_s: float = setting(180, 10, 7200, "s unchanged, moved alone")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(60, 10, 1800, "s")

    name: ClassVar[str] = "setpoint_not_recipe"
    family: ClassVar[Family] = "window"
    title: ClassVar[str] = "set-point is not the recipe's"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("|".join((*ROLES_WATCHED, "line_rate_setpoint")),)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe", *ROLES_WATCHED)
    quantities: ClassVar[tuple[str, ...]] = ("total_setpoint",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every set-point logged in its own unit, and what is wanted in all."""
        relative = ctx.line.relative_channels
        own = tuple(k for k in ctx.line.channels if split_key(k)[0] in ROLES_WATCHED and k not in relative)
        told = ctx.has("feeder_setpoint") or ctx.has("line_rate_setpoint")
        own = (*own, TOTAL) if told else own
        return (*own, SEVERAL) if len(own) >= MANY else own

    def channel(self, subject: str) -> str:
        """The set-point; for several at once those of the zones."""
        return "zone_setpoint" if subject == SEVERAL else subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the time it must have stood."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing read. cells: how long each has stood. earlier: the same before its last move began. recipe: what the
        recipe wants of each. switched: cells since that changed."""
        k, long = len(_single(subjects)), ctx.cells(self.stood_s)
        return {
            "last": np.full(k, np.nan),
            "cells": np.full(k, max(0, long - ctx.cells(self.alone_s)), np.int64),
            "earlier": np.full(k, float(long)),
            "recipe": np.full(k, np.nan),
            "switched": np.full(1, long, np.int64),
            "at_first": fixed_base.start(len(untold(subjects, self._fixed(subjects, ctx)))),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a set-point, one for several at once."""
        after, judged = self._each(state, view, _single(subjects), ctx)
        if SEVERAL not in subjects:
            return after, Judged(judged.level, judged.score, {**judged.facts, "count": np.zeros(view.n)})
        counted = judged.level >= 2
        count = counted.sum(axis=0)
        most = np.where(counted, judged.level, 0).max(axis=0, initial=0)
        several = np.where(count >= MANY, most, CLEAR).astype(np.int8)
        blank = np.full((1, view.n), np.nan)
        return after, Judged(
            np.concatenate((judged.level, several[None, :])),
            np.concatenate((judged.score, count[None, :].astype(float))),
            {
                **{name: np.concatenate((judged.facts[name], blank)) for name in ("value", "wanted", "told")},
                "count": count.astype(float),
                "unit": judged.facts["unit"],
            },
        )

    def _each(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        read = [view.quantity(TOTAL) if key == TOTAL else view.get(key) for key in subjects]
        value, last = last_known(state["last"], np.array(read).reshape(len(subjects), view.n))
        before = np.concatenate((state["last"][:, None], value), axis=1)[:, :-1] if view.n else value
        wanted, small = self._wanted(subjects, value, view, ctx)
        asked = self._fixed(subjects, ctx)
        free, told = untold(subjects, asked), np.ones(value.shape)
        at_first, wanted[free] = set_at_first(state["at_first"], value[free], self._other(state, asked), view, ctx)
        told[free] = 0.0
        with np.errstate(invalid="ignore", divide="ignore"):
            same = (np.abs(value - before) <= small) | ~np.isfinite(before)
            off, over = self._off(subjects, value, wanted, view, ctx)
            stands, after = self._stands(state, same, self._enough(subjects, off, ctx), subjects, view, ctx)
            planned = self._planned(subjects, value, wanted, view, ctx)
            limits = self._limits(subjects, wanted, over, self._follows_pump(ctx))
            limits[1][free] = np.where(over[free], limits[1][free], np.inf)
            limits[2][free] = np.inf
            holds = stands & ~planned
            level = rule(holds & (off >= limits[0]), np.isfinite(value), view.in_phase("steady"))
            for place in (1, 2):
                level = np.where((level >= place) & (off >= limits[place]), np.int8(place + 1), level)
            level = np.where(self._allowed(subjects, value, ctx), np.minimum(level, np.int8(1)), level)
        level = np.where(np.isnan(wanted), np.int8(DISARMED), level).astype(np.int8)
        score = off / np.fmax(limits[0], 1e-9)
        unit = mistaken_unit.fitting_unit(ctx.line, subjects, value, wanted)
        facts = {"value": value, "wanted": wanted, "told": told, "unit": unit}
        return {"last": last, "at_first": at_first, **after}, Judged(level, score, facts)

    @staticmethod
    def _other(state: State, asked: Floats) -> bool:
        """Whether another recipe is in force than in the cell before."""
        return bool((~((asked == state["recipe"]) | (np.isnan(asked) & np.isnan(state["recipe"])))).any())

    def _enough(self, subjects: tuple[str, ...], off: Floats, ctx: Context) -> Floats:
        """Cells that each must have stood if it moved alone, [subject, n]. off: how far it is off, in its own unit."""
        zones = np.array([split_key(key)[0] == "zone_setpoint" for key in subjects], bool)[:, None]
        sooner = np.clip(self.zone_soon_c / np.fmax(off, 1e-9), SOONEST_SHARE, 1.0)
        return np.where(zones & np.isfinite(off), sooner, 1.0) * ctx.cells(self.alone_s)

    def _stands(
        self,
        state: State,
        same: np.ndarray,
        enough: Floats,
        subjects: tuple[str, ...],
        view: CoarseView,
        ctx: Context,
    ) -> tuple[np.ndarray, State]:
        """Whether each has stood long enough to be meant, [subject, n], and the state after it. enough: if alone."""
        n, long = view.n, ctx.cells(self.stood_s)
        asked = self._fixed(subjects, ctx)
        switched = 0 if self._other(state, asked) and np.isfinite(state["recipe"]).any() else int(state["switched"][0])
        since = np.minimum(switched + np.arange(1, n + 1), long)
        stood, cells = run_length(state["cells"], same)
        stood, cells = np.minimum(stood, 10 * long), np.minimum(cells, 10 * long)
        behind = np.concatenate((state["cells"][:, None], stood), axis=1)[:, :n].astype(np.float64)
        # What moves again before it has stood is one move: a step that a controller leads there.
        begins = ~same & (behind >= ctx.cells(self.alone_s))
        earlier, last_earlier = last_known(state["earlier"], np.where(begins, behind, np.nan))
        recent = stood < long
        others = np.count_nonzero(recent, axis=0)[None, :] - recent
        alone = (
            (view.ages["started"] >= STARTED_S)
            & (stood >= enough)
            & ~np.array([split_key(key)[0] in LED_BY_HAND for key in subjects], bool)[:, None]
            & (earlier >= long)
            & (others < PLANNED_MOVES)
        )
        after: State = {
            "cells": cells,
            "earlier": last_earlier,
            "recipe": asked if n else state["recipe"],
            "switched": since[-1:].astype(np.int64) if n else state["switched"],
        }
        return ((stood >= long) | alone) & (since >= long)[None, :], after

    @staticmethod
    def _fixed(subjects: tuple[str, ...], ctx: Context) -> Floats:
        """What the recipe asks of each by itself, [subject]; NaN where it does not, or where it hangs on the rest."""
        out, recipe = np.full(len(subjects), np.nan), ctx.recipe
        for row, key in enumerate(subjects if recipe is not None else ()):
            role, at = split_key(key)
            if recipe is None:
                continue
            if role == TOTAL:
                # Over a flood-fed screw a blender's set-points follow what it takes: nobody set them.
                set_by_hand = ctx.starve_fed or not ctx.has("feeder_setpoint")
                out[row] = (recipe.recipe.rate_kg_h or np.nan) if set_by_hand else np.nan
            elif role == "zone_setpoint":
                out[row] = recipe.zones.get(at, np.nan)
            elif role == "screw_speed_setpoint":
                out[row] = recipe.recipe.screw_speed_rpm or np.nan
            elif role == "vacuum_setpoint":
                window = recipe.window_of(channel_key("vacuum", at))
                out[row] = np.nan if window is None or window.target is None else window.target
        return out

    @staticmethod
    def _allowed(subjects: tuple[str, ...], value: Floats, ctx: Context) -> np.ndarray:
        """A speed inside the window the recipe itself gives it, [subject, n]: no more than a note."""
        out = np.zeros(value.shape, bool)
        window = ctx.recipe.window_of("screw_speed") if ctx.recipe else None
        if window is not None and window.low is not None and window.high is not None:
            for row in (row for row, key in enumerate(subjects) if key == "screw_speed_setpoint"):
                out[row] = (value[row] >= window.low) & (value[row] <= window.high)
        return out

    @staticmethod
    def _follows_pump(ctx: Context) -> bool:
        """Whether the screw's speed is what holds the suction of a melt pump: no person sets it then."""
        return ctx.has("melt_pump_speed") or any(s.position == "pump_suction" for s in ctx.line.sensor)

    @staticmethod
    def _off(
        subjects: tuple[str, ...], value: Floats, wanted: Floats, view: CoarseView, ctx: Context
    ) -> tuple[Floats, np.ndarray]:
        """How far each is off in its own unit, and whether above, [subject, n].

        The total counts as far as the screw did not go with it: what is fed at the recipe's fill is a change of output.
        """
        off, over = np.abs(value - wanted), value > wanted
        if TOTAL in subjects:
            row = subjects.index(TOTAL)
            recipe = ctx.recipe.recipe.screw_speed_rpm if ctx.recipe else None
            speed = view.get("screw_speed_setpoint") / recipe if recipe else np.full(view.n, np.nan)
            alone = value[row] / wanted[row] - 1
            at_speed = np.where(speed > 0, value[row] / wanted[row] / speed - 1, alone)
            share = np.where(alone > 0, np.fmin(alone, at_speed), np.fmin(-alone, -at_speed))
            off[row] = np.fmax(share, 0.0) * wanted[row]
        return off, over

    def _wanted(
        self, subjects: tuple[str, ...], value: Floats, view: CoarseView, ctx: Context
    ) -> tuple[Floats, Floats]:
        """What the recipe asks of each, [subject, n], and how little is no change of it, [subject, 1]."""
        wanted, recipe = np.repeat(self._fixed(subjects, ctx)[:, None], view.n, axis=1), ctx.recipe
        small = np.full((len(subjects), 1), 0.05)
        for row, key in enumerate(subjects):
            if key in ("screw_speed_setpoint", TOTAL) and view.n and np.isfinite(wanted[row, 0]):
                small[row] = (TRIM_SHARE if key == TOTAL else 0.005) * wanted[row, 0]
        feeders = [row for row, key in enumerate(subjects) if split_key(key)[0] == "feeder_setpoint"]
        if feeders and recipe is not None and recipe.shares:
            shares = np.array([recipe.shares.get(split_key(subjects[row])[1], 0.0) for row in feeders])
            wanted[feeders] = shares[:, None] * kg_h_per_share(value[feeders], shares, recipe.recipe.rate_kg_h)
            # A trim moves feeders all the time, at constant shares: they count as standing while the shares do.
            small[feeders] = np.inf
        return wanted, small

    def _planned(
        self, subjects: tuple[str, ...], value: Floats, wanted: Floats, view: CoarseView, ctx: Context
    ) -> np.ndarray:
        """Screw speeds that were changed together with the rate, [subject, n]."""
        out = np.zeros(value.shape, bool)
        rate = ctx.recipe.recipe.rate_kg_h if ctx.recipe else None
        if rate and "screw_speed_setpoint" in subjects:
            row = subjects.index("screw_speed_setpoint")
            total = view.quantity("total_setpoint")
            out[row] = np.abs((total / rate) / (value[row] / wanted[row]) - 1.0) <= SAME_SPECIFIC_SHARE
        return out

    def _limits(
        self, subjects: tuple[str, ...], wanted: Floats, over: np.ndarray, follows: bool
    ) -> tuple[Floats, Floats, Floats]:
        """The three limits in the unit of each set-point, [subject, n]."""
        out = np.full((3, *wanted.shape), np.inf)
        for row, key in enumerate(subjects):
            role = split_key(key)[0]
            if role == TOTAL:
                shares = (self.total_over_pct, self.total_over_pct, self.total_over_soon_pct)
                above = np.array(shares)[:, None] / 100 * wanted[row]
                below = np.array((self.total_under_pct / 100, np.inf, np.inf))[:, None] * wanted[row]
                out[:, row] = np.where(over[row], above, below)
            elif role == "screw_speed_setpoint" and follows:
                out[0, row] = self.speed_soon_pct / 100 * np.abs(wanted[row])
            elif role == "zone_setpoint":
                out[:, row] = np.array([[self.zone_note_c], [self.zone_c], [self.zone_soon_c]])
            elif role == "vacuum_setpoint":
                out[:, row] = np.array([[self.vacuum_mbar], [self.vacuum_mbar], [self.vacuum_soon_mbar]])
            else:
                near, far = (
                    (self.feeder_pct, self.feeder_soon_pct)
                    if role == "feeder_setpoint"
                    else (self.speed_pct, self.speed_soon_pct)
                )
                least = LEAST_FEED_STEP_KG_H if role == "feeder_setpoint" else 0.0
                both = np.fmax(near / 100 * np.abs(wanted[row]), least), np.fmax(far / 100 * np.abs(wanted[row]), least)
                out[0, row], out[1, row], out[2, row] = both[0], both[0], both[1]
        return out[0], out[1], out[2]

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From what it should be to what it is."""
        if subject == SEVERAL:
            return many_setpoints(level, facts)
        role, at = split_key(subject)
        unit, value, wanted = "kg/h" if role == TOTAL else ROLES[role].unit, facts["value"], facts["wanted"]
        label = {
            TOTAL: "the rate in all",
            "zone_setpoint": f"zone {at}",
            "screw_speed_setpoint": "screw speed",
            "vacuum_setpoint": f"vacuum {at}",
            "feeder_setpoint": f"feeder {at}",
        }[role]
        shown = "°C" if unit == "C" else unit
        at_shares = ", by its share at today's total" if role == "feeder_setpoint" else ""
        told = facts["told"] > 0
        should = "the recipe says {:.4g}" if told else "it was {:.4g} at first, the recipe says nothing of it"
        return Explanation(
            f"{label} is set to {value:.4g} {shown}, {should.format(wanted)}{at_shares}",
            {1: 4, 2: 3, 3: 2}[level],
            "high" if told else "medium",
            (Evidence(f"set-point of {label}", value, unit, wanted, None, subject),),
            (
                *((HELD_BY_PUMP,) if role == "screw_speed_setpoint" and self._follows_pump(ctx) else ()),
                Cause("set by hand and left so", ("it has stood unchanged",) if role != "feeder_setpoint" else ()),
                "recipe not fully loaded, or another one",
                "recipe file is not the one in force",
            ),
            ("who changed it, and why", "the recipe on the line's own panel", "put it back or change the recipe"),
            # A window of load or pressure already goes with speed and rate: what is out of it has another cause.
            moved={"rate": 0.0}
            if role in (TOTAL, "screw_speed_setpoint")
            else {"zone_c": value - wanted}
            if role == "zone_setpoint"
            else {},
        )


def _single(subjects: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(subject for subject in subjects if subject != SEVERAL)
