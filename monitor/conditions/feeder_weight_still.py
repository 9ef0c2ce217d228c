"""A feeder's weight does not fall as its reported rate, or where none is logged its set-point, says it should."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, ordered_sum, run_length, trailing_least, two_threshold, with_past
from monitor.levels import rule
from monitor.quantities.feeding import DIGIT_CELLS, digit_kg
from monitor.quantities.windows import window_start, window_sums
from monitor.records import Evidence, Family
from monitor.view import CoarseView

NOISE_FACTOR = 0.6
"""Standard deviation of a weight from the median size of its second differences: 1 / (0.6745 * sqrt(6))."""

DIGITS = 4.0
"""A promise of fewer of the scale's smallest steps than this says nothing."""

STEPS = 2.5
"""Nor does one of fewer of the steps that it is written in: of one such step nobody knows whether it has been lost."""

GAIN_CELLS, GAIN_NOISES = 3, 4.0
"""A weight that gained by so many times the scale's noise within three cells does not stand still: it is being filled
slowly, before that can be seen for sure."""

WINDOWS_S = (60, 120, 300, 900)

STALE_S = 30.0
"""Gravimetric rates and scales move in their last digits all the time."""

LEANED_SHARE, LEANED_KG = 0.01, 0.1
"""A weight that rises by more than this from one cell to the next was touched or filled."""


