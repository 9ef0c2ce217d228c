"""Less is in the screws than should be."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions, onset, recent_level
from monitor.conditions import feeder_signals, intake_or_path, pressure_alone, starved_words
from monitor.conditions.load_evidence import load_evidence, load_facts, moved
from monitor.conditions.machine_load import Load, gross_torque_pct, load, with_carried
from monitor.contract import UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    trailing_extremes,
    trailing_greatest,
    trailing_mean,
    two_threshold,
    with_past,
)
from monitor.levels import rule
from monitor.phases import RUNNING
from monitor.records import Family
from monitor.view import CoarseView

FEED_SAYS, MACHINE_SAYS, FLOOD_FED, PRESSURE_SAYS = 1.0, 2.0, 3.0, 4.0
"""How it was recognised: the feeders say so; all feeders on set and the machine runs empty; flood-fed screw; nothing
but pressures is logged."""

SPEED_SHARE = 0.05
"""A screw that turns faster or slower than it did by more than this is judged anew, not called empty."""

AT_LIMIT_SHARE = 0.9
"""A screw whose torque is this near its limit is not empty, whatever the feeders say."""

SWITCHED_OFF_SHARE, DRIVE_STANDS_PCT = 0.05, 2.0
"""Feed below this share of what is wanted, drives below this: the feeders were switched off, as before a stop."""

STARTS_FOR_S = 600.0
"""Feeders that have not yet been on set since the start are being switched on one after the other."""

UNSTEADY_SIGMAS = 8.0
"""Range of the pressure over a minute in its usual scatter, above which it counts as unsteady (flood-fed)."""

FEED_SIGNALS = ("feeder_rate", "line_rate", "feeder_weight", "feeder_drive", "feeder_running")
NO_LOAD_LN = np.log(0.15)
"""So little of the load left where nothing is logged of the feed: run out, or switched off before a stop."""

LED_S, LED_WITHIN_S, NEIGHBOURS_SHORT = 120.0, 1800.0, 0.97
"""A load that was down for so long while every feeder was on set, so lately, has not followed the feeders: where all
over one chute then lose rate, to this share and below, they stand in their own material. Common practice, no source."""

STILL_FALLING_LN, FALLING_CELLS = 0.05, 3
"""A load that falls by this in 30 s has not levelled off; what is left when the hopper is shut goes on falling."""

STEP_FACTOR = 1.5
"""Within two minutes so much more than what is enough against the level learned before."""

STILL_DOWN_LN = 0.02
"""A pressure above what was usual by more than this, ln, is no pressure of a screw that still runs empty."""

TOUCHED_SHARE = 0.2
"""More than this over the set rate within the last minute is a hand on a scale: it reads low when it is taken off, and
makes its feeder run slower for a moment. Common practice, no source."""


@dataclass(frozen=True)
class Starved:
    """Less is in the screws than should be.

    An operator would say: "the extruder is running empty". Never from one quantity. Starve-fed: either the feeders
    deliver less than set and torque or pressure follow; or all feeders are on set, torque falls sharply and pressure
    about a third as much (in logarithms), and the judge of intake or path (intake_or_path.py, shared with 'flooded')
    says path. Flood-fed: torque and pressure fall together and the measured rate over speed falls too; where no rate is
    measured pressure must fall less than torque, and both causes are said; half of the torque gone is enough where
    pressure is not logged either. Starve-fed where pressures are all that is logged: all of them step down together
    within two minutes, as less feed or a thinner melt does; both are said. Feeders over one chute that lose rate
    together after the load had gone down stand in their own material: told as by the judge. Level 2: more than 30 %
    less. Look-alikes: thin melt (pressure moves at least as much as torque), flooded intake (something came first),
    restriction (pressure up), speed raised (phase 'changing'), a limiter that trims all feeders together after torque
    was near its limit, feeders switched off together before a stop (waited for one minute), feeders not yet on set
    after a start. Missing readings neither start nor end it; after a change of rate or speed an open finding waits ten
    minutes for the answer. Memory: the judge's, two switches, 72 cells. Thresholds: common practice, no source; loss of
    feed to pressure from power-law flow, n about 0.35. Limits widen with measured scatter and where no-load or
    magnetising part are assumed.
    """

    rate_loss: float = setting(0.08, 0.02, 0.5, "of the set rate")
    torque_fall: float = setting(0.12, 0.03, 0.7, "in ln torque, feeders on set")
    intake_fall: float = setting(0.05, 0.02, 0.5, "in ln torque with a cause of flooding seen; as in flooded")
    confirming_torque_fall: float = setting(0.04, 0.01, 0.5, "in ln torque, feeders off set")
    pressure_fall: float = setting(0.02, 0.0, 0.5, "in ln pressure")
    flood_fall: float = setting(0.08, 0.03, 0.5, "in ln torque and ln pressure, flood-fed")
    deep: float = setting(0.3, 0.1, 0.9, "less than should be, for level 2")
    sigmas: float = setting(5, 2, 20, "sigma")
    switched_off_s: float = setting(60, 10, 600, "s waited when all feeders stand together, or load is gone unseen")
    runs_empty_s: float = setting(90, 10, 600, "s waited while a flood-fed screw runs empty, as before a stop")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(180, 10, 3600, "s")

    name: ClassVar[str] = "starved"
    family: ClassVar[Family] = "starved"
    title: ClassVar[str] = "extruder running empty"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power|melt_pressure|feeder_setpoint",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "torque|motor_current|drive_power",
        "melt_pressure",
        "feeder_setpoint|line_rate|melt_pump_speed",
        "feeder_drive|hopper_level",
        "throat_temperature",
    )
    quantities: ClassVar[tuple[str, ...]] = (
        "net_torque",
        "total_feed",
        "total_setpoint",
        "specific_throughput",
        "fill",
        "pumped_per_turn",
        "moved_together",
    )

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where anything of its load, pressure or feed is logged; a pressure where nothing else is."""
        known = ("torque", "motor_current", "drive_power", "melt_pressure", "feeder_setpoint")
        return pressure_alone.sensors(ctx)[:1] or (("line",) if any(ctx.has(role) for role in known) else ())

    def channel(self, subject: str) -> str:
        """Net torque tells it first, where a load is logged."""
        return "net_torque" if subject == "line" else subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two 10 s cells in; blind for as long as the answer to a change may take."""
        return Timing(self.on_s, self.off_s, intake_or_path.UNKNOWN_FOR_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not starved."""
        return {
            "judge": intake_or_path.start(ctx),
            "on": np.zeros(1, bool),
            "gone": np.zeros(1, np.int64),
            "rests": onset.start(1),
            "off": np.zeros(1, np.int64),
            "rate": blank(1, ctx.cells(60) - 1),
            "touched": blank(1, ctx.cells(60) - 1),
            "came": np.zeros(1, bool),
            "way": np.full(1, np.nan),
            "limited": blank(1, ctx.cells(600) - 1),
            "pressure": blank(1, ctx.cells(60) - 1),
            "hopper": blank(1, ctx.cells(600) - 1),
            "sudden": blank(1, ctx.cells(120) - 1),
            "fell": blank(1, FALLING_CELLS),
            "empties": np.zeros(1, np.int64),
            "lately": recent_level.start(2, ctx.cells(180), ctx.cells(120)),
            "just": recent_level.start(2, ctx.cells(30), 0),
            "stepped": np.zeros(1, bool),
            "down": np.zeros(1, np.int64),
            "led": onset.start(1),
            "together": onset.start(1),
            "pressures": pressure_alone.start(ctx),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        found = load(view, ctx) if ctx.starve_fed else with_carried(load(view, ctx), view, ctx)
        usual_speed, _ = view.expectation("screw_speed")
        with np.errstate(invalid="ignore"):
            other_speed = np.abs(view.get("screw_speed") - usual_speed) > SPEED_SHARE * usual_speed
            faster = view.get("screw_speed") - usual_speed > SPEED_SHARE * usual_speed
        armed = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= 60.0)
        kept = dict(state)
        if ctx.starve_fed:
            kept["judge"], verdict = intake_or_path.judge(
                state["judge"], found, view, ctx, armed & ~faster, self.torque_fall, self.intake_fall
            )
        else:
            kept["judge"], verdict = intake_or_path.start(ctx), intake_or_path.nothing(view.n)
        seen = {"unsteady": np.full(view.n, np.nan), "hopper": view.get("hopper_level")}
        alone = ctx.starve_fed and subjects[0] != "line"
        if alone:
            here = armed & ~other_speed
            rises, pressure, kept["pressures"] = pressure_alone.steps_down(
                state["pressures"], view, here, self.runs_empty_s, ctx
            )
            stays, found = rises, replace(found, pressure=pressure)
        elif ctx.starve_fed:
            rises, stays = self._by_feed(state, kept, found, view, ctx)
            here = armed & ~other_speed
        else:
            seen = self._seen_of_flood_fed(state, kept, found, view)
            emptying = self._runs_empty(state, kept, found, view, ctx)
            fell, goes_on = self._steps_down(state, kept, found, armed)
            rises = (self._flood_fed(found, seen) | fell) & ~emptying
            stays = self._flood_fed(found, seen, share=0.6) | goes_on
            # A speed that a suction control moves by itself is part of the picture where the output is measured.
            here = armed & (~other_speed | np.isfinite(found.specific_rate))
        known = np.isfinite(found.torque) | np.isfinite(found.rate) | np.isfinite(found.pressure)
        odd = known & ~stays & ~rises
        gone, kept["gone"] = run_length(state["gone"], odd[None, :])
        ends = (gone >= intake_or_path.DECIDE_AFTER_CELLS) | ~here[None, :]
        on, kept["on"] = two_threshold(state["on"], (rises & here)[None, :], ends)
        on = (on[0] & ~odd) | verdict.path
        if ctx.starve_fed and not any(ctx.has(role) for role in FEED_SIGNALS):
            length, kept["empties"] = run_length(state["empties"], (found.torque <= NO_LOAD_LN)[None, :])
            on &= ~((length[0] > 0) & (length[0] < ctx.cells(self.switched_off_s)))
        level = rule(on[None, :], known[None, :], here[None, :])
        by_path = verdict.path & on
        level[0, by_path] = np.where(verdict.known[by_path], np.int8(1), np.int8(UNKNOWN))
        less = np.log(1 - self.deep)
        deep = (found.torque < less) | (found.rate < less) | (alone & (found.pressure < -pressure_alone.DEEP_LN))
        level[0, (level[0] == 1) & deep] = 2
        # What comes and goes within one episode is told as it began: feeders that lose rate later stand in their own
        # material.
        begins, kept["rests"] = onset.onsets(state["rests"], on[None, :], ctx.cells(self.off_s))
        backs_up = self._load_led(state, kept, found, view, ctx) if ctx.starve_fed else np.zeros(view.n, bool)
        usually = PRESSURE_SAYS if alone else FEED_SAYS if ctx.starve_fed else FLOOD_FED
        now = np.where(verdict.path | backs_up, MACHINE_SAYS, usually)
        way, kept["way"] = last_known(state["way"], np.where(begins[0], now, np.nan)[None, :])
        facts = {**load_facts(found, view), "way": way[0], "odds": verdict.odds, **verdict.flags, **seen}
        depth = -found.pressure if alone else np.fmax(-found.torque, -found.rate)
        score = np.where(np.isnan(depth), 0.0, depth) + np.where(verdict.path, 10 * _learned_later(verdict), 0.0)
        return kept, Judged(level, score[None, :], facts)

    def _by_feed(self, state: State, kept: State, found: Load, view: CoarseView, ctx: Context) -> tuple[Bools, Bools]:
        """The feeders say less. (rises, stays)"""
        gross = gross_torque_pct(view, ctx)
        limit = ctx.line.drive.torque_limit_pct
        peak, kept["limited"] = trailing_greatest(state["limited"], gross[None, :])
        feeders = ctx.subjects_of("feeder_drive")
        drives = view.rows("feeder_drive", feeders)
        with np.errstate(invalid="ignore"):
            at_limit = gross >= AT_LIMIT_SHARE * limit
            trimmed = found.fed_together & (peak[0] >= AT_LIMIT_SHARE * limit)
            running = (drives > DRIVE_STANDS_PCT).any(axis=0)
            nothing = found.rate <= np.log(SWITCHED_OFF_SHARE)
            dying = found.fed_together & (found.rate <= np.log(0.5))
        # Waited for, not for ever: here a line that runs below its recipe's rate for hours does no harm.
        falling = feeder_signals.falling_together(view, ctx, feeder_signals.FALLING_SHARE)
        going_off = ((nothing | dying) & ~running) | falling
        length, kept["off"] = run_length(state["off"], going_off[None, :])
        waiting = (length[0] > 0) & (length[0] < ctx.cells(self.switched_off_s))
        minute, kept["rate"] = trailing_mean(state["rate"], found.rate[None, :])
        highest, kept["touched"] = trailing_greatest(state["touched"], found.rate[None, :])
        with np.errstate(invalid="ignore"):
            touched = highest[0] >= np.log(1 + TOUCHED_SHARE)
        # Where no set-point tells it, rates that go to another level by one factor do: they are told to.
        told = view.quantity("moved_together") == 1
        not_starved = at_limit | trimmed | waiting | touched | told
        with np.errstate(invalid="ignore"):
            on_set = found.rate >= np.log(1 - self.rate_loss)
        came, kept["came"] = two_threshold(state["came"], on_set[None, :], ~view.in_phase(*RUNNING)[None, :])
        starting = ~came[0] & (view.ages["started"] < STARTS_FOR_S)
        loaded = _loaded(view, ctx)
        rises = self._feed_says(found, minute[0], loaded) & ~not_starved & ~starting
        return rises, self._feed_says(found, minute[0], loaded, 0.6) & ~(trimmed | waiting | told)

    def _load_led(self, state: State, kept: State, found: Load, view: CoarseView, ctx: Context) -> Bools:
        """The load had gone before the feeders, which now lose rate together over one chute: it stands full, [n]."""
        with np.errstate(invalid="ignore"):
            # Cell after cell for so long: one scatter is enough.
            least = np.fmax(self.confirming_torque_fall * found.wider, found.torque_scatter)
            down = (found.torque <= -least) & found.feeds_on_set & np.isfinite(found.rate)
        length, kept["down"] = run_length(state["down"], down[None, :])
        led = length >= ctx.cells(LED_S)
        feeders = feeder_signals.usable_feeders(ctx)
        rates, wanted = view.rows("feeder_rate", feeders), feeder_signals.wanted_rates(view, feeders, ctx)
        together = feeder_signals.falls_with_neighbours(rates, wanted, feeders, ctx, NEIGHBOURS_SHORT)
        lately = np.ones(view.n, bool)
        for name, holds in (("led", led), ("together", (together == 1).any(axis=0)[None, :])):
            since, after = run_length(state[name], ~holds)
            kept[name] = np.minimum(after, onset.LONG)
            lately &= since[0] < ctx.cells(LED_WITHIN_S)
        return lately

    def _feed_says(self, found: Load, minute: Floats, loaded: Bools, share: float = 1.0) -> Bools:
        """The feeders deliver less than set, and the machine does not contradict.

        loaded: the load is as the recipe wants it, which tells where nothing has been learned. minute: mean of ln rate
        over a minute. A feeder that finds its rate again after a refill is 10 % low for half a
        minute: the screws do not run empty of that.
        """
        some, much = np.log(1 - self.rate_loss * share), np.log(1 - 2 * self.rate_loss * share)
        less = (found.rate <= some) & ((minute <= some) | (found.rate <= much))
        least = self.confirming_torque_fall * found.wider
        torque_down = found.torque <= -share * np.fmax(least, 3 * found.torque_scatter)
        pressure_down = found.pressure <= -share * np.fmax(self.pressure_fall, 3 * found.pressure_scatter)
        silent = np.isnan(found.torque) & np.isnan(found.pressure) & ~loaded
        clear_loss = found.rate <= np.log(1 - 2 * self.rate_loss * share)
        return less & (torque_down | pressure_down | (silent & clear_loss))

    def _seen_of_flood_fed(self, state: State, kept: State, found: Load, view: CoarseView) -> dict[str, Floats]:
        """Unsteady pressure, the hopper over several loader cycles, and whether the fall was sudden."""
        low, high, kept["pressure"] = trailing_extremes(state["pressure"], found.pressure[None, :])
        full, kept["hopper"] = trailing_greatest(state["hopper"], view.get("hopper_level")[None, :])
        top, kept["sudden"] = trailing_greatest(state["sudden"], found.torque[None, :])
        with np.errstate(invalid="ignore"):
            unsteady = high[0] - low[0] >= UNSTEADY_SIGMAS * found.pressure_scatter
            sudden = top[0] - found.torque >= intake_or_path.SHARP_SHARE * np.abs(found.torque)
        return {
            "unsteady": np.where(np.isfinite(found.pressure), unsteady, np.nan),
            "hopper": full[0],
            "sudden": sudden.astype(float),
        }

    def _steps_down(self, state: State, kept: State, found: Load, armed: Bools) -> tuple[Bools, Bools]:
        """Load and pressure step down within two minutes, the load by more, whatever moved them in the hours before: a
        screen that fills holds the pressure of an empty screw above what was usual. (begins, goes on)"""
        both = np.array([found.torque, found.pressure])
        kept["lately"], lately = recent_level.advance(state["lately"], both)
        kept["just"], just = recent_level.advance(state["just"], both)
        with np.errstate(invalid="ignore"):
            torque, pressure = just - lately
            least = self.flood_fall * found.wider
            down = found.torque <= -np.fmax(least, self.sigmas * found.torque_scatter)
            begins = down & (torque <= -STEP_FACTOR * np.fmax(least, self.sigmas * found.torque_scatter))
            begins &= (pressure <= -np.fmax(0.25 * least, 4 * found.pressure_scatter)) & (
                (pressure >= starved_words.THIN_PRESSURE * torque) | (torque <= starved_words.MOST_THINNER_LN)
            )
            begins &= ~(found.specific_rate > -0.6 * self.flood_fall) & armed
            back = ~(found.torque <= -0.6 * least)
        on, kept["stepped"] = two_threshold(state["stepped"], begins[None, :], (back | ~armed)[None, :])
        return begins, on[0]

    def _runs_empty(self, state: State, kept: State, found: Load, view: CoarseView, ctx: Context) -> Bools:
        """The load falls and falls, or is more than half gone, and has done so no longer than a screw takes to empty:
        whether that is a bridge or a slide shut before a stop, the next minute tells."""
        joined, kept["fell"] = with_past(state["fell"], found.torque[None, :])
        with np.errstate(invalid="ignore"):
            falling = joined[:, : view.n] - joined[:, FALLING_CELLS:] >= STILL_FALLING_LN
            emptying = falling | (found.torque <= np.log(0.5))[None, :]
        length, kept["empties"] = run_length(state["empties"], emptying)
        return (length[0] > 0) & (length[0] < ctx.cells(self.runs_empty_s))

    def _flood_fed(self, found: Load, seen: dict[str, Floats], share: float = 1.0) -> Bools:
        """Torque and pressure fall together and the rate over speed falls too, or where it is not measured pressure
        falls less than torque or the hopper is low. Without a load: pressure and rate over speed."""
        least = self.flood_fall * found.wider * share
        torque_down = found.torque <= -np.fmax(least, share * self.sigmas * found.torque_scatter)
        pressure_down = found.pressure <= -np.fmax(0.25 * least, share * 4 * found.pressure_scatter)
        if share < 1:
            # As the melt gets colder its pressure comes back; what does not arrive does not come back with it.
            pressure_down |= found.pressure <= STILL_DOWN_LN
        rate_down = found.specific_rate <= -0.6 * self.flood_fall * share
        no_rate, no_load = np.isnan(found.specific_rate), np.isnan(found.torque)
        # No melt grows half as thick; what has lost half of its load is emptying, and its pressure goes to nothing.
        gone = found.torque <= np.log(intake_or_path.GONE)
        not_thinner = found.pressure >= intake_or_path.MOST_PRESSURE_PER_TORQUE * found.torque / share
        hopper_low = seen["hopper"] < starved_words.HOPPER_LOW_PCT
        by_load = torque_down & (pressure_down | np.isnan(found.pressure)) & (rate_down | (no_rate & hopper_low))
        sudden = (seen["sudden"] == 1) | (share < 1)
        sooner_than_a_lot = found.torque <= starved_words.MOST_THINNER_LN
        guessed = torque_down & pressure_down & no_rate & (((not_thinner | sooner_than_a_lot) & sudden) | gone)
        guessed |= torque_down & gone & np.isnan(found.pressure) & no_rate
        return by_load | guessed | (no_load & pressure_down & rate_down)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By which way it was recognised decides words, causes and how sure."""
        way = facts["way"]
        priority = 2 if level > 1 else 3
        empty = ("screws that run nearly empty wear and overheat what is left: slow them or stop",) if level > 1 else ()
        if way == FEED_SAYS:
            summary, sure, causes, checks = starved_words.feed_words(facts)
        elif way == MACHINE_SAYS:
            summary, sure, causes, checks = starved_words.path_words(facts, ctx)
        elif way == PRESSURE_SAYS:
            summary, sure, causes, checks = starved_words.pressure_words(facts)
        else:
            summary, sure, causes, checks = starved_words.flood_fed_words(facts, ctx)
        return Explanation(
            summary,
            priority,
            sure,
            load_evidence(facts, ctx),
            causes,
            (*checks, *empty),
            cautions.MOVING,
            moved(facts, feed_bounds=way != MACHINE_SAYS),
        )


def _loaded(view: CoarseView, ctx: Context) -> Bools:
    """Whether the torque is within or above the recipe's window: such screws do not run empty."""
    window = ctx.recipe.window_of("torque") if ctx.recipe and "torque" not in ctx.line.relative_channels else None
    if window is None or window.low is None:
        return np.zeros(view.n, bool)
    with np.errstate(invalid="ignore"):
        return view.get("torque") >= window.low


def _learned_later(verdict: intake_or_path.Verdict) -> Floats:
    """Cells after a cut of the rate know more than any before."""
    return verdict.flags["recovered"] + 0.5 * verdict.flags["not_recovered"]
