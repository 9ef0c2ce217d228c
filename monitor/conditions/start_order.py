"""Filler or vacuum put on before the melt is through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import split_key
from monitor import cautions
from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, blank, last_known, run_length, running_total, two_threshold, with_past
from monitor.levels import rule
from monitor.quantities.at_die import way_through_screw
from monitor.quantities.feed import STANDS_PCT
from monitor.quantities.screw import RESIDENCE_TIME
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

STANDING = ("stopped", "heating", "soaking", "ready")
AHEAD = 0.95
"""A feeder that enters beyond this part of the way still to go is no main feeder."""


STANDS_SHARE = 0.02
"""A feeder below this share of what is wanted stands."""

START_S = 900.0
"""Feeders are switched on within a quarter of an hour after the screw."""

MATTERS_SHARE = 0.05
"""Of what the screw holds: a side feed that has given less meets what melt the stop has left. Feeders that are switched
on together from one master rate are ahead of the melt by some seconds only. Common practice, no source."""


RUNS_DOWN = 0.8
"""A feeder that gives less than this share of what it gave 10 s before has been switched off and comes to rest, as a
dosing pump or a filtered rate does. Common practice, no source."""


def _late(feeder: str, ctx: Context) -> bool:
    """Whether it enters behind the main feed."""
    return ctx.line.feeder_named(feeder).side or way_through_screw(feeder, ctx) < AHEAD


@dataclass(frozen=True)
class StartOrder:
    """At a start a side feed runs, or a vent is evacuated, before melt has come through to the die.

    An operator would say: "filler on too early". Melt is through when the pressure ahead of the die has risen by 5
    bar since the screw stood, or when as many kilograms have been fed as the screw and what follows hold. Until
    then: a feeder that enters behind the main feed at more than a tenth of its set rate, or of the recipe's where
    that is more, once it has given a twentieth of what they hold, or a vent under 600 mbar (opened or off it may
    show less than the air's pressure). Filler alone wears and may jam; a vacuum draws powder and unmelted material
    into the vent. Only after a stop of ten minutes and more: a barrel that stood shortly is full of melt. In a start
    of any kind a filler that runs while the main feed stands, told to or not, is said: what melt was left is soon
    used up. Look-alikes: a restart after a short stop, a rate that is not quite zero of a feeder whose drive stands,
    a log that begins while it runs (not judged), all feeders switched on at once from one master rate (a few seconds
    of filler) or off (what runs down while the main feed stands already), a gauge that shows vacuum because the vent is
    shut (said: medium confidence). Missing readings neither start nor end it. Memory: running totals and marks. Common
    practice, no source.
    """

    through_bar: float = setting(5, 0.5, 100, "bar above standing")
    vacuum_mbar: float = setting(600, 50, 1000, "mbar absolute")
    rate_share: float = setting(0.1, 0.01, 0.9, "of the set rate")
    stood_s: float = setting(600, 10, 86400, "s")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(20, 10, 600, "s")

    name: ClassVar[str] = "start_order"
    family: ClassVar[Family] = "composition"
    title: ClassVar[str] = "filler or vacuum on before melt is through"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure|feeder_rate", "feeder_rate|vacuum")
    sharpened_by: ClassVar[tuple[str, ...]] = ("melt_pressure", "feeder_rate", "vacuum", "geometry")
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "residence_time")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders that enter behind the main feed and evacuated vents, where melt coming through can be told."""
        told = ctx.has("melt_pressure") or (RESIDENCE_TIME.possible(ctx) and ctx.has("feeder_rate"))
        if not told or not ctx.has("screw_speed"):
            return ()
        fed = feeder_signals.usable_feeders(ctx)
        late = [name for name in fed if _late(name, ctx)]
        logged = ctx.subjects_of("vacuum")
        vents = [vent.name for vent in ctx.line.vent if vent.vacuum and vent.name in logged]
        relative = ctx.line.relative_channels
        keys = (*(f"feeder_rate:{name}" for name in late), *(f"vacuum:{name}" for name in vents))
        return tuple(key for key in keys if key not in relative)

    def channel(self, subject: str) -> str:
        """Subjects are channels: the rate of a feeder, the vacuum of a vent."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two cells in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing known of what stands in the barrel: taken for melt."""
        return {
            "standing": np.zeros(1, np.int64),
            "fed": np.zeros(1),
            "fed_then": np.full(1, np.nan),
            "pressure_then": np.full(1, np.nan),
            "through": np.ones(1, bool),
            "last": blank(len(subjects), 1),
            "given": np.zeros(len(subjects)),
            "given_then": np.full(len(subjects), np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a late feeder or vent."""
        stands, standing = run_length(state["standing"], view.in_phase(*STANDING)[None, :])
        empty = stands * ctx.step_s >= self.stood_s
        feed = view.quantity("total_feed")
        fed = running_total(state["fed"], np.nan_to_num(feed * ctx.step_s / 3600)[None, :])
        pressure = feeder_signals.highest_pressure(view, ctx)[None, :]
        fed_then, fed_mark = last_known(state["fed_then"], np.where(stands > 0, fed, np.nan))
        pressure_then, pressure_mark = last_known(state["pressure_then"], np.where(stands > 0, pressure, np.nan))
        kilograms, holds = (fed - fed_then)[0], view.quantity("residence_time") * feed / 3600
        with np.errstate(invalid="ignore"):
            came = (pressure - pressure_then >= self.through_bar) | (kilograms >= holds)
        through, through_state = two_threshold(state["through"], came & (stands == 0), empty)
        turning = view.in_phase("starting", "settling", "idle", "steady", "changing")
        value, limit, early = self._early(view, subjects, ctx)
        is_vent = np.array([key.startswith("vacuum") for key in subjects], bool).reshape(-1, 1)
        alone = ~is_vent & (
            view.in_phase("starting", "settling", "idle", "changing", "steady") & self._main_feed_stands(view, ctx)
        )
        joined, last = with_past(state["last"], value)
        with np.errstate(invalid="ignore"):
            alone &= (view.ages["started"] <= START_S) & ~(value < RUNS_DOWN * joined[:, : view.n])
        given = running_total(state["given"], np.nan_to_num(np.where(is_vent, 0.0, value) * ctx.step_s / 3600))
        given_then, given_mark = last_known(state["given_then"], np.where(stands > 0, given, np.nan))
        usually_holds = feeder_signals.residence_s(view) * feed / 3600
        with np.errstate(invalid="ignore"):
            little = ~is_vent & (given - given_then < MATTERS_SHARE * usually_holds)
        armed = (turning & ~through[0] & ~little) | alone
        facts = {
            "value": value,
            "limit": limit,
            "kilograms": np.broadcast_to(kilograms, value.shape),
            "holds": np.broadcast_to(holds, value.shape),
            "pressure": np.broadcast_to((pressure - pressure_then)[0], value.shape),
            "alone": alone.astype(float),
        }
        after = {
            "standing": standing,
            "fed": fed[:, -1].copy() if view.n else state["fed"],
            "fed_then": fed_mark,
            "pressure_then": pressure_mark,
            "through": through_state,
            "last": last,
            "given": given[:, -1].copy() if view.n else state["given"],
            "given_then": given_mark,
        }
        # A gauge on its way back to the air is not what it was at its deepest.
        score = np.where(is_vent, limit - value, value)
        return after, Judged(rule(early & armed, np.isfinite(value), armed), score, facts)

    @staticmethod
    def _main_feed_stands(view: CoarseView, ctx: Context) -> np.ndarray:
        """Cells in which no powder feeder at the head of the screw delivers anything, [n].

        Whether it is told to makes no difference to the filler: a main feed that is not switched on yet is the mistake.
        Feeders that the recipe does not use are none; a share of the whole feed tells what counts as nothing.
        """
        fed = feeder_signals.usable_feeders(ctx)
        shares = ctx.recipe.shares if ctx.recipe else {}
        main = [
            name
            for name in fed
            if not _late(name, ctx) and ctx.line.feeder_named(name).kind != "liquid" and shares.get(name, 1.0) > 0
        ]
        if not main:
            return np.zeros(view.n, bool)
        rate, wanted = view.rows("feeder_rate", main), feeder_signals.wanted_rates(view, main, ctx)
        with np.errstate(invalid="ignore"):
            nothing = np.fmax(STANDS_SHARE * wanted, STANDS_SHARE * view.quantity("total_feed")[None, :])
            return np.logical_and.reduce(rate <= nothing, axis=0)

    def _early(self, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[Floats, Floats, np.ndarray]:
        """What is judged, its limit, and where it is on too early, [subject, n] each."""
        names = [split_key(key)[1] for key in subjects]
        is_vent = np.array([key.startswith("vacuum") for key in subjects], bool).reshape(-1, 1)
        value = np.array([view.get(key) for key in subjects]).reshape(len(subjects), view.n)
        wanted = feeder_signals.wanted_rates(view, names, ctx)
        usual = feeder_signals.recipe_shares(names, ctx) / 100 * (ctx.recipe_rate_kg_h or 0.0)
        least = np.where(np.isnan(wanted), 0.5, np.fmax(self.rate_share * np.fmax(wanted, usual), 0.1))
        stands = view.rows("feeder_drive", names) <= STANDS_PCT
        limit = np.where(is_vent, self.vacuum_mbar, least)
        with np.errstate(invalid="ignore"):
            early = np.where(is_vent, value < limit, (value > limit) & ~stands)
        return value, limit, early

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What is on, and how far the melt has come."""
        role, name = split_key(subject)
        vent = role == "vacuum"
        what = f"vent {name} evacuated" if vent else f"{feeder_signals.label(name, ctx)} feeds"
        evidence = [Evidence(what, facts["value"], "mbar" if vent else "kg/h", None, None, subject)]
        if facts["pressure"] == facts["pressure"]:
            evidence.append(Evidence("pressure since the stop", facts["pressure"], "bar", self.through_bar))
        if facts["kilograms"] == facts["kilograms"]:
            holds = facts["holds"]
            evidence.append(
                Evidence("fed since the stop", facts["kilograms"], "kg", None if np.isnan(holds) else holds)
            )
        alone = facts["alone"] == 1
        return Explanation(
            f"{what} while the main feed stands" if alone else f"{what} before melt has come through to the die",
            2 if alone else 3,
            "medium" if vent else "high",
            tuple(evidence),
            (
                Cause("order of the start: this on before melt shows at the die"),
                Cause("left on from before the stop"),
                Cause("pressure sensor plugged or reads low: melt is through", (), ("few kilograms fed",)
                      if facts["kilograms"] < 0.5 * facts["holds"] else ()),
            ),
            ("melt at the die", "vent: powder or unmelted material drawn in" if vent else "screw under the side feed"),
            cautions.COLD,
        )  # fmt: skip
