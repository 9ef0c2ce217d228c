"""A feeder's scale is wrong: its drive moved against a flat rate, and the machine moved with the drive."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import one_side
from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import run_length, two_threshold
from monitor.levels import rule
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

MEAN_S = 180.0
ON_SET_SHARE = 0.03
JUST_REFILLED_S = 900.0

LEAST_ROOM = 0.02
"""ln torque that it may have moved more than so much of an ingredient moves it, for what is expected is not known
better; not more than as much again as that. Common practice, no source."""

UNFOLLOWED_S = 600.0
"""A drive that has stood elsewhere for so long while torque has not moved with it: as much is fed as before."""


@dataclass(frozen=True)
class ScaleWrong(FeederRule):
    """The reported rate is on set and the weight agrees, and both are wrong: they come from the same load cell.

    An operator would say: "the scale lies". A scale that shows too little of the loss (span, hung-up hopper, a refill
    slide passing material) makes the controller turn faster: more is fed than shown. So: rate within 3 % of set, the
    drive 6 % and more away from where it usually is at this fill, on this feeder alone, and net torque moved the way
    that much more or less of this ingredient moves it (`effect_on_torque` of the line file), by 0.4 to 2.5 of its
    share of the feed, 2.5 % at least. Pressure must not go the other way. A small ingredient can't be seen so, nor any
    on a flood-fed line, whose screw takes what it takes whatever is fed into its hopper.
    Look-alikes: lower bulk density (drive moves, torque stays: feed_factor_moved; what torque does ten minutes later is
    another matter), another material (torque may
    move either way; both are said where it came with a refill), a bridged feeder (rate not on set), a rate or speed
    change (not steady). Sure only after a catch sample: hence medium confidence.
    Missing readings neither start nor end it. Memory: three minutes of running totals. Common practice, no source.
    """

    drive_moved: float = setting(0.06, 0.02, 0.5, "in ln drive speed at the same rate")
    torque_moved: float = setting(0.025, 0.01, 0.3, "in ln net torque")
    on_s: float = setting(120, 30, 3600, "s")
    off_s: float = setting(300, 30, 3600, "s")

    name: ClassVar[str] = "scale_wrong"
    title: ClassVar[str] = "feeder scale wrong"
    charted: ClassVar[str] = "feed_factor"
    blind_s: ClassVar[float] = feeder_signals.UNTIL_KNOWN_AGAIN_S
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_drive", "torque|motor_current|drive_power")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_setpoint", "feeder_weight", "melt_pressure", "feeder_refill")
    quantities: ClassVar[tuple[str, ...]] = ("feed_factor", "usual_feed_factor", "net_torque", "total_setpoint")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders whose ingredient moves torque, where the load of the line is logged and goes with what is fed."""
        if not ctx.starve_fed or not any(ctx.has(role) for role in ("torque", "motor_current", "drive_power")):
            return ()
        return feeder_signals.moving_torque(feeder_signals.feeders_with(ctx, ("feeder_rate", "feeder_drive")), ctx)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count, width = len(subjects), ctx.cells(MEAN_S)
        return {
            "faster": window_start(count, width),
            "rate": window_start(count, width),
            "machine": window_start(2, width),
            "on": np.zeros(count, bool),
            "stays": np.zeros(count, np.int64),
            "density": np.zeros(count, bool),
            "side": one_side.start(count),
            "since_refill": np.full(count, 10**6, np.int64),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        factor = feeder_signals.rows_of(view, "feed_factor", subjects)
        usual = feeder_signals.rows_of(view, "usual_feed_factor", subjects)
        used, busy = feeder_signals.in_use(view, wanted), feeder_signals.refilling(view, subjects)
        width, least = ctx.cells(MEAN_S), ctx.cells(MEAN_S / 2)
        with np.errstate(invalid="ignore", divide="ignore"):
            cells = np.where(used & (usual > 0) & (factor > 0), np.log(usual / factor), np.nan)
            off_rate = np.where(used & ~busy, rate / wanted - 1, np.nan)
            share = wanted / view.quantity("total_setpoint")
        faster, faster_state = window_mean(state["faster"], cells, width, least)
        off_set, rate_state = window_mean(state["rate"], off_rate, width, least)
        torque, torque_scatter, pressure, _ = feeder_signals.machine(view, ctx)
        both, machine_state = window_mean(state["machine"], np.array([torque, pressure]), width, least)
        expected = feeder_signals.torque_effects(subjects, ctx) * share * faster
        with np.errstate(invalid="ignore"):
            way = np.sign(expected)
            moved = way * both[0]
            least_move = np.fmax(np.fmax(0.4 * np.abs(expected), self.torque_moved), 2 * torque_scatter)
            most_move = 2.5 * np.abs(expected) + np.fmin(LEAST_ROOM, np.abs(expected))
            follows = (moved >= least_move) & (moved <= most_move) & ~(way * both[1] < -0.01)
            alone = self._alone(np.abs(faster))
            on_set = np.abs(off_set) <= ON_SET_SHARE
            far = np.abs(faster) >= self.drive_moved
            stays, stays_after = run_length(state["stays"], far & on_set & (moved < least_move))
            density, density_after = two_threshold(
                state["density"],
                stays * ctx.step_s >= UNFOLLOWED_S,
                np.abs(faster) < 0.5 * self.drive_moved,
            )
            rises = used & far & on_set & follows & alone & ~density
            falls = ~used | (np.abs(faster) < 0.5 * self.drive_moved) | (moved < -0.01)
        on, on_state = two_threshold(state["on"], rises, falls & ~rises)
        level, side = one_side.one_side(
            state["side"], rule(on, np.isfinite(faster) & np.isfinite(both[0]), used), faster, ctx.cells(self.off_s)
        )
        since, since_state = run_length(state["since_refill"], ~busy)
        facts = {
            "faster": faster,
            "torque": feeder_signals.by_cell(both[0], subjects),
            "pressure": feeder_signals.by_cell(both[1], subjects),
            "expected": expected,
            "rate": rate,
            "wanted": wanted,
            "drive": view.rows("feeder_drive", subjects),
            "weight": view.rows("feeder_weight", subjects),
            "since_refill_s": since * ctx.step_s,
        }
        after = {
            "faster": faster_state,
            "rate": rate_state,
            "machine": machine_state,
            "on": on_state,
            "stays": stays_after,
            "density": density_after,
            "side": side,
            "since_refill": since_state,
        }
        return after, Judged(level, np.abs(faster), facts)

    @staticmethod
    def _alone(away: np.ndarray) -> np.ndarray:
        """Where a feeder moved at least twice as far as every other one, [subject, n]."""
        known = np.nan_to_num(away)
        out = np.ones(away.shape, bool)
        for row, own in enumerate(known):
            others = np.delete(known, row, axis=0)
            out[row] = (own >= 2 * others).all(axis=0)
        return out

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What it shows, what it seems to feed."""
        name, true = feeder_signals.label(subject, ctx), facts["rate"] * np.exp(facts["faster"])
        over = facts["faster"] > 0
        refilled = ("it came with a refill",) if facts["since_refill_s"] < JUST_REFILLED_S else ()
        torque = f"torque moved by {100 * np.expm1(facts['torque']):+.0f} %, as that much of this ingredient moves it"
        agrees = ("weight and rate agree: they come from one load cell",) if facts["weight"] == facts["weight"] else ()
        causes = (
            Cause(
                "hopper hung up or supported, refill slide passing"
                if over
                else "something hangs on or pulls the scale",
                (torque, *agrees, *refilled),
                (),
                ("refill_valve_leaking",) if over else (),
            ),
            Cause("span of the load cell wrong", (torque, *agrees), refilled),
            Cause(
                "another material of other bulk density in the hopper",
                refilled,
                () if refilled else ("no refill came before",),
                ("wrong_material",),
            ),
        )
        return Explanation(
            f"{name} shows {facts['rate']:.1f} kg/h, seems to feed about {about(true)}: "
            "scale wrong, or another material",
            2,
            "medium",
            (
                Evidence(
                    "feeder drive",
                    facts["drive"],
                    "%",
                    facts["drive"] * np.exp(-facts["faster"]),
                    None,
                    f"feeder_drive:{subject}",
                ),
                *feeder_signals.machine_evidence(facts, ctx),
                Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, f"feeder_rate:{subject}"),
            ),
            causes,
            (
                "catch sample against the rate shown",
                "scale free: hoses, covers, nothing leaning, refill slide shut",
                "kilograms fed against kilograms packed",
            ),
        )


def about(rate: float) -> str:
    """Two figures of a rate, whole numbers from 10 on: 1.3 beside the 1.2 that is shown, and not 1."""
    return f"{rate:.0f}" if rate >= 10 else f"{rate:.2g}"