@dataclass(frozen=True)
class FeederWeightStill:
    """A feeder reports its rate as on set while its weight stands still.

    An operator would say: "it says it feeds, but nothing comes": bridged after falling back to volumetric, or a rate
    that is frozen or echoed from the set-point. Where a feeder's rate is not logged its set-point is what it promises.
    The weight lost over a window is held against the reported rate added up over it. The shortest of 60, 120, 300 and
    900 s is taken in which the rate promises ten times the scale's own noise, 0.1 kg and four of its digits or of the
    least steps it was written in; below 40 % of the promise it is said. Windows with a refill do not count.
    Look-alikes: refill, extraction pulse (noise grows, so the window does), someone on the scale (a weight that stands
    still does not rise: a window with a rise of 1 % and 0.1 kg does not count either). Where all feeders in use keep
    rate and weight to the digit, their controller is stale, and where no channel at all moves, nothing comes from the
    plant and what stands is only held: that can't be judged. A scale wrong in span is not seen here: rate and weight
    then agree and both are wrong. Missing readings neither start nor end it. Memory: 90 cells of weight, rate and
    refill a feeder.
    """

    least_share: float = setting(0.4, 0.05, 0.8, "of the promised kilograms")
    clear_share: float = setting(0.7, 0.1, 1.0, "of the promised kilograms, to clear")
    noise_factor: float = setting(10, 3, 50, "times the scale's noise")
    least_kg: float = setting(0.1, 0.001, 10, "kg promised in a window")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "feeder_weight_still"
    family: ClassVar[Family] = "feeder"
    title: ClassVar[str] = "feeder reports its rate, weight stands still"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate|feeder_setpoint", "feeder_weight")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_drive")
    quantities: ClassVar[tuple[str, ...]] = ("refilling", "weight_noise")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate or a set-point, and a weight."""
        return feeder_signals.feeders_with(ctx, self.needs)

    def channel(self, subject: str) -> str:
        """The weight."""
        return f"feeder_weight:{subject}"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the window's own delay."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count, width = len(subjects), ctx.cells(900)
        return {
            "weight": blank(count, width),
            "rate": blank(count, ctx.cells(STALE_S)),
            "promised": window_start(count, width),
            "calm": window_start(count, width + 1),
            "bend": window_start(count, width),
            "raw": blank(count, DIGIT_CELLS - 1),
            "steps": blank(count, width - 1),
            "on": np.zeros(count, bool),
            "all": blank(len(ctx.line.channels), 1),
            "silent": np.zeros(1, np.int64),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        weight, wanted = view.rows("feeder_weight", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        measured = np.isin(subjects, feeder_signals.usable_feeders(ctx))[:, None]
        rate = np.where(measured, view.rows("feeder_rate", subjects), wanted)
        busy = feeder_signals.refilling(view, subjects)
        weights, weight_past = with_past(state["weight"], weight)
        rates, rate_past = with_past(state["rate"], rate)
        before = weights[:, state["weight"].shape[1] - 1 : -1]
        leaned = weight - before > np.fmax(LEANED_SHARE * before, LEANED_KG)
        raw, raw_past = with_past(state["raw"], view.rows("feeder_weight", subjects, raw=True))
        usual_noise = np.nan_to_num(feeder_signals.rows_of(view, "weight_noise", subjects))
        # One odd reading promises nothing: of two cells on end the lower rate is what was promised.
        again = np.fmin(rate, rates[:, state["rate"].shape[1] - 1 : -1])
        sums, window_states = self._sums(state, weights, np.where(np.isnan(rate), rate, again), busy | leaned, ctx)
        sums = [(promised, np.fmax(noise, usual_noise)) for promised, noise in sums]
        # A logger that writes a weight when it has moved by its deadband shows nothing smaller.
        by = np.abs(raw[:, 1:] - raw[:, :-1])[:, -view.n :] if view.n else raw[:, :0]
        written, steps = trailing_least(state["steps"], np.where(by > 0, by, np.nan))
        least = np.fmax(DIGITS * digit_kg(raw), STEPS * np.nan_to_num(written))
        share, promised, lost = self._share(weights, sums, least, view.n, ctx)
        used = feeder_signals.in_use(view, wanted)
        values, all_past = with_past(state["all"], view.values)
        # What is not known has not moved either.
        stands = feeder_signals.to_the_digit(values) | ~np.isfinite(values[:, 1:] + values[:, :-1])
        silent, silent_state = run_length(state["silent"], np.logical_and.reduce(stands, keepdims=True))
        stale = self._stale(weights, rates, used, ctx) | (silent[0] >= ctx.cells(STALE_S))
        with np.errstate(invalid="ignore"):
            rises, falls = share < self.least_share, (share >= self.clear_share) | busy
            gains = weight - weights[:, -view.n - GAIN_CELLS : -GAIN_CELLS] > GAIN_NOISES * usual_noise
            rises &= ~(gains & (usual_noise > 0))
            reported = rate >= 0.5 * wanted
        on, on_state = two_threshold(state["on"], rises & used & reported & ~stale, falls | ~used)
        level = rule(on, (np.isfinite(share) | on) & ~stale, used)
        facts = {
            "rate": rate,
            "wanted": wanted,
            "measured": np.broadcast_to(measured.astype(float), rate.shape),
            "promised": promised,
            "lost": lost,
            "weight": weight,
            "drive": view.rows("feeder_drive", subjects),
        }
        after = {
            "weight": weight_past,
            "rate": rate_past,
            **window_states,
            "raw": raw_past,
            "steps": steps,
            "on": on_state,
            "all": all_past,
            "silent": silent_state,
        }
        return after, Judged(level, 1 - share, facts)

    def _sums(
        self, state: State, weights: Floats, rate: Floats, touched: Bools, ctx: Context
    ) -> tuple[list[tuple[Floats, Floats]], State]:
        """Promised kilograms and scale noise over each window, NaN where it is not whole; states for the next call."""
        most, n = state["weight"].shape[1], rate.shape[1]
        widths = [ctx.cells(seconds) for seconds in WINDOWS_S]
        bend = np.abs(weights[:, 2:] - 2 * weights[:, 1:-1] + weights[:, :-2])[:, most - 2 :]
        after: State = {}
        fed = rate * (ctx.step_s / 3600)
        promised, known, after["promised"] = window_sums(state["promised"], fed, widths)
        calm = np.where(touched, np.nan, 1.0)
        _, kept, after["calm"] = window_sums(state["calm"], calm, [width + 1 for width in widths])
        bends, read, after["bend"] = window_sums(state["bend"], bend, [max(width - 1, 1) for width in widths])
        out = []
        for place, width in enumerate(widths):
            whole = (known[place] == width) & (kept[place] == width + 1) & (read[place] >= width - 1) & (n > 0)
            noise = NOISE_FACTOR * bends[place] / max(width - 1, 1)
            out.append((np.where(whole, promised[place], np.nan), noise))
        return out, after

    def _share(
        self, weights: Floats, sums: list[tuple[Floats, Floats]], shows: Floats, n: int, ctx: Context
    ) -> tuple[Floats, Floats, Floats]:
        """Lost over promised kilograms in the shortest window long enough; NaN where none is."""
        most = weights.shape[1] - n
        now = weights[:, most:]
        share, promised_out, lost_out = (np.full(now.shape, np.nan) for _ in range(3))
        for seconds, (promised, noise) in zip(WINDOWS_S, sums, strict=True):
            width = ctx.cells(seconds)
            if width < 3:
                continue
            ahead = weights[:, most - width : most - width + n]
            with np.errstate(invalid="ignore", divide="ignore"):
                lost = ahead - now
                least = np.fmax(np.fmax(self.noise_factor * noise, self.least_kg), shows)
                fit = (promised >= least) & np.isnan(share)
                share = np.where(fit, lost / promised, share)
            promised_out, lost_out = np.where(fit, promised, promised_out), np.where(fit, lost, lost_out)
        return share, promised_out, lost_out

    @staticmethod
    def _stale(weights: Floats, rates: Floats, used: Bools, ctx: Context) -> Bools:
        """Cells in which none of several feeders in use has moved its rate or weight by a digit for a while, [n]."""
        width, n = ctx.cells(STALE_S), used.shape[1]
        last = weights[:, weights.shape[1] - n - width :]
        still = feeder_signals.to_the_digit(last) & feeder_signals.to_the_digit(rates)
        kept = ordered_sum(still.astype(float), width) >= width
        return (kept | ~used).all(axis=0) & (used.sum(axis=0) > 1)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Promised against lost kilograms."""
        name = feeder_signals.label(subject, ctx)
        measured = facts["measured"] > 0
        says = "reports" if measured else "is told"
        evidence = [
            Evidence(
                f"{name} {says}",
                facts["rate"],
                "kg/h",
                facts["wanted"] if measured else None,
                None,
                f"feeder_{'rate' if measured else 'setpoint'}:{subject}",
            ),
            Evidence("weight lost", facts["lost"], "kg", facts["promised"], None, self.channel(subject)),
        ]
        if facts["drive"] == facts["drive"]:
            evidence.append(Evidence("feeder drive", facts["drive"], "%", None, None, f"feeder_drive:{subject}"))
        return Explanation(
            f"{name} {says} {facts['rate']:.1f} kg/h but its weight lost {facts['lost']:.2f} of "
            f"{facts['promised']:.2f} kg: nothing comes",
            2,
            "high",
            tuple(evidence),
            (
                "bridged, controller fell back to volumetric" if measured else "bridged, or stopped",
                *(("reported rate frozen or echoed from the set-point",) if measured else ()),
                "scale stuck or supported",
            ),
            ("hopper outlet and feed screw", "feeder mode", "scale free to move"),
            cautions.MOVING,
        )
