"""Pressure ahead of the die is up: is the way out narrower, or is the melt thicker?"""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor.conditions.feeder_signals import usable_feeders, wanted_rates
from monitor.conditions.load_evidence import load_facts
from monitor.conditions.machine_load import Load, gross_torque_pct, load, log_ratio, place_of
from monitor.conditions.melt_colder import COLDER_C, colder_cause, is_colder, zones_below
from monitor.conditions.window_regained import regained
from monitor.contract import Context, Judged, State, Timing, no_facts
from monitor.exact import Bools, Floats, blank, last_known, trailing_greatest, trailing_mean, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause
from monitor.view import CoarseView

TORQUE_PER_PRESSURE = 0.4
"""ln torque per ln pressure between the two: a melt thicker by v needs v more pressure and 0.6 to 1 v more torque, a
restriction needs pressure for itself and only the back-up length more torque; common practice, no source."""

MOST_TORQUE_PER_PRESSURE = 1.4
"""Above this the screws are fuller: over-feeding."""

CLEAR_OF_IT = 0.15
OWN_PART = 0.25
"""Pressure behind the screen, or the drop through it, that rises by less than this part of what the pressure ahead of
it does has not taken part; by more than twice that, it has (all in logarithms)."""

LEAST_DROP_BAR = 3.0
"""A smaller drop is the difference of two large figures."""

COLD_SHARE = 0.3
"""Share of the zones below set at which a rise of pressure is laid to the cold; common practice, no source."""

AFTER_CHANGE_S = 600.0
"""Melt temperature takes 10 to 20 min to settle, and pressure goes with it."""

STILL_LN, STILL_C = 0.02, 1.0
"""What wanders so little has not moved; common practice, no source."""

RATE_GONE_LN, LOAD_GONE_LN, FEEDER_GONE = np.log(0.8), -0.2, 0.5
"""Without a fifth of the rate, or of the load, which neither takes away, nothing is compared at the same rate, nor as
long after as a change needs; nor then while a feeder has just lost half of what is wanted, or has it back: what leaves
is another mixture. Common practice, no source."""


