"""Another material came with a refill: one feeder turns differently, then torque or pressure steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.conditions.intake_or_path import AT_FULL_DRIVE_PCT, MOST_FACTOR_DOWN
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    trailing_extremes,
    trailing_greatest,
    two_threshold,
)
from monitor.explains_amounts import LEAST_TORQUE_PER_PRESSURE, NOISE_LN
from monitor.levels import rule
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

MEAN_S = 120.0
ON_SET_SHARE = 0.03
FAILED_S, FAILED_SHARE = 600.0, 0.4
"""A feeder that was so far off its set-point so shortly before the refill, mean of two minutes, had failed: load and
pressure were on their way back. Common practice, no source."""

HELD_S = 40.0

FOLLOWS_S = 240.0
"""A drive goes ahead of the rate while a set-point moves, for the rate that is shown is a mean of a minute and more;
and what was so is in the means of two minutes after it. Common practice, no source."""

SEEN_BY_SCALE = 0.025
"""From this move of ln torque on, scale_wrong sees a lying scale by itself and says both causes."""

STEADY_OTHERS = 0.5
"""Other feeders' feed factors moved by less than this part of it."""


def fits_scale(torque_step: Floats, pressure_step: Floats, as_scale: Floats) -> Bools:
    """Where torque, and pressure a third as much, moved as more or less of the same ingredient moves them.

    as_scale: ln torque to expect if the scale lies by what the feed factor stepped.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = torque_step / np.where(as_scale == 0, np.nan, as_scale)
        return (ratio >= 0.4) & (ratio <= 2.5) & ~(np.abs(pressure_step) > 0.6 * np.abs(torque_step) + 0.02)


@dataclass(frozen=True)
class WrongMaterial(FeederRule):
    """After a refill one feeder's feed factor steps, and torque or pressure steps 1 to 3 residence times later.

    An operator would say: "somebody put the wrong bag in". All shares are perfect: a feeder weighs what it is given. 2
    min means: the feed factor 6 % away from what it was before the refill and from its usual value at this fill, on
    this feeder alone; torque or pressure 3 % (and 3 times their scatter) away from what they were before the refill and
    while the feed factor was still within half of that of where it had been; all within 20 min of the refill, all
    feeders within 3 % of set, its own set-point moved by less than 3 %. Common practice, no source. Look-alikes: a new
    lot with a small shift (smaller: feed_factor_moved notes it), a scale disturbed by the refill (torque moves as more
    or less of the same would move it: left to scale_wrong, which says both), flushing (rate off set), a screen or die
    that lets more or less through (pressure moves, torque hardly), a feeder that had failed before the refill, what
    fails by chance after it (load moves before the feed factor), a set-point that moves (the drive goes ahead of the
    rate), a feed factor that moves without a refill, a process change (not steady, or all feeders). Missing readings
    neither start nor end it, nor does the next refill. Memory: two minutes of running totals and the values before the
    last refill, a feeder.
    """

    factor_moved: float = setting(0.06, 0.02, 0.5, "in ln feed factor")
    load_moved: float = setting(0.03, 0.01, 0.5, "in ln torque or ln pressure")
    after_refill_s: float = setting(1200, 120, 7200, "s")
    on_s: float = setting(60, 10, 3600, "s")
    off_s: float = setting(300, 10, 7200, "s")

    name: ClassVar[str] = "wrong_material"
    family: ClassVar[Family] = "composition"
    title: ClassVar[str] = "another material came with a refill"
    charted: ClassVar[str] = "feed_factor"
    blind_s: ClassVar[float] = feeder_signals.UNTIL_KNOWN_AGAIN_S
    needs: ClassVar[tuple[str, ...]] = (
        "feeder_rate", "feeder_drive", "feeder_refill|feeder_weight",
        "torque|motor_current|drive_power|melt_pressure",
    )  # fmt: skip
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power", "melt_pressure", "feeder_weight")
    quantities: ClassVar[tuple[str, ...]] = ("feed_factor", "usual_feed_factor", "refilling", "net_torque")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with rate, drive and a sign of refills, where load or pressure of the line is logged."""
        if not any(ctx.has(role) for role in self.needs[3].split("|")):
            return ()
        return feeder_signals.feeders_with(ctx, self.needs[:3])

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count, width = len(subjects), ctx.cells(MEAN_S)
        return {
            "factor": window_start(count, width),
            "machine": window_start(2, width),
            "rate": window_start(count, width),
            "last": np.full((4, count), np.nan),
            "before": np.full((4, count), np.nan),
            "base": np.full((2, count), np.nan),
            "asked": blank(count, ctx.cells(FOLLOWS_S) - 1),
            "held": np.zeros(count, np.int64),
            "failed": blank(1, ctx.cells(FAILED_S) - 1),
            "busy": np.zeros(count, bool),
            "others": np.full(count * count, np.nan),
            "since": np.full(count, 10**6, np.int64),
            "on": np.zeros(count, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        drive = view.rows("feeder_drive", subjects)
        used, busy = feeder_signals.in_use(view, wanted), feeder_signals.refilling(view, subjects)
        factor, usual = (feeder_signals.rows_of(view, name, subjects) for name in ("feed_factor", "usual_feed_factor"))
        width, least = ctx.cells(MEAN_S), ctx.cells(MEAN_S / 3)
        torque, torque_scatter, pressure, pressure_scatter = feeder_signals.machine(view, ctx)
        after: State = {}
        with np.errstate(invalid="ignore", divide="ignore"):
            cells = np.where(used & (usual > 0) & (factor > 0), np.log(factor / usual), np.nan)
            off_rate = np.where(used & ~busy, np.abs(rate / wanted - 1), np.nan)
        moved, after["factor"] = window_mean(state["factor"], cells, width, least)
        off_set, after["rate"] = window_mean(state["rate"], off_rate, width, least)
        both, after["machine"] = window_mean(state["machine"], np.array([torque, pressure]), width, least)
        worst = np.fmax.reduce(np.where(used, off_set, 0.0), axis=0, initial=0.0)
        lately_off, after["failed"] = trailing_greatest(state["failed"], worst[None, :])
        now = [moved, *(np.array(feeder_signals.by_cell(row, subjects)) for row in (*both, lately_off[0]))]
        began = busy & ~np.concatenate((state["busy"][:, None], busy), axis=1)[:, :-1]
        before, after["last"], after["before"] = self._before(state, now, began)
        step = now[0] - before[0]
        with np.errstate(invalid="ignore"):
            still = np.abs(step) < 0.5 * self.factor_moved
        bases, after["base"] = self._base(state, now[1:3], before[1:3], still, began)
        torque_step, pressure_step = (value - base for value, base in zip(now[1:3], bases, strict=True))
        least_asked, most_asked, after["asked"] = trailing_extremes(state["asked"], wanted)
        steady, after["others"] = self._alone(state, moved, step, began)
        since, after["since"] = run_length(state["since"], ~busy)
        after["busy"] = np.concatenate((state["busy"][:, None], busy), axis=1)[:, -1].copy()
        with np.errstate(invalid="ignore"):
            loads = (np.abs(torque_step) >= np.fmax(self.load_moved, 3 * torque_scatter)) | (
                np.abs(pressure_step) >= np.fmax(self.load_moved, 3 * pressure_scatter)
            )
            stepped = np.fmin(np.abs(step), np.abs(moved)) >= self.factor_moved
            # What comes back after a feeder that had failed is no news of what was filled.
            perfect = (worst <= ON_SET_SHARE) & ~(before[3] > FAILED_SHARE)
            way_out = np.abs(pressure_step) > np.abs(torque_step) / LEAST_TORQUE_PER_PRESSURE + NOISE_LN
            lately = since <= ctx.cells(self.after_refill_s)
            total = view.quantity("total_setpoint")
            fed = wanted / np.where(total > 0, total, np.nan)
            as_scale = -feeder_signals.torque_effects(subjects, ctx) * fed * step
            lies = fits_scale(torque_step, pressure_step, as_scale) & (np.abs(as_scale) >= SEEN_BY_SCALE)
            lies &= ctx.starve_fed
            asked = most_asked < np.exp(0.5 * self.factor_moved) * least_asked
            # A feeder whose hopper bridges, or whose rate is a copy, needs more drive than any material makes it.
            delivers = ~(moved <= -MOST_FACTOR_DOWN) & ~(drive >= AT_FULL_DRIVE_PCT)
            rises = used & asked & stepped & loads & perfect & steady & lately & delivers & ~lies & ~way_out
            falls = ~used | (np.abs(moved) < 0.5 * self.factor_moved) | ~delivers
        # On its way down a pressure passes what a melt could have done.
        held, after["held"] = run_length(state["held"], rises)
        rises = held >= ctx.cells(HELD_S)
        on, after["on"] = two_threshold(state["on"], rises, falls & ~rises)
        facts = {
            "step": step,
            "moved": moved,
            "torque": np.where(np.isfinite(torque_step), torque_step, now[1]),
            "pressure": np.where(np.isfinite(pressure_step), pressure_step, now[2]),
            "factor": usual * np.exp(moved),
            "usual": usual,
            "since_refill_s": since * ctx.step_s,
            "residence_s": feeder_signals.residence_s(view),
            "as_scale": as_scale,
        }
        return after, Judged(rule(on, np.isfinite(moved), used), np.abs(moved), facts)

    @staticmethod
    def _before(state: State, now: list[Floats], began: Bools) -> tuple[list[Floats], Floats, Floats]:
        """What each was in the cell before the last refill began; newest known values and those, for the next call."""
        out, last, kept = [], [], []
        for number, value in enumerate(now):
            filled, newest = last_known(state["last"][number], value)
            ahead = np.concatenate((state["last"][number][:, None], filled), axis=1)[:, :-1]
            held, held_last = last_known(state["before"][number], np.where(began, ahead, np.nan))
            out.append(held)
            last.append(newest)
            kept.append(held_last)
        return out, np.array(last).reshape(len(now), -1), np.array(kept).reshape(len(now), -1)

    @staticmethod
    def _base(
        state: State, loads: list[Floats], before: list[Floats], still: Bools, began: Bools
    ) -> tuple[list[Floats], Floats]:
        """Load and pressure while the feed factor still was where it had been, since the refill; state for the next
        call. What has moved before it is of another making.
        """
        out, kept = [], []
        for number, (value, old) in enumerate(zip(loads, before, strict=True)):
            own = np.where(still, value, np.nan)
            base, last = last_known(state["base"][number], np.where(began & ~np.isfinite(own), old, own))
            out.append(base)
            kept.append(last)
        return out, np.array(kept).reshape(2, -1)

    @staticmethod
    def _alone(state: State, moved: Floats, step: Floats, began: Bools) -> tuple[Bools, Floats]:
        """Where no other feeder moved half as far since this one's refill, [subject, n]; state for the next call."""
        count, n = moved.shape
        ahead = np.concatenate((state["last"][0][:, None], last_known(state["last"][0], moved)[0]), axis=1)[:, :-1]
        marks = np.where(np.repeat(began, count, axis=0), np.tile(ahead, (count, 1)), np.nan)
        then, after = last_known(state["others"], marks)
        change = np.abs(moved[None, :, :] - then.reshape(count, count, n))
        with np.errstate(invalid="ignore"):
            strays = change > STEADY_OTHERS * np.abs(step)[:, None, :]
        strays[np.arange(count), np.arange(count)] = False
        return np.asarray(~strays.any(axis=1)), after

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What stepped, and whether a disturbed scale would fit as well."""
        name, step = feeder_signals.label(subject, ctx), 100 * np.expm1(facts["step"])
        seen = [f"feed factor stepped by {step:+.0f} % after a refill", "all shares as wanted"]
        both = np.array([facts["torque"]]), np.array([facts["pressure"]]), np.array([facts["as_scale"]])
        fits = bool(fits_scale(*both)[0])
        scale = Cause(
            "scale disturbed by the refill: slide passing, hopper hung up",
            ("torque moved as more or less of this ingredient would move it",) if fits else (),
            () if fits else ("torque did not move as more or less of it would",),
            ("scale_wrong",),
        )
        lot = Cause("another lot of the same material, of other bulk density and viscosity", (seen[0],))
        return Explanation(
            f"{name}: another material seems to have come with the refill",
            2,
            "medium",
            (
                Evidence("feed factor", facts["factor"], "kg/h/%", facts["usual"], None, self.channel(subject)),
                *feeder_signals.machine_evidence(facts, ctx),
                Evidence("time since the refill", facts["since_refill_s"] / 60, "min"),
            ),
            (Cause("wrong material in this hopper", tuple(seen)), scale, lot) if fits else
            (Cause("wrong material in this hopper", tuple(seen)), lot, scale),
            ("what was filled: bag, silo, label, sample from the hopper", "catch sample", "product since the refill"),
        )  # fmt: skip
