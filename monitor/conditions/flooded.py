"""More is in the screws, or offered to them, than they can take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions, onset, read_twice
from monitor.conditions import flooded_words, intake_or_path, machine_load
from monitor.conditions.load_evidence import load_evidence, load_facts, moved
from monitor.conditions.machine_load import Load, gross_torque_pct, judging_sensors, load
from monitor.contract import DISARMED, UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    count_true,
    last_known,
    run_length,
    trailing_greatest,
    trailing_least,
    trailing_mean,
    two_threshold,
    with_past,
)
from monitor.goes_with import GOES_WITH
from monitor.levels import rule
from monitor.records import Evidence, Family
from monitor.view import CoarseView

OVERFED, INTAKE, RAISE, TORQUE = 1.0, 2.0, 3.0, 4.0
"""How it was recognised: more comes in than wanted; less is taken than fed; a raise was not taken; torque at limit."""

NOT_FOLLOWED_FOR_S = 1800.0
"""A raise that torque has not followed is judged this long; later a slow slide of torque would look the same."""

USUALLY_FOLLOWED, HARDLY_FOLLOWED = 0.5, 0.2
"""ln torque per ln rate at the same speed: at least, usually; at most, where the intake is full."""

LEAST_SCATTER = 0.01
SLIDES_FOR_S = 5400.0
"""After a start torque slides by 3 to 8 % for 30 to 90 min: a raise that is not followed would look the same."""

ASTRAY_CELLS = 2
"""So many of the last six cells a feeder may have read off its set-point while more comes in than it says. Where powder
flushes in a refill hold the rate stands on set; where a hand lay on the scale it reads low, and the feeder runs faster.
"""

TRIPPED_FOR_CELLS, STALLS_SHARE = 3, 0.97
"""A screw that stands within so many cells of a torque of this share of its limit has been stopped by it."""

SHORT_LN = 0.05
"""ln torque that was missing within three minutes before: what comes then had been held back. As the fall that tells a
flooded intake."""

BURST, JUST_MORE = 2.0, 1e-3
"""A rise so many times the least one is no push of a full hopper. Common practice, no source. A trip counts for just
more than the rise before it."""


@dataclass(frozen=True)
class Flooded:
    """More is in the screws, or offered to them, than they can take (starve-fed lines).

    An operator would say: "it backs up at the throat" or "it is overfed". Four ways: (1) over-fed: torque up
    sharply and pressure up less than torque, with feeders on set (powder flushing in a refill hold) or above set;
    (2) intake-limited: torque and pressure flat or low, all feeders on set, and the judge of intake or path
    (intake_or_path.py, shared with 'starved') says intake: a rate raised, a speed lowered, a feed factor down, a
    throat grown warm, torque at its limit came first; (3) a raise not taken: after rate over speed was raised,
    torque and pressure did not follow, less what a lower speed or rate takes from them by itself; (4) torque-
    limited: torque near its limit while rate over speed is at or above what it was, however it is logged (torque,
    current of known rating, power); said at the latest when the drive trips. Look-alikes: a touched scale or a
    refill (the rate reads low, then high: over a minute nothing is over-fed), path blocked (torque toward no-load,
    nothing first: said as starved), thick or cold melt (pressure moves at least as much as torque), restriction
    (pressure first), loss of lubricant (its feeder low).
    A flood-fed screw is always full: not armed there. Missing readings neither start nor end it; after a change an
    open finding waits ten minutes for the answer. Memory: the judge's, switches, 27 cells.
    Thresholds: common practice, no source; they widen with scatter and assumed no-load or magnetising part.
    """

    torque_rise: float = setting(0.10, 0.03, 0.7, "in ln torque")
    pressure_rise: float = setting(0.02, 0.0, 0.5, "in ln pressure")
    most_pressure_per_torque: float = setting(0.8, 0.3, 1.0, "ln pressure per ln torque")
    rate_excess: float = setting(0.08, 0.02, 0.5, "of the set rate")
    sigmas: float = setting(5, 2, 20, "sigma")
    raised: float = setting(0.04, 0.01, 0.5, "in ln rate over speed")
    not_followed: float = setting(0.02, 0.0, 0.3, "in ln torque, fall after a raise")
    torque_fall: float = setting(0.12, 0.03, 0.7, "in ln torque without a cause seen; as in starved")
    intake_fall: float = setting(0.05, 0.02, 0.5, "in ln torque with a cause seen")
    torque_limit_share: float = setting(0.92, 0.7, 1.0, "of the torque limit")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "flooded"
    family: ClassVar[Family] = "flooded"
    title: ClassVar[str] = "more fed than the screws take"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "melt_pressure",
        "feeder_setpoint|line_rate_setpoint",
        "feeder_rate|line_rate",
        "feeder_drive",
        "throat_temperature",
        "feeder_refill",
        "geometry",
    )
    quantities: ClassVar[tuple[str, ...]] = (
        "net_torque",
        "total_feed",
        "total_setpoint",
        "specific_throughput",
        "fill",
        "moved_together",
    )

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where its load is logged."""
        return ("line",) if any(ctx.has(role) for role in ("torque", "motor_current", "drive_power")) else ()

    def channel(self, subject: str) -> str:
        """Net torque tells it first."""
        return "net_torque"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two 10 s cells in; blind for as long as the answer to a change may take."""
        return Timing(self.on_s, self.off_s, intake_or_path.UNKNOWN_FOR_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not flooded."""
        return {
            "judge": intake_or_path.start(ctx),
            "on": np.zeros(3, bool),
            "rests": onset.start(1),
            "past": blank(1, max(1, round(180 / ctx.step_s))),
            "torque": blank(1, ctx.cells(30) - 1),
            "last": blank(1, 2),
            "limited": blank(1, ctx.cells(60) - 1),
            "rate": blank(1, ctx.cells(60) - 1),
            "rise": blank(1, ctx.cells(60) - 1),
            "more": blank(1, ctx.cells(60) - 1),
            "astray": blank(1, ctx.cells(60) - 1),
            "before_trip": blank(1, ctx.cells(60) - 1),
            "stood": np.zeros(1, np.int64),
            "refill": blank(1, ctx.cells(180) - 1),
            "fed": blank(1, ctx.cells(intake_or_path.RAISED_OVER_S) - 1),
            "way": np.full(1, np.nan),
            "rose": np.full(1, np.nan),
            "short": np.full(1, np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line; the ways are switched apart and the first that holds is told."""
        if not subjects or not ctx.starve_fed:
            nothing = np.full((len(subjects), view.n), np.nan)
            return self.start(subjects, ctx), Judged(np.full(nothing.shape, DISARMED, np.int8), nothing, {})
        found = load(view, ctx)
        kept = dict(state)
        recent_low, kept["past"] = trailing_least(state["past"], found.torque[None, :])
        gross, kept["last"] = read_twice.middle(state["last"], gross_torque_pct(view, ctx)[None, :])
        torque, kept["torque"] = trailing_mean(state["torque"], gross, ctx.cells(20))
        limited, kept["limited"] = trailing_mean(state["limited"], gross, ctx.cells(40))
        astray, kept["astray"] = with_past(state["astray"], (~found.feeds_on_set)[None, :].astype(float))
        steady_feed = count_true(astray > 0, ctx.cells(60))[0] <= ASTRAY_CELLS
        minute, kept["rate"] = trailing_mean(state["rate"], found.rate[None, :], ctx.cells(40))
        rise, kept["rise"] = trailing_mean(state["rise"], found.torque[None, :], ctx.cells(40))
        more, kept["more"] = trailing_mean(state["more"], found.specific_rate[None, :], ctx.cells(40))
        # What the feeders say they bring more goes along with them: over-fed is what comes beside that.
        reported = np.fmax(np.nan_to_num(more[0]), 0.0)
        refill = np.fmax.reduce(view.rows("feeder_refill", ctx.subjects_of("feeder_refill")), axis=0, initial=np.nan)
        refilled, kept["refill"] = trailing_greatest(state["refill"], refill[None, :])
        usual_speed, _ = view.expectation("screw_speed")
        with np.errstate(invalid="ignore"):
            faster = view.get("screw_speed") - usual_speed > 0.05 * usual_speed
        running, age = view.in_phase("steady", "settling"), view.ages["unchanged"]
        armed = running & (age >= 60.0) & ctx.starve_fed
        fed, kept["fed"] = trailing_mean(state["fed"], view.quantity("specific_throughput")[None, :], ctx.cells(120))
        kept["judge"], verdict = intake_or_path.judge(
            state["judge"], found, view, ctx, armed & ~faster, self.torque_fall, self.intake_fall
        )
        tripped = self._tripped(state, kept, torque, view, ctx)
        sharp = found.torque - recent_low[0] >= 0.6 * np.abs(found.torque)
        full = running & (age >= 20.0) & ctx.starve_fed
        arms = np.array([armed, armed, full | tripped])
        raised_by, followed_by = since = self._since_raise(fed[0], view, ctx)
        back, told = self._back_to_recipe(found, view, ctx), view.quantity("moved_together") == 1
        ways = np.array(
            [
                self._overfed(found, minute[0], rise[0], reported, sharp & steady_feed) & ~back & ~told,
                self._raise_not_taken(found, since, view, ctx) & ~verdict.path,
                self._torque_limited(limited[0], view, ctx) | tripped,
            ]
        )
        loose = np.array(
            [
                self._overfed(found, minute[0], found.torque, reported, np.ones(view.n, bool), 0.6) & ~told,
                self._raise_not_taken(found, since, view, ctx, 0.5) & ~verdict.path,
                self._torque_limited(limited[0], view, ctx, 0.97) | tripped,
            ]
        )
        known = np.isfinite(found.torque) | np.isfinite(torque[0]) | np.isfinite(view.quantity("net_torque"))
        on, kept["on"] = two_threshold(state["on"], ways & arms, (~loose & known) | ~arms)
        any_on = np.logical_or.reduce(on, axis=0) | verdict.intake
        level = rule(any_on[None, :], known[None, :], (armed | full | tripped | verdict.intake)[None, :])
        alone = verdict.intake & ~np.logical_or.reduce(on, axis=0) & ~verdict.known
        level[0, alone] = UNKNOWN
        level[0, tripped & any_on] = 2
        # What comes and goes within one episode is told as it began: a chute that clears over-feeds for a minute.
        begins, kept["rests"] = onset.onsets(state["rests"], any_on[None, :], ctx.cells(self.off_s))
        now = np.where(on[0], OVERFED, np.where(verdict.intake, INTAKE, np.where(on[1], RAISE, TORQUE)))
        way, kept["way"] = last_known(state["way"], np.where(begins[0], now, np.nan)[None, :])
        rose, kept["rose"] = last_known(state["rose"], np.where(on[0], found.torque, np.nan)[None, :])
        with np.errstate(invalid="ignore"):
            short = recent_low[0] <= -np.fmax(SHORT_LN * found.wider, self.sigmas * found.torque_scatter)
        short_before, kept["short"] = last_known(state["short"], np.where(begins[0], short, np.nan)[None, :])
        facts = {
            **load_facts(found, view),
            "rose": rose[0],
            "short": short_before[0],
            "way": way[0],
            "gross_torque": torque[0],
            "fill": view.quantity("fill"),
            "refilled": np.where(np.isfinite(refilled[0]), refilled[0] > 0.05, np.nan),
            "tripped": tripped.astype(float),
            "odds": verdict.odds,
            "raised_by": raised_by,
            "followed_by": followed_by,
            **verdict.flags,
        }
        later = 10 * (verdict.flags["recovered"] + 0.5 * verdict.flags["not_recovered"])
        less = (way[0] == INTAKE) | (way[0] == RAISE)
        depth = np.where(less, -found.torque, np.abs(found.torque))
        # The trip ends it, and is told with it.
        depth = np.where(tripped & np.isnan(depth), np.abs(rose[0]) + JUST_MORE, depth)
        score = np.where(np.isnan(depth), 0.0, depth) + np.where(verdict.intake, later, 0.0)
        return kept, Judged(level, score[None, :], facts)

    def _tripped(self, state: State, kept: State, torque: Floats, view: CoarseView, ctx: Context) -> Bools:
        """The first cells of a standstill that torque at its limit has led to, set-points still up."""
        peak, kept["before_trip"] = trailing_greatest(state["before_trip"], torque)
        stands = view.in_phase("stopped", "heating", "soaking", "ready")
        length, kept["stood"] = run_length(state["stood"], stands[None, :])
        with np.errstate(invalid="ignore"):
            at_limit = peak[0] >= STALLS_SHARE * ctx.line.drive.torque_limit_pct
            still_wanted = ~(view.get("screw_speed_setpoint") <= 0.0)
        first = (length[0] > 0) & (length[0] <= TRIPPED_FOR_CELLS)
        return first & at_limit & still_wanted & ctx.starve_fed

    def _overfed(
        self, found: Load, minute: Floats, rise: Floats, reported: Floats, sharp: Bools, share: float = 1.0
    ) -> Bools:
        """minute: mean of ln rate over a minute. A feeder whose scale was touched reads low, speeds up and reads high:
        over the minute it fed what it should. rise: the same of ln torque: a full hopper pushes for a moment, a flood
        stays or is twice as large. reported: ln of what the feeders say they bring more. sharp: the rise was, and no
        feeder read off its set-point before it."""
        least = self.torque_rise * found.wider * share
        up = found.torque - reported >= np.fmax(least, share * self.sigmas * found.torque_scatter)
        up &= (rise - reported >= least) | (found.torque - reported >= BURST * least)
        pressure_up = found.pressure >= np.fmax(self.pressure_rise, 2 * found.pressure_scatter) * share
        # An assumed no-load part may make the rise of torque look larger than it is.
        most = self.most_pressure_per_torque / np.fmax(found.wider, 1.0)
        less_than_torque = found.pressure <= most * found.torque
        by_machine = up & sharp & pressure_up & less_than_torque & found.feeds_on_set
        more = np.log(1 + self.rate_excess * share)
        fed = (found.rate >= more) & (minute >= more) & (found.torque >= 0.4 * least)
        return by_machine | fed

    @staticmethod
    def _back_to_recipe(found: Load, view: CoarseView, ctx: Context) -> Bools:
        """The recipe's windows say that load or pressure was too low before and is not too high now: what was learned
        was the level of a screw that got too little.
        """
        back = np.zeros(view.n, bool)
        if ctx.recipe is None:
            return back
        sensors = [f"melt_pressure:{sensor}" for group in judging_sensors(ctx)[:1] for sensor in group]
        for key in ("torque", *sensors):
            window = ctx.recipe.window_of(key) if key not in ctx.line.relative_channels else None
            if window is None or window.low is None or window.high is None:
                continue
            quantity = "net_torque" if key == "torque" else key
            no_load = ctx.line.drive.no_load_torque_pct if key == "torque" and ctx.has("torque") else 0.0
            expected = view.expectation(quantity)[0] + no_load
            with np.errstate(invalid="ignore"):
                back |= (expected < window.low) & (view.get(key) <= window.high)
        return back

    def _raise_not_taken(
        self, found: Load, since: tuple[Floats, Floats], view: CoarseView, ctx: Context, share: float = 1.0
    ) -> Bools:
        """After a raise of rate over speed torque fell, or after a raise of the rate alone it hardly rose, and no
        pressure rose either. since: as `_since_raise`."""
        on_set = ~(found.rate < np.log(1 - self.rate_excess))
        raised, followed = since
        speed_before, _ = view.expectation("before screw_speed")
        with np.errstate(divide="ignore", invalid="ignore"):
            slower = np.fmin(np.log(view.get("screw_speed") / speed_before), 0.0)
            less_fed = np.fmin(raised + slower, 0.0)
            same_speed = np.abs(view.get("screw_speed") / speed_before - 1) <= 0.02
            scatter = np.where(np.isnan(found.torque_scatter), LEAST_SCATTER, found.torque_scatter)
            # A slower screw shears less: as at the start after a stop, by steps of speed and rate.
            by_itself = GOES_WITH["net_torque"].speed[1] * slower
            fell = followed <= by_itself - np.fmax(self.not_followed * found.wider, 2 * scatter) * share
            hardly = followed <= HARDLY_FOLLOWED * raised / share
            clear = (USUALLY_FOLLOWED * raised - followed >= 4 * scatter * share) & (raised >= 2 * self.raised * share)
            warmed_up = view.ages["started"] >= SLIDES_FOR_S
            not_followed = (raised >= self.raised * share) & (fell | (same_speed & hardly & clear & warmed_up))
            for group in judging_sensors(ctx)[:1]:
                for sensor in group:
                    key = f"melt_pressure:{sensor}"
                    rise = np.log(np.fmax(view.get(key), 0.1) / view.expectation(f"before {key}")[0])
                    not_followed &= ~(rise - GOES_WITH["melt_pressure"].rate[1] * less_fed > 0.1 * raised / share)
        settled = (view.ages["unchanged"] >= 120.0) & (view.ages["unchanged"] <= NOT_FOLLOWED_FOR_S)
        return on_set & not_followed & (settled if share == 1.0 else np.ones(view.n, bool))

    @staticmethod
    def _since_raise(fed: Floats, view: CoarseView, ctx: Context) -> tuple[Floats, Floats]:
        """ln rate over speed and ln net torque against what they were before the last change, [n] each.

        fed: rate over speed as fed, mean of minutes; what is wanted counts where it is logged.
        """
        torque_before, _ = view.expectation("before net_torque")
        with np.errstate(divide="ignore", invalid="ignore"):
            asked = machine_load.asked_specific(fed, view, ctx)
            raised = np.log(asked / view.expectation("before specific_throughput")[0])
            return raised, np.log(np.fmax(view.quantity("net_torque"), 0.1) / torque_before)

    def _torque_limited(self, torque: Floats, view: CoarseView, ctx: Context, share: float = 1.0) -> Bools:
        """torque: mean of a minute. A feeder that finds its rate after a refill over-feeds for half of one."""
        expected, _ = view.expectation("specific_throughput")
        before, _ = view.expectation("before specific_throughput")
        usual = np.where(np.isnan(expected), before, expected)
        full = ~(view.quantity("specific_throughput") < 0.98 * usual)
        limit = ctx.line.drive.torque_limit_pct
        window = ctx.recipe.window_of("torque") if ctx.recipe and "torque" not in ctx.line.relative_channels else None
        if window is not None and ctx.has("torque"):
            # A load that the recipe itself asks for floods nothing, as long as the drive has something left.
            planned = window.high or window.high_outer or window.target or 0.0
            full &= (torque > planned) | (torque >= share * STALLS_SHARE * limit)
        return (torque >= share * self.torque_limit_share * limit) & full

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By which way it was recognised decides words, causes and what to check."""
        way, evidence = facts["way"], load_evidence(facts, ctx)
        if facts["fill"] == facts["fill"]:
            evidence += (Evidence("degree of fill at the throat", facts["fill"], "", None, None, "fill"),)
        if way == RAISE:
            evidence += (
                Evidence("rate over speed against before", 100 * np.expm1(facts["raised_by"]), "%", 0.0),
                Evidence("torque against before", 100 * np.expm1(facts["followed_by"]), "%", 0.0, None, "net_torque"),
            )
        words = {
            OVERFED: flooded_words.overfed_words,
            INTAKE: flooded_words.intake_words,
            RAISE: flooded_words.raise_words,
            TORQUE: flooded_words.torque_words,
        }
        summary, sure, causes, checks = words.get(way, flooded_words.torque_words)(facts)
        return Explanation(summary, 2, sure, evidence, causes, checks, cautions.MOVING, moved(facts))
