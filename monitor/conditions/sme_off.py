"""The work put into a kilogram is not what it should be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import one_side, recent_level
from monitor.conditions import another_melt, feeder_signals
from monitor.conditions.machine_load import melt_off_c
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import two_threshold
from monitor.explains_amounts import MOST_PRESSURE_PER_INGREDIENT, NOISE_LN
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

ASTRAY_SHARE = 0.2
"""A rate so far off what is wanted is on its way, or its scale was touched: what it takes of work is not known then.
Common practice, no source."""

WAY_OUT, MOSTLY_MELT, MOSTLY_FEED, TELLS_LN = 1.8, 0.85, 0.6, 0.03
"""ln pressure by ln torque from which the way out has narrowed, from which the melt has changed, up to which the feed
has: what a screw is given moves its torque in step and its pressure by a third of that (power law), a melt moves the
pressure no less than the torque. Told where torque moved by TELLS_LN. Common practice, no source."""


FEED_FAILS = ("side_feeder_backing_up", "rate_not_weight", "feeder_weight_still", "actual_is_setpoint")
"""Findings that bear witness for an ingredient that does not come although its rate says so."""

THINS_LN, ON_SET_LN = 0.1, 0.03
"""ln pressure lost, and ln feed off its set-point at most, from which an ingredient that thickens the melt is told
missing behind its feeder's back: what fills a melt thickens it, and asks little of the screws that melt no filler.
Common practice, no source."""


@dataclass(frozen=True)
class SmeOff(RuleDefaults):
    """Specific mechanical energy stays off what is expected at this speed and rate.

    An operator would say: "it takes more power for the same kilograms". The mean of five minutes against the learned or
    reference expectation: `note_pct` a note, `off_pct` a finding, both also more than four times the usual scatter.
    Up by `soon_pct` it is said from the mean of a minute: so much more work at the same speed and rate heats melt and
    zones within minutes and takes the drive to its limit. A flood-fed screw whose rate is not logged puts through what
    its speed gives, so that its work per kilogram goes with net torque: that is judged instead. How far the pressure
    went with torque tells likely causes apart: the feed, the melt, or the way out; so does the melt's temperature.
    Blank under a quarter of the wanted rate, where little melt over much power says nothing. Look-alikes: slide after
    a start (judged half an hour after it), planned change (the expectation starts anew), a new lot with a small shift
    (a note), a feed whose reported rate is wrong (said as a cause: it moves SME the other way). Missing readings: half
    of the five minutes must be there. Memory: five minutes. Common practice, no source.
    """

    note_pct: float = setting(5, 1, 30, "% from expected")
    off_pct: float = setting(10, 2, 60, "% from expected")
    soon_pct: float = setting(20, 5, 100, "% over expected, mean of a minute")
    on_s: float = setting(60, 10, 3600, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "sme_off"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "work per kilogram off"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power", "feeder_rate|line_rate|screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate|line_rate", "melt_pressure", "reference")
    quantities: ClassVar[tuple[str, ...]] = ("sme", "net_torque", "total_feed", "total_setpoint")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line where load and rate are logged; its load where speed stands for the rate of a flood-fed screw."""
        if not any(ctx.has(role) for role in ("torque", "motor_current", "drive_power")):
            return ()
        if ctx.has("feeder_rate") or ctx.has("line_rate"):
            return ("line",)
        return ("load",) if ctx.line.flood_fed and ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """The quantity."""
        return "sme" if subject == "line" else "net_torque"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {
            "mean": recent_level.start(2, ctx.cells(300), 0),
            "minute": recent_level.start(2, ctx.cells(60), 0),
            "on": np.zeros((3, 1), bool),
            "side": one_side.start(1),
            "melt": recent_level.start(1, ctx.cells(60), 0),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 a note, 2 a finding."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        what = self.channel(subjects[0])
        expected, scatter = view.expectation(what)
        torque, feed = view.quantity("net_torque"), view.quantity("total_feed")
        torque_expected, _ = view.expectation("net_torque")
        wanted = view.quantity("total_setpoint")
        armed = view.in_phase("steady") & (view.ages["unchanged"] >= 300) & (view.ages["started"] >= 1800)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.where(expected > 0, view.quantity(what) / expected - 1, np.nan)
            sigma = scatter / expected
        with np.errstate(invalid="ignore"):
            astray = np.abs(feed - wanted) > ASTRAY_SHARE * wanted
        judged = np.where(armed & ~astray, np.array([off, sigma]), np.nan)
        mean_state, mean = recent_level.advance(state["mean"], judged)
        minute_state, minute = recent_level.advance(state["minute"], judged, 0.8)
        off_mean, usual = np.abs(mean[0]), 4 * mean[1]
        on, switches = [], []
        for row, limit in enumerate((self.note_pct / 100, self.off_pct / 100)):
            with np.errstate(invalid="ignore"):
                rises = (off_mean >= limit) & ~(off_mean < usual)
                falls = ~(off_mean >= 0.7 * limit)
            held, switch = two_threshold(state["on"][row], (rises & armed)[None, :], (falls | ~armed)[None, :])
            on.append(held)
            switches.append(switch)
        soon = self.soon_pct / 100
        with np.errstate(invalid="ignore"):
            rises, falls = (minute[0] >= soon) & ~(minute[0] < 4 * minute[1]), ~(minute[0] >= 0.7 * soon)
        held, switch = two_threshold(state["on"][2], (rises & armed)[None, :], (falls | ~armed)[None, :])
        on.append(held)
        switches.append(switch)
        far = on[1] | on[2]
        mean = np.where(on[2] & ~(np.abs(mean) > np.abs(minute)), minute, mean)
        off_mean = np.abs(mean[0])
        level = rule(on[0] | far, np.isfinite(mean[:1]) | on[2], armed & np.isfinite(expected))
        level[(level == 1) & far] = 2
        level, side = one_side.one_side(state["side"], level, mean[:1], ctx.cells(self.off_s))
        melt_off = melt_off_c(view, ctx)[None, :]
        melt_state, melt_c = recent_level.advance(state["melt"], melt_off, another_melt.LEAST_READ)
        with np.errstate(invalid="ignore", divide="ignore"):
            _, _, pressure, _ = feeder_signals.machine(view, ctx)
            facts = {
                "sme": expected * (1 + mean[0]), "expected": expected, "off": mean[0],
                "torque": np.log(np.where(torque > 0, torque, np.nan) / torque_expected),
                "rate": np.log(np.where(feed > 0, feed, np.nan) / wanted),
                "pressure": pressure, "melt_c": melt_c[0],
            }  # fmt: skip
        after = {"mean": mean_state, "minute": minute_state, "on": np.array(switches), "side": side, "melt": melt_state}
        return after, Judged(level, off_mean[None, :], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which way, and what moved."""
        up = facts["off"] > 0
        what = "specific mechanical energy" if subject == "line" else "net torque"
        energy = Evidence("specific mechanical energy", facts["sme"], "kWh/kg", facts["expected"], None, "sme")
        evidence = (
            *((energy,) if subject == "line" else ()),
            *feeder_signals.machine_evidence(facts, ctx),
            Evidence("feed from its set-point", 100 * math.expm1(facts["rate"]), "%", 0.0, None, "total_feed"),
        )
        missing = None if up else _missing(facts, ctx)
        return Explanation(
            f"{what} {abs(100 * facts['off']):.0f} % {'over' if up else 'under'} the usual at this speed"
            + ("" if subject == "load" else " and rate")
            + (f", pressure {abs(100 * math.expm1(facts['pressure'])):.0f} % down" if missing else ""),
            3 if level == 2 or missing else 4,
            "medium" if level == 2 else "low",
            evidence,
            (*((missing,) if missing else ()), *_causes(subject, up, facts)),
            (
                *(("does all that is fed arrive: side feeders, chutes",) if missing else ()),
                "raw-material lots",
                "rates against weights",
                "zones and melt temperature",
            ),
            # More work is no matter of the rate: what it does to pressure and torque is not bounded by the rate's move.
            moved={"torque": facts["torque"], **({} if up else {"rate": facts["rate"]})},
        )


def _causes(subject: str, up: bool, facts: dict[str, float]) -> tuple[Cause, ...]:
    """Feed or melt, the likelier first by how far pressure went with torque, and what is rarer after them.

    A flood-fed screw whose rate is not measured takes what it takes: nobody reports what it gets.
    """
    by_melt, by_feed = _pressure_says(facts)
    if up:
        narrowed = _narrowed(facts)
        feed = Cause("more is fed than is reported", by_feed, by_melt, ("scale_wrong", "scale_jumped"))
        cold = ("zone_under_temperature", "melt_under_temperature")
        melt = Cause("thicker melt: another lot, colder zones", by_melt, by_feed, cold)
        rarer = (
            Cause("vent or screw backing up", shown_by=("vent_flooded", "flooded")),
            Cause("too little lubricant or plasticiser", shown_by=("share_wrong",)),
        )
        if narrowed:
            return narrowed, melt, *rarer
        if subject == "load":
            return melt, *rarer
    else:
        reported = "" if subject == "load" else " than is reported"
        feed = Cause(f"less reaches the screws{reported}", by_feed, by_melt, ("starved", "feeder_weight_still"))
        melt = Cause("thinner melt: another lot, hotter zones, water in it", by_melt, by_feed, ("moisture",))
        rarer = (
            Cause("more lubricant or plasticiser", shown_by=("share_wrong",)),
            Cause("screws worn, or elements changed"),
        )
    return (melt, feed, *rarer) if by_melt else (feed, melt, *rarer)


def _missing(facts: dict[str, float], ctx: Context) -> Cause | None:
    """An ingredient that does not arrive though its rate is shown, where that alone takes so much more pressure.

    Those are named whose share is large enough, what enters by the side first; the main one would take the load.
    """
    torque, pressure = facts["torque"], facts["pressure"]
    if not (pressure <= -THINS_LN and torque <= -TELLS_LN and pressure <= WAY_OUT * torque):
        return None
    feeders = ctx.subjects_of("feeder_rate")
    if len(feeders) < 2 or not abs(facts["rate"]) <= ON_SET_LN:
        return None
    shares = feeder_signals.recipe_shares(feeders, ctx)[:, 0] / 100
    least = (-pressure - NOISE_LN) / MOST_PRESSURE_PER_INGREDIENT
    known = dict(zip(feeders, shares.tolist(), strict=True))
    able = [
        name
        for name in feeders
        if least <= known[name] < max(known.values())
        and ctx.line.feeder_named(name).kind != "liquid"
        and ctx.line.feeder_named(name).effect_on_torque != "lowers"
    ]
    able.sort(key=lambda name: (not ctx.line.feeder_named(name).side, -known[name]))
    what = " or ".join(feeder_signals.label(name, ctx) for name in able[:2]) or "filler or another ingredient"
    seen = ("pressure went much further down than torque", "the rates are on their set-points")
    return Cause(f"{what} does not arrive though its rate is shown: side feeder backs up, chute", seen, (), FEED_FAILS)


def _pressure_says(facts: dict[str, float]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What speaks for another melt and what for another feed, by pressure against torque; neither in between."""
    torque, pressure, melt_c = facts["torque"], facts["pressure"], facts["melt_c"]
    if abs(torque) >= TELLS_LN and another_melt.goes_with_load(np.array(torque), np.array(melt_c)):
        return (f"the melt got {abs(melt_c):.0f} C {'colder' if torque < 0 else 'hotter'} with it",), ()
    if not abs(torque) >= TELLS_LN or math.isnan(pressure):
        return (), ()
    if pressure / torque >= MOSTLY_MELT:
        return ("pressure went as far as torque",), ()
    if pressure / torque <= MOSTLY_FEED:
        return (), ("pressure went much less than torque",)
    return (), ()


def _narrowed(facts: dict[str, float]) -> Cause | None:
    """Screen or die, where the pressure went much further up than torque: screws that push against more work more."""
    if not (facts["torque"] >= TELLS_LN and facts["pressure"] >= WAY_OUT * facts["torque"]):
        return None
    shown = ("restricted", "screen_blinding", "die_plugging")
    return Cause("screen or die restricted", ("pressure went much further than torque",), (), shown)
