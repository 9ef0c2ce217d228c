"""A feeder's rate swings up and down: what it is told on average, and not at any minute."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    count_true,
    last_known,
    run_length,
    trailing_extremes,
    turns,
    two_threshold,
    with_past,
)
from monitor.levels import rule
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

APART_S, BEFORE_S = 60.0, 600.0
"""Its usual scatter is that of 10 s from one minute to the next, and of ten minutes ago and before."""

KNOWN_IN_S = 200.0
"""A swing is said within the 400 s of its turns: a reading of ten minutes ago that was one of them is told by then."""

KEPT_S = 1800.0
"""What was usual is known for so long after a feeder was last in use: as long as a scatter takes to be learned."""

SIGMAS = 3.0
"""A swing stands out of the usual scatter of its cells, as it was ten minutes ago, by so many standard deviations."""

TURNS, TURNS_WITHIN_S = 4, 400.0
"""Turns from far above to far below or back: a hand on the scale, a catch sample, a refill make one or two, a loop that
rings out two or three, each smaller than the one before."""

LATELY_S, GOES_ON = 90.0, 0.7
"""Swings of these last seconds are still at least so large a part of the largest; smaller ones ring out."""

LOAD_SWINGS, MAIN_SHARE = 0.1, 0.1
"""Net torque over its mean, and part of the feed, from which the machine bears witness. Common practice, no source."""


@dataclass(frozen=True)
class FeederInBursts(FeederRule):
    """A feeder's rate swings far above and far below its set-point, again and again.

    An operator would say: "it comes in bursts". A rat-hole that falls in and empties, a bridge that builds and breaks:
    the controller chases it and overshoots, so that the mean is right and no minute is. Cells of 10 s at least
    `swing_pct` (`small_swing_pct` under 5 kg/h) and three of their usual scatters above and below what is set, by
    turns, four turns within 400 s, and not dying away. Where the ingredient is a tenth of the feed torque swings with
    it: then it is real and urgent; without that witness it is a note. Look-alikes: a hand on the scale, a catch sample,
    a refill (one or two turns; refills and the 30 s after are left out), regrind that wanders for minutes (few turns),
    a loop that rings out, a feeder that always scatters so (its own scatter is the bar), a new set-point (left out for
    a minute), dust extraction that shakes the scale (a note: torque does not swing with it). What swings is not learned
    as its usual scatter, from its first turn to its last: that of before is kept. Missing readings neither start nor
    end it. Memory: ten minutes of readings, half an hour of scatter a feeder. Common practice, no source.
    """

    swing_pct: float = setting(6, 2, 50, "% of set, above and below")
    small_swing_pct: float = setting(10, 2, 100, "% of set, above and below, small feeders")
    small_kg_h: float = setting(5, 0, 100, "kg/h")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(300, 30, 3600, "s")

    name: ClassVar[str] = "feeder_in_bursts"
    title: ClassVar[str] = "feeder delivers in bursts"
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "feeder_setpoint",
        "feeder_refill|feeder_weight",
        "torque|motor_current|drive_power",
    )
    quantities: ClassVar[tuple[str, ...]] = ("refilling", "net_torque", "total_setpoint")

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Even."""
        count, width = len(subjects), ctx.cells(TURNS_WITHIN_S)
        return {
            "scatter": feeder_signals.scatter_start(subjects, ctx, APART_S),
            "off": blank(count, ctx.cells(BEFORE_S)),
            "swung": blank(count, ctx.cells(BEFORE_S)),
            "usual": np.full(count, np.nan),
            "idle": np.zeros(count, np.int64),
            "side": np.full(count, np.nan),
            "turns": blank(count, width - 1),
            "rates": blank(count, width - 1),
            "lately": blank(count, ctx.cells(LATELY_S) - 1),
            "load": blank(1, width - 1),
            "on": np.zeros(count, bool),
            "asked": feeder_signals.asked_start(subjects),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        used, busy = feeder_signals.in_use(view, wanted), feeder_signals.refilling(view, subjects)
        anew, asked = feeder_signals.asked_anew(state["asked"], wanted, ctx)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.where(used & ~busy & ~anew, rate / wanted - 1, np.nan)
            share = wanted / view.quantity("total_setpoint")
            least = np.where(wanted < self.small_kg_h, self.small_swing_pct, self.swing_pct) / 100
        fit = np.where(np.isnan(off), np.nan, rate)
        low, high, rates = trailing_extremes(state["rates"], fit)
        lowest, highest, lately = trailing_extremes(state["lately"], fit)
        torque = view.quantity("net_torque")[None, :]
        load_low, load_high, load = trailing_extremes(state["load"], np.where(view.in_phase("steady"), torque, np.nan))
        with np.errstate(invalid="ignore", divide="ignore"):
            swings = (load_high - load_low) / (load_high + load_low)
            goes_on = highest - lowest >= GOES_ON * (high - low)
            score = np.where(wanted > 0, high - low, 0.0) / np.where(wanted > 0, wanted, 1.0)
        on, counted, swung = self._swinging(state, off, least, goes_on, used, ctx)
        facts = {
            "low": low,
            "high": high,
            "wanted": wanted,
            "turns": counted,
            "load": np.broadcast_to(swings, low.shape),
            "share": share,
        }
        after = {"rates": rates, "load": load, "lately": lately, "asked": asked, **swung}
        return after, Judged(rule(on, np.isfinite(rate), used), score, facts)

    def _swinging(
        self, state: State, off: Floats, least: Floats, goes_on: Bools, used: Bools, ctx: Context
    ) -> tuple[Bools, Floats, State]:
        """Whether each feeder swings, and its turns within `TURNS_WITHIN_S`, [feeder, n] each.

        off: deviation as part of what is wanted, NaN where it is not to be judged; least: part of it that counts.
        What is learned depends on what was found `KNOWN_IN_S` before: it is gone over in pieces of that length where
        anything swings, and at once elsewhere.
        """
        n, most = off.shape[1], ctx.cells(KNOWN_IN_S)
        kept = {name: state[name] for name in ("scatter", "off", "swung", "usual", "idle", "side", "turns", "on")}
        ons, counts, at = [], [], 0
        while at < n or not ons:
            quiet = not (kept["on"].any() or (kept["swung"] > 0).any())
            piece = slice(at, n if quiet else min(at + most, n))
            on, counted, after = self._piece(
                kept, off[:, piece], least[:, piece], goes_on[:, piece], used[:, piece], ctx
            )
            first = np.flatnonzero(on.any(axis=0))
            if quiet and first.size and first[0] + most < on.shape[1]:
                piece = slice(at, at + int(first[0]) + most)
                on, counted, after = self._piece(
                    kept, off[:, piece], least[:, piece], goes_on[:, piece], used[:, piece], ctx
                )
            kept, at = after, piece.stop
            ons.append(on)
            counts.append(counted)
        return np.concatenate(ons, axis=1), np.concatenate(counts, axis=1), kept

    @staticmethod
    def _piece(
        state: State, off: Floats, least: Floats, goes_on: Bools, used: Bools, ctx: Context
    ) -> tuple[Bools, Floats, State]:
        """As `_swinging`, of so few cells that what swings in them is not learned in them, or of any that are still."""
        n, width, unsaid = off.shape[1], ctx.cells(TURNS_WITHIN_S), ctx.cells(KNOWN_IN_S)
        offs, off_past = with_past(state["off"], off)
        reach = state["swung"].shape[1]
        swung = np.concatenate((state["swung"] > 0, np.zeros((len(off), n), bool)), axis=1)
        part_of_it = count_true(swung[:, : reach + n - unsaid], reach + 1 - unsaid) > 0
        learned, scatter_state = feeder_signals.minute_scatter(
            state["scatter"], np.where(part_of_it, np.nan, offs[:, :n]), ctx
        )
        idle, idle_state = run_length(state["idle"], ~used)
        # What is not known any more takes the place of what was: nought, which is below no swing.
        told = np.where(learned > 0, learned, np.where(idle * ctx.step_s > KEPT_S, 0.0, np.nan))
        before, usual = last_known(state["usual"], told)
        with np.errstate(invalid="ignore"):
            side = np.where((np.abs(off) >= np.fmax(least, SIGMAS * before)) & (before > 0), np.sign(off), np.nan)
        turned, last = turns(state["side"], side)
        lately, turns_state = with_past(state["turns"], turned.astype(float))
        counted = count_true(lately > 0, width)
        on, on_state = two_threshold(state["on"], used & (counted >= TURNS) & goes_on, (counted < 2) | ~used)
        _, swung_past = with_past(state["swung"], on.astype(float))
        after = {
            "scatter": scatter_state, "off": off_past, "swung": swung_past, "usual": usual, "idle": idle_state,
            "side": last, "turns": turns_state, "on": on_state,
        }  # fmt: skip
        return on, counted.astype(float), after

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Between what, and whether the machine follows."""
        name, main = feeder_signals.label(subject, ctx), facts["share"] >= MAIN_SHARE
        follows = facts["load"] >= LOAD_SWINGS / 2 and main
        with_it = (f"torque swings by {100 * facts['load']:.0f} % to both sides with it",) if follows else ()
        still = ("torque does not swing with it",) if main and not follows and facts["load"] == facts["load"] else ()
        evidence = [
            Evidence(f"{name}, lowest", facts["low"], "kg/h", facts["wanted"], None, self.channel(subject)),
            Evidence(f"{name}, highest", facts["high"], "kg/h", facts["wanted"], None, self.channel(subject)),
        ]
        if facts["load"] == facts["load"]:
            evidence.append(Evidence("torque, to both sides", 100 * facts["load"], "%", None, None, "net_torque"))
        liquid = ctx.line.feeder_named(subject).kind == "liquid"
        first = (
            Cause("pump sucks air by turns, or a valve in it sticks", with_it, still)
            if liquid
            else Cause("rat-holing or a bridge that builds and breaks: feed in bursts", with_it, still)
        )
        return Explanation(
            f"{name} swings between {facts['low']:.1f} and {facts['high']:.1f} kg/h at {facts['wanted']:.1f} set",
            2 if follows else 4,
            "high" if follows else "medium",
            tuple(evidence),
            (
                first,
                Cause("scale shaken: extraction, vibration, somebody at the hopper", still),
                Cause("its controller hunts: tuned too fast, or after a change of material"),
            ),
            ("tank, filter and pump", "its scale or flow meter")
            if liquid
            else ("hopper: rat-hole, bridge, agitator, flow aid", "scale free and quiet", "product of this time"),
            # A note, of which the machine says nothing, explains nothing large.
            moved={"swing": facts["load"] if follows else 0.0},
        )