class DieSide:
    """What `restricted` and `viscous_lot` share: pressure up at the same rate, and torque tells which of the two."""

    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "torque|motor_current|drive_power",
        "melt_temperature",
        "feeder_rate|line_rate|melt_pump_speed",
    )
    quantities: ClassVar[tuple[str, ...]] = (
        "net_torque",
        "total_feed",
        "total_setpoint",
        "specific_throughput",
        "pumped_per_turn",
    )
    pressure_rise: float
    sigmas: float
    on_s: float
    off_s: float
    name: ClassVar[str]

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure sensor ahead of screen and die; none where a melt pump makes that pressure."""
        groups = {place_of(s.position, s.at, ctx): s.at for s in reversed(ctx.line.sensor) if s.role == "melt_pressure"}
        found = next((groups[place] for place in ("before_screen", "", "after_screen") if place in groups), None)
        return (found,) if found is not None else ()

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Minutes in: neither runs away."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing up."""
        return {
            "on": np.zeros(1, bool),
            "past": blank(3, ctx.cells(60) - 1),
            "thicker": np.full(1, np.nan),
            "less": blank(1, ctx.cells(AFTER_CHANGE_S)),
            "low": blank(len(usable_feeders(ctx)), 1),
        }

    def channel(self, subject: str) -> str:
        """The pressure that judges the extruder."""
        return channel_key("melt_pressure", subject)

    def judged(self, state: State, view: CoarseView, ctx: Context, thicker: bool) -> tuple[State, Judged]:
        """One row for the line; the two share one verdict, taken when it begins."""
        if not self.subjects(ctx):
            empty = np.zeros((0, view.n))
            return state, Judged(empty.astype(np.int8), empty, {})
        found = load(view, ctx)
        smooth, past = trailing_mean(
            state["past"], np.array([found.torque, found.pressure, found.specific_rate]), max(1, ctx.cells(60) // 2)
        )
        torque, pressure, specific = smooth
        per = torque / np.where(pressure > 0, pressure, np.nan)
        below, zones = zones_below(view, ctx)
        # Zones that lose their heat thicken the melt in the die first: its pressure is up before the screws feel it.
        # Without a load only that and the melt temperature are left: a thicker melt that is colder is said as such.
        with np.errstate(invalid="ignore"):
            cold = below >= COLD_SHARE * np.fmax(zones, 1.0)
            thick = np.where(np.isnan(torque), found.melt_c <= -COLDER_C, per >= TORQUE_PER_PRESSURE)
        before, after, drop = self._both_sides(view, ctx)
        with np.errstate(invalid="ignore"):
            # A thicker melt needs more through screen and die alike; a narrower screen or die, each for itself.
            narrower = (after <= OWN_PART * before) | (drop <= OWN_PART * before)
            both = (after > 2 * OWN_PART * before) & (drop > 2 * OWN_PART * before)
        by_load = np.where(np.isfinite(drop), (thick.astype(bool) & ~narrower) | both, thick.astype(bool)) | cold
        rises, stays = (self._up(found, pressure, specific, per, share) for share in (1.0, 0.6))
        bar = view.rows("melt_pressure", self.subjects(ctx))[0]
        kept, as_fed = self._as_fed(state, found, view, ctx)
        rises &= as_fed & ~regained(self.subjects(ctx)[0], bar * np.exp(-pressure), bar, ctx)
        known = np.isfinite(pressure)
        armed = view.in_phase("steady") & (view.ages["unchanged"] >= AFTER_CHANGE_S)
        on, on_state = two_threshold(state["on"], (rises & armed)[None, :], ((known & ~stays) | ~armed)[None, :])
        begins = on & ~np.concatenate((state["on"], on[0]))[:-1]
        verdict, verdict_state = last_known(state["thicker"], np.where(begins, by_load.astype(float), np.nan))
        mine = on & (verdict == (1.0 if thicker else 0.0))
        level = rule(mine, known[None, :], armed[None, :])
        if not (level > 0).any():
            return {**kept, "on": on_state, "past": past, "thicker": verdict_state}, no_facts(level)
        facts = {
            **load_facts(found, view),
            "per": per,
            "before": before,
            "after": after,
            "drop": drop,
            "gross": gross_torque_pct(view, ctx),
            "zones_below": below,
            "zones_known": zones,
        }
        score = np.where(np.isnan(pressure), 0.0, pressure)[None, :]
        return {**kept, "on": on_state, "past": past, "thicker": verdict_state}, Judged(level, score, facts)

    @staticmethod
    def _as_fed(state: State, found: Load, view: CoarseView, ctx: Context) -> tuple[State, Bools]:
        """Whether what is asked for goes through, and has for as long as a change needs, [n]."""
        feeders = usable_feeders(ctx)
        with np.errstate(invalid="ignore"):
            low = view.rows("feeder_rate", feeders) < FEEDER_GONE * wanted_rates(view, feeders, ctx)
            joined, kept = with_past(state["low"], low.astype(float))
            turns = (np.abs(joined[:, 1:] - joined[:, : view.n]) > 0).any(axis=0)
            less = turns | (found.torque <= LOAD_GONE_LN)
            if ctx.starve_fed:
                less |= (found.rate <= RATE_GONE_LN) | (found.specific_rate <= RATE_GONE_LN)
        lately, past = trailing_greatest(state["less"], less[None, :].astype(float))
        return {"low": kept, "less": past}, ~(lately[0] > 0)

    def _up(self, found: Load, pressure: Floats, specific: Floats, per: Floats, share: float) -> Bools:
        """Both conditions see the same rise; which of them it is, is asked once."""
        least = np.fmax(self.pressure_rise, self.sigmas * found.pressure_scatter) * share
        with np.errstate(invalid="ignore"):
            more_fed = (found.rate >= 0.05) | (specific >= 0.08) | (per > MOST_TORQUE_PER_PRESSURE)
            still = ~(found.pressure < 0.6 * least)
            return (pressure >= least) & still & ~more_fed

    @staticmethod
    def _both_sides(view: CoarseView, ctx: Context) -> tuple[Floats, Floats, Floats]:
        """ln pressure against expected before and behind the screen, and of the drop between the two; NaN where one is
        not logged."""
        out, now, usual = [], [], []
        for place in ("before_screen", "after_screen"):
            keys = [
                s.key for s in ctx.line.sensor if s.role == "melt_pressure" and place_of(s.position, s.at, ctx) == place
            ]
            bar = view.get(keys[0]) if keys else np.full(view.n, np.nan)
            out.append(log_ratio(view, keys[0], bar)[0] if keys else bar)
            now.append(bar)
            usual.append(view.expectation(keys[0])[0] if keys else bar)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = (now[0] - now[1]) / (usual[0] - usual[1])
            drop = np.where((usual[0] - usual[1] >= LEAST_DROP_BAR) & (share > 0), np.log(share), np.nan)
        return out[0], out[1], drop


def way_out_cause(facts: dict[str, float]) -> Cause:
    """What speaks for and against a restriction between screws and die."""
    per, after = facts["per"], facts["after"]
    screen = _screen_alone(facts)
    both = facts["before"] >= 0.05 and after >= 0.05
    where = "screen" if screen else "die" if both else "screen or die"
    return Cause(
        f"{where} restricted",
        (
            *_if(per < TORQUE_PER_PRESSURE, f"torque moved only {max(per, 0):.1f} of what pressure did (logarithms)"),
            *_if(facts["melt_c"] >= 1.0, f"melt temperature up {facts['melt_c']:.0f} C"),
            *_if(facts["specific_rate"] <= -0.02, "rate over speed is down"),
            *_if(screen, "pressure behind the screen is not up"),
            *_if(both, "pressure behind the screen is up too"),
        ),
        (
            *_if(_through_both(facts), "the drop through the screen is up as well"),
            *_if(per >= TORQUE_PER_PRESSURE, "torque rose with pressure"),
            *_if(facts["melt_c"] <= -COLDER_C, f"melt temperature down {-facts['melt_c']:.0f} C"),
        ),
        shown_by=("screen_blinding", "die_plugging"),
    )


def _screen_alone(facts: dict[str, float]) -> bool:
    """Whether the pressure ahead of the screen is up and that behind it is not."""
    return facts["before"] >= 0.05 and facts["after"] < 0.02


def thicker_cause(facts: dict[str, float]) -> Cause:
    """What speaks for and against a thicker melt."""
    per, colder = facts["per"], is_colder(facts)
    cold = colder_cause(facts)
    holds = abs(facts["specific_rate"]) < 0.02
    return Cause(
        cold.text if colder else "more viscous lot",
        (
            *_if(per >= TORQUE_PER_PRESSURE, f"torque rose with pressure, {per:.1f} to 1 (logarithms)"),
            *_if(_through_both(facts), "drop through the screen and pressure behind it rose alike"),
            *(cold.speaks_for if colder else ()),
            *_if(holds, "rate over speed holds"),
        ),
        (
            *_if(per < TORQUE_PER_PRESSURE, "torque hardly rose"),
            *_if(_screen_alone(facts), "pressure behind the screen is not up"),
        ),
        shown_by=cold.shown_by if colder else ("wrong_material",),
    )


def zero_cause(facts: dict[str, float]) -> tuple[Cause, ...]:
    """The sensor itself, where nothing but its own reading has moved: behind a screen that needs so much more the load
    and the melt would have felt it. None where one of them is not logged."""
    others = (facts["torque"] / STILL_LN, facts["after"] / STILL_LN, facts["melt_c"] / STILL_C)
    if not all(abs(moved) < 1.0 for moved in others):
        return ()
    stands = "torque, melt temperature and the pressure behind the screen stand as they did"
    return (Cause("zero of this sensor drifting: the next stop shows it", (stands,), (), ("pressure_zero_drift",)),)


def _through_both(facts: dict[str, float]) -> bool:
    """Whether screen and die both need more pressure."""
    least = 2 * OWN_PART * facts["before"]
    return facts["after"] > least and facts["drop"] > least


def both_fit(facts: dict[str, float]) -> bool:
    """Whether neither of the two is clear."""
    return not (abs(facts["per"] - TORQUE_PER_PRESSURE) > CLEAR_OF_IT or _through_both(facts))


def _if(holds: bool, words: str) -> tuple[str, ...]:
    return (words,) if holds else ()
