"""A feeder that should deliver does not: bridged or empty with its drive turning, or tripped with it still."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from monitor import cautions, recent_level
from monitor.conditions import feeder_signals, more_than_shown
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    trailing_greatest,
    trailing_mean,
    two_threshold,
    with_past,
)
from monitor.levels import rule
from monitor.quantities.feed_off import COPIED
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

EMPTY_SHARE, HOPPER_KG = 0.03, 50.0
"""A hopper with less than this part of its size in it is empty; the size where the line file does not say."""

MUCH_SHARE, MUCH_CELLS, WINDS_UP_S = 1.2, 3, 60.0
"""A feeder that brought so much, mean of so many cells, has a drive turned down to its least: until that is up again it
brings little, and nothing bridges. Common practice, no source."""

EBBS, EBBS_S, OFF_FOR_S = 0.85, 30.0, 60.0
"""Feeders that have all lost so much within half a minute, or half of what is wanted, are switched off before a stop:
their filtered rates die away each at its own pace, and the screw stands within a minute. Common practice, no source."""

CLIMBING = 1.05
"""A drive faster than usual by more than this is on its way up, though not yet where a bridge drives it. Common
practice, no source."""

AS_USUAL = 0.8
"""A bridge or an empty hopper takes more of what a turn delivers than this leaves; common practice, no source."""


WELL_CELLS, BEGUN_CELLS = 2, 6
"""Cells in a row that show a feeder well again: the mean of one alone may
hold the first seconds of such a copy. What has been low for fewer than the last is over with one."""

LEANS_FOR_S, CONTRADICTS, TELLS_LN = 60.0, 0.3, 0.1
"""A hand or a knee on a hopper for so long at the most. Screws that get so much less (ln of all that is fed) show it
within 3 to 10 s: where the load has not moved by this part of it the scale is leaned on. Common practice, no source."""


@dataclass(frozen=True)
class FeederBridged:
    """A feeder's rate falls away while its drive turns: bridged, rat-holing or run empty.

    An operator would say: "the feeder is bridged". Reported rate under 60 % of set for 20 s outside refills, drive not
    stopped. The drive climbing to its limit and a weight standing still make it sure; where neither is logged (plain
    channel set) bridged, empty and tripped cannot be told apart and all three are said. Look-alikes: turned slower (as
    much a turn as usual: said as off its set-point), a minute of undershoot after it brought too much, somebody leaning
    on a hopper (a feeder whose loss the load would show, and the load stands, or could not show, and nothing but its
    rate is logged: waited for a minute), trip (drive still), refill (excluded, with 30 s after), set-point zero (not
    judged), all feeders falling together (switched off before a stop, at once or each at the pace of its filter: not
    begun), volumetric fallback (rate reads on set: see feeder_weight_still). Missing readings neither start nor end it.
    Memory: a switch and 3 cells a feeder, 2 min of load. Common practice, no source.
    """

    low_share: float = setting(0.6, 0.2, 0.9, "of the set rate")
    off_share: float = setting(0.8, 0.3, 1.0, "of the set rate, to clear")
    still_drive_pct: float = setting(3, 0, 20, "% drive that counts as still")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    drive_still: ClassVar[bool] = False
    name: ClassVar[str] = "feeder_bridged"
    family: ClassVar[Family] = "feeder"
    title: ClassVar[str] = "feeder delivers far less, drive turning"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_drive", "feeder_weight", "feeder_setpoint")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "total_setpoint")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate in a known unit."""
        return feeder_signals.usable_feeders(ctx)

    def channel(self, subject: str) -> str:
        """The rate."""
        return f"feeder_rate:{subject}"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two cells in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Delivering."""
        count = len(subjects)
        return {
            "on": np.zeros(count, bool),
            "drive": blank(count, ctx.cells(120)),
            "rate": blank(count, MUCH_CELLS - 1),
            "since_much": np.full(count, 10**6, np.int64),
            "asked": feeder_signals.asked_start(subjects),
            "well": np.zeros((3, count), np.int64),
            "load": recent_level.start(1, ctx.cells(60), ctx.cells(LEANS_FOR_S + 20)),
            "leans": np.zeros(count, np.int64),
            "lately": blank(count, ctx.cells(EBBS_S)),
            "ebbed": blank(1, ctx.cells(OFF_FOR_S) - 1),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        drive, weight = view.rows("feeder_drive", subjects), view.rows("feeder_weight", subjects)
        busy = feeder_signals.refilling(view, subjects)
        kept_ebb, ebbed = self._ebb_together(state, rate, wanted)
        going_off = feeder_signals.falling_together(view, ctx)
        anew, asked = feeder_signals.asked_anew(state["asked"], wanted, ctx)
        used = feeder_signals.in_use(view, wanted) & ~busy & ~going_off & ~anew
        usual_drive, drive_past = trailing_mean(state["drive"], drive)
        rises, falls, well = self._switches(state["well"], rate, wanted, drive)
        lately, rate_past = trailing_mean(state["rate"], np.where(busy, np.nan, rate), MUCH_CELLS)
        with np.errstate(invalid="ignore"):
            since_much, since_much_after = run_length(state["since_much"], ~(lately >= MUCH_SHARE * wanted))
        kept_load, leans = self._load_stands(state, rate, wanted, view, subjects, ctx)
        if not self.drive_still:
            rises &= ~leans
            rises &= ~self._as_much_a_turn(rate, drive, view, subjects)
            rises &= since_much * ctx.step_s > WINDS_UP_S
        on, on_state = two_threshold(state["on"], rises & used & ~ebbed, falls | ~(wanted > 0) | going_off)
        # What had failed before the line goes to another rate or speed has not come back by that.
        goes_on = on & (wanted > 0) & view.in_phase("changing", "settling")
        level = rule(on, np.isfinite(rate), feeder_signals.in_use(view, wanted) | goes_on)
        level[(level == 1) & (rate < 0.3 * wanted)] = 2
        facts = {
            "rate": rate,
            "wanted": wanted,
            "drive": drive,
            "usual_drive": usual_drive,
            "weight": weight,
            "running": view.rows("feeder_running", subjects),
            "falls_with": feeder_signals.falls_with_neighbours(rate, wanted, subjects, ctx, self.off_share),
            **more_than_shown.facts(wanted, view, subjects, ctx),
        }
        after = {"on": on_state, "drive": drive_past, "rate": rate_past, "since_much": since_much_after, "asked": asked}
        after["well"] = well
        after |= kept_load | kept_ebb
        with np.errstate(divide="ignore", invalid="ignore"):
            return after, Judged(level, 1 - rate / wanted, facts)

    @staticmethod
    def _ebb_together(state: State, rate: Floats, wanted: Floats) -> tuple[State, Bools]:
        """Cells, [n], in which all feeders, two at least, have lost their rate at once, or had within a minute."""
        joined, lately = with_past(state["lately"], rate)
        with np.errstate(invalid="ignore"):
            used = (wanted > 0) & np.isfinite(rate)
            ebbs = (rate < EBBS * joined[:, : rate.shape[1]]) | (rate < 0.5 * wanted)
        all_ebb = (ebbs | ~used).all(axis=0) & (np.count_nonzero(used, axis=0) > 1)
        before, ebbed = trailing_greatest(state["ebbed"], all_ebb[None, :].astype(float))
        return {"lately": lately, "ebbed": ebbed}, before[0] > 0

    def _load_stands(
        self, state: State, rate: Floats, wanted: Floats, view: CoarseView, subjects: tuple[str, ...], ctx: Context
    ) -> tuple[State, Bools]:
        """Feeders that read low for less than a minute while the load shows nothing of what that would take, or could
        not and nothing but their rate is logged."""
        torque = view.quantity("net_torque")
        with np.errstate(invalid="ignore", divide="ignore"):
            load = np.log(np.where(torque > 0, torque, np.nan))
            lost = wanted / view.quantity("total_setpoint") * (1 - rate / wanted)
            expected = -np.log1p(-np.clip(lost, 0.0, 0.98)) * (feeder_signals.torque_effects(subjects, ctx) > 0)
        load_state, before = recent_level.advance(state["load"], load[None, :])
        with np.errstate(invalid="ignore"):
            stands = (expected >= TELLS_LN) & (before - load < CONTRADICTS * expected)
            others = [view.rows(role, subjects) for role in ("feeder_drive", "feeder_weight", "feeder_running")]
            rate_only = np.isnan(others).all(axis=0) & (rate < self.low_share * wanted)
            stands |= (expected < TELLS_LN) & rate_only
        length, leans = run_length(state["leans"], stands)
        return {"load": load_state, "leans": leans}, stands & (length * ctx.step_s <= LEANS_FOR_S)

    @staticmethod
    def _as_much_a_turn(rate: Floats, drive: Floats, view: CoarseView, subjects: tuple[str, ...]) -> Bools:
        """Feeders that deliver as much a turn as usual: something turns them slower, nothing bridges."""
        usual = np.array([view.expectation(f"feed_factor:{name}")[0] for name in subjects]).reshape(drive.shape)
        with np.errstate(divide="ignore", invalid="ignore"):
            return rate / drive >= AS_USUAL * usual

    def _switches(
        self, before: NDArray[np.int64], rate: Floats, wanted: Floats, drive: Floats
    ) -> tuple[Bools, Bools, NDArray[np.int64]]:
        """Cells in which it delivers too little, and is well again; and for how long it has been. A rate held on its
        set-point to the digit, as in a refill that nothing marks, is no measurement."""
        with np.errstate(invalid="ignore"):
            still = drive <= self.still_drive_pct
            low, well = rate < self.low_share * wanted, rate >= self.off_share * wanted
            held = np.abs(rate - wanted) <= COPIED * np.abs(wanted)
        well_for, after = run_length(before[0], well & ~held)
        low_for, low_after = run_length(before[1], low)
        lasted, lasted_after = last_known(before[2].astype(float), np.where(low_for > 0, low_for, np.nan))
        # One cell ends what has hardly begun.
        well &= (well_for >= WELL_CELLS) | (lasted < BEGUN_CELLS)
        after = np.array([after, low_after, lasted_after.astype(np.int64)])
        rises, falls = (low & still, well | ~still) if self.drive_still else (low & ~still, well | still)
        return rises, falls, after

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What it delivers, what its drive and weight do, what it means for the product."""
        name = feeder_signals.label(subject, ctx)
        feeder = ctx.line.feeder_named(subject)
        drive, weight = facts["drive"], facts["weight"]
        known = drive == drive
        climbs = drive >= 0.9 * feeder.drive_limit_pct or drive > 1.25 * facts["usual_drive"]
        empty = weight < EMPTY_SHARE * (feeder.hopper_kg or HOPPER_KG)
        liquid = feeder.kind == "liquid"
        off = facts["running"] < 0.5
        more = not self.drive_still and more_than_shown.told_by(subject, facts, ctx)
        fast = (f"its controller drives it to {drive:.0f} %",) if climbs else ()
        words = (
            "shows little while the load is up"
            if more
            else "switched off"
            if off
            else "tripped"
            if self.drive_still
            else "empty"
            if empty
            else "delivers little"
            if liquid or not climbs
            else "bridged"
        )
        return Explanation(
            f"{name} {words}: {facts['rate']:.1f} of {facts['wanted']:.1f} kg/h",
            2,
            "high" if known else "medium",
            self._evidence(subject, name, facts),
            more_than_shown.causes(facts, fast) if more else self._causes(subject, facts, climbs, empty, ctx),
            (
                *(
                    ("tank, suction line, pump, nozzle",)
                    if liquid
                    else ("hopper: empty, bridged, outlet closed", "refill valve and silo")
                ),
                "drive: trip, coupling, local switch",
                feeder_signals.what_losing_it_does(subject, ctx),
            ),
            cautions.MOVING,
            more_than_shown.moved(facts) if more else self._moved(feeder.effect_on_torque, facts),
        )

    @staticmethod
    def _moved(effect: str, facts: dict[str, float]) -> dict[str, float]:
        """How far the whole feed fell, ln: it bounds what follows from it. Of an oil, torque goes the other way."""
        lost = facts["share"] / 100 * (1 - facts["rate"] / facts["wanted"])
        return {"rate": float(np.log(1 - lost))} if effect == "raises" and 0 <= lost < 0.98 else {}

    def _causes(
        self, subject: str, facts: dict[str, float], climbs: bool, empty: bool, ctx: Context
    ) -> tuple[Cause, ...]:
        """Ranked by what drive and weight say; where they do not tell two apart, both stand without a word against."""
        drive, weight = facts["drive"], facts["weight"]
        known, weighed = drive == drive, weight == weight
        if self.drive_still:
            off = ("its running mark is off",) if facts["running"] < 0.5 else ()
            stands = (
                (f"drive at {drive:.0f} %", f"{weight:.1f} kg in its hopper")
                if weighed
                else (f"drive at {drive:.0f} %",)
            )
            return (
                Cause("drive tripped or switched off", (*off, *stands)),
                Cause("interlock", off),
                Cause("motor or coupling", (), off),
            )
        left = (f"{weight:.1f} kg still in its hopper",) if weighed and not empty else ()
        gone = (f"only {weight:.1f} kg in its hopper",) if empty else ()
        fast = (f"drive climbed to {drive:.0f} %",) if known and climbs else ()
        turns = drive > CLIMBING * facts["usual_drive"] and not climbs
        slow = (f"drive at {drive:.0f} % has not climbed",) if known and not climbs and not turns else ()
        run_empty = Cause(
            "run empty: refill not answered", (*gone, *fast), left, ("refill_not_answered", "hopper_running_empty")
        )
        if ctx.line.feeder_named(subject).kind == "liquid":
            return (
                Cause("tank empty: pump has lost its prime", gone, left, ("liquid_prime_lost",)),
                Cause("nozzle or line plugged", (), (), ("liquid_nozzle_plugged",)),
                Cause("pump worn, tripped or decoupled"),
            )
        bridged = Cause("bridged", (*left, *fast), (*gone, *slow))
        shared = feeder_signals.shared_chute_cause(facts["falls_with"])
        if not known:
            trip = Cause("drive tripped: its speed is not logged")
            return (run_empty, bridged, trip) if empty else (*shared, bridged, run_empty, trip)
        if empty:
            return (run_empty, Cause("silo or refill valve", gone), bridged)
        if turns:
            faster = f"its drive is on its way up, {drive:.0f} % where it usually takes {facts['usual_drive']:.0f}"
            return (Cause("bridged", (*left, faster)), run_empty, Cause("coupling broken", (faster,)))
        if climbs:
            rat = Cause("rat-holing: only the middle of the hopper flowed", left, (), ())
            return (*shared, bridged, rat, run_empty, Cause("feed screw or coupling broken", fast))
        return (
            Cause("volumetric mode at a low speed", slow, (), ("volumetric_too_long",)),
            bridged,
            Cause("coupling broken", slow),
        )

    def _evidence(self, subject: str, name: str, facts: dict[str, float]) -> tuple[Evidence, ...]:
        out = [Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, self.channel(subject))]
        if facts["drive"] == facts["drive"]:
            usual = facts["usual_drive"]
            expected = None if np.isnan(usual) else usual
            out.append(Evidence("feeder drive", facts["drive"], "%", expected, None, f"feeder_drive:{subject}"))
        if facts["weight"] == facts["weight"]:
            out.append(Evidence("weight in its hopper", facts["weight"], "kg", None, None, f"feeder_weight:{subject}"))
        if facts["share"] == facts["share"]:
            out.append(Evidence("share it should have", facts["share"], "%"))
        return tuple(out)


@dataclass(frozen=True)
class FeederTripped(FeederBridged):
    """A feeder's rate is gone and its drive stands still while it is told to deliver.

    An operator would say: "the feeder has tripped". As for a bridged feeder, with the drive at or below
    `still_drive_pct`; armed only where the drive is logged.
    """

    drive_still: ClassVar[bool] = True
    name: ClassVar[str] = "feeder_tripped"
    title: ClassVar[str] = "feeder stopped while told to deliver"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_drive")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_drive", "feeder_weight")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate and a drive."""
        driven = ctx.subjects_of("feeder_drive")
        return tuple(name for name in feeder_signals.usable_feeders(ctx) if name in driven)
