"""The drive turns and the screws do not: shaft, coupling or torque limiter gone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.conditions.machine_load import judging_sensors
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, blank, last_known, run_length, trailing_mean, two_threshold, with_past
from monitor.levels import rule
from monitor.quantities.load import gross_torque_known, gross_torque_of
from monitor.records import Cause, Confidence, Evidence, Family
from monitor.view import Readings

USUAL_OVER_S = 30.0
NOT_DECIDABLE_S = 2.0
"""At a coarser cadence a path that blocks can look as sudden; common practice, no source."""

STRADDLES_S = 5.0
"""Up to this cadence two readings together are no longer than a path that blocks takes at the most, 10 s."""

LEAST_LOAD_PCT = 10.0
"""Net torque below which there is nothing to lose."""

RAW_CURRENT_LEFT = 0.6
"""Current of unknown rating: with a third magnetising and 8 % no-load torque an empty motor draws 35 to 60 % of its
running current; common practice, no source."""

PRESSURE_HOLDS = 0.9


@dataclass(frozen=True)
class CouplingGone:
    """The drive turns and the screws do not.

    An operator would say: "the motor runs, the screw does not". Torque falls to no-load within one second, or one
    reading, faster than any feed can be lost; the drive keeps its speed, the feeds stay on set, then pressure decays
    and the throat fills. Level 2 once pressure has fallen, or where none is logged after as long. Look-alikes: path
    blocked (torque takes 3 s and more to fall), a trip or planned stop (speed falls), a dead torque signal (pressure
    holds: taken back after `denied_s`), a controller restart (torque exactly zero), a spike (lasts too short).
    Feeds are switched off before a stop, a die wipe or laying strands again, and reported rates are filtered: they fall
    over many seconds. With less than `fed_share` of them left since torque fell it is the feed that ended.
    At a cadence above 2 s it cannot be told from a path that blocks at once, and both are said (to 5 s, and where the
    feeds are seen to go on, one reading may fall in between: a mean, or a damped signal); where no rate is logged, nor
    from screws that are run empty before a stop, and it must last for `unseen_s`. Missing readings neither start nor
    end it. Priority 1 at level 2. Memory: 30 s and the delay, of torque, speed, pressure and rate. Thresholds: common
    practice, no source.
    """

    left: float = setting(0.15, 0.02, 0.5, "of the net torque before")
    within_s: float = setting(1, 0.1, 5, "s, at least one reading")
    hold_s: float = setting(3, 1, 60, "s")
    unseen_s: float = setting(120, 3, 600, "s where neither the pace of the fall nor a rate tells")
    pressure_fall: float = setting(0.3, 0.05, 0.9, "of the pressure before, for level 2")
    pressure_s: float = setting(60, 10, 600, "s until level 2 where no pressure is logged")
    fed_share: float = setting(0.85, 0.5, 0.97, "of the rate before: the feeds go on")
    denied_s: float = setting(300, 30, 1800, "s by which pressure must have begun to fall: standing melt drains slowly")
    off_s: float = setting(10, 1, 600, "s")

    name: ClassVar[str] = "coupling_gone"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "drive turns, screws do not"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("melt_pressure", "feeder_rate|line_rate")
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where load and speed are logged."""
        load = any(ctx.has(role) for role in ("torque", "motor_current", "drive_power"))
        return ("line",) if load and ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """Net torque."""
        return "net_torque"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The rule has its own delay."""
        return Timing(ctx.step_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not seen running."""
        return {
            "past": blank(4, self._back(ctx) + ctx.cells(USUAL_OVER_S) - 1),
            "low": np.zeros(1, np.int64),
            "on": np.zeros(1, bool),
            "plain": np.zeros(1, bool),
            "for": np.zeros(1, np.int64),
            "before": np.full(4, np.nan),
        }

    def _hold(self, ctx: Context) -> int:
        unseen = ctx.step_s > NOT_DECIDABLE_S and not (ctx.has("feeder_rate") or ctx.has("line_rate"))
        return max(2 if ctx.step_s > 1 else 3, ctx.cells(self.unseen_s if unseen else self.hold_s))

    def _edge(self, ctx: Context) -> int:
        """Cells in which torque may be on its way: one more than the fall lasts, a mean may straddle it.

        Seldom readings leave no room for one in between, unless the feeds are seen to go on: screws that run empty take
        10 to 30 s as well.
        """
        if ctx.step_s > NOT_DECIDABLE_S:
            return 2 if ctx.step_s <= STRADDLES_S and (ctx.has("feeder_rate") or ctx.has("line_rate")) else 1
        return ctx.cells(self.within_s) + 1

    def _back(self, ctx: Context) -> int:
        """Cells from the one now judged to the last that counts as usual."""
        return self._hold(ctx) + self._edge(ctx) - 1

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        speed, rate, pressure = view.get("screw_speed"), self._rate(view, ctx), self._pressure(view, ctx)
        shown, net, share = self._torque(view, ctx)
        joined, past = with_past(state["past"], np.array([net, speed, rate, pressure]))
        known = np.isfinite(net) & np.isfinite(speed)
        with np.errstate(invalid="ignore"):
            never = not (net <= share * np.fmax.reduce(joined[0], initial=-np.inf)).any()
        if never and not state["on"][0] and not state["plain"][0]:
            # Torque is nowhere low against any of the minute before: nothing to work out.
            level = rule(np.zeros((len(subjects), view.n), bool), known[None, :], np.ones((1, view.n), bool))
            blank_row = np.full(view.n, np.nan)
            facts = {"torque": net, "before": blank_row, "speed": speed, "drop": blank_row, "rate": rate}
            fresh = {"low": np.zeros(1, np.int64), "for": np.zeros(1, np.int64)} if view.n else {}
            return {**state, **fresh, "past": past}, Judged(level, np.zeros((len(subjects), view.n)), facts)
        hold, edge = self._hold(ctx), self._edge(ctx)
        over = ctx.cells(USUAL_OVER_S)
        ahead = joined[:, : joined.shape[1] - self._back(ctx)]
        before, _ = trailing_mean(ahead[:, : over - 1], ahead[:, over - 1 :], max(1, over // 2))
        # The cells just before the first low one: the last of them may straddle the fall, one must still be high.
        edge_torque = joined[0, over - 1 : over - 1 + view.n]
        for offset in range(1, edge):
            edge_torque = np.fmax(edge_torque, joined[0, over - 1 + offset : over - 1 + offset + view.n])
        with np.errstate(invalid="ignore"):
            # Torque exactly zero is a dead signal or a restarted controller: an idling drive shows something.
            low = (net <= share * before[0]) & (shown > 0.0)
            deep, low_state = run_length(state["low"], low[None, :])
            loaded = before[0] >= (LEAST_LOAD_PCT if share < RAW_CURRENT_LEFT else 0.0)
            kept_speed = ~(speed < 0.9 * before[1]) & (speed > 0)
            since_low, _ = trailing_mean(joined[2:3, over + edge - 1 : over + self._back(ctx) - 1], rate[None, :], 1)
            fed = ~(since_low[0] < self.fed_share * before[2])
            rises = (deep[0] == hold) & (edge_torque >= 0.75 * before[0]) & loaded & kept_speed & fed
        held, before_state = last_known(state["before"], np.where(rises, before, np.nan))
        with np.errstate(invalid="ignore"):
            back = net > np.fmax(2 * share * held[0], 0.5 * held[0])
            stopped = speed < 0.5 * held[1]
            off = (known & (back | stopped)) | (shown <= 0.0)
        # How long it has lasted, a taking back left aside: that needs this very length.
        plain, plain_state = two_threshold(state["plain"], rises[None, :], off[None, :] & ~rises[None, :])
        length, for_state = run_length(state["for"], plain)
        late = length[0] * ctx.step_s >= self.pressure_s
        with np.errstate(invalid="ignore"):
            denied = (length[0] * ctx.step_s >= self.denied_s) & (pressure >= PRESSURE_HOLDS * held[3])
            decayed = (pressure <= (1 - self.pressure_fall) * held[3]) | (np.isnan(held[3]) & late)
        taken_back = (off | denied) & ~rises
        on, on_state = two_threshold(state["on"], rises[None, :], taken_back[None, :])
        after: State = {
            "past": past,
            "low": low_state,
            "on": on_state,
            "for": for_state,
            "before": before_state,
            "plain": plain_state,
        }
        if not subjects:
            empty = np.zeros((0, view.n))
            return after, Judged(empty.astype(np.int8), empty, {})
        level = rule(on, known[None, :], np.ones((1, view.n), bool))
        level[0, (level[0] == 1) & decayed] = 2
        with np.errstate(divide="ignore", invalid="ignore"):
            drop = 1 - pressure / held[3]
        facts = {"torque": net, "before": held[0], "speed": speed, "drop": drop, "rate": rate}
        return after, Judged(level, np.where(np.isnan(drop), 0.0, drop)[None, :], facts)

    def _torque(self, view: Readings, ctx: Context) -> tuple[Floats, Floats, float]:
        """As shown, less the no-load part, and the share of it that counts as nothing left."""
        if gross_torque_known(ctx):
            gross = gross_torque_of(view, ctx)
            return view.get(self._role(ctx)), gross - ctx.line.drive.no_load_torque_pct, self.left
        raw = view.get(self._role(ctx))
        return raw, raw, RAW_CURRENT_LEFT if ctx.has("motor_current") and not ctx.has("torque") else 0.35

    @staticmethod
    def _role(ctx: Context) -> str:
        return next((role for role in ("torque", "motor_current", "drive_power") if ctx.has(role)), "torque")

    @staticmethod
    def _rate(view: Readings, ctx: Context) -> Floats:
        feeders = ctx.subjects_of("feeder_rate")
        if not feeders:
            return view.get("line_rate") if ctx.starve_fed else np.full(view.n, np.nan)
        total = np.zeros(view.n)
        for row in view.rows("feeder_rate", feeders):
            total = total + row
        return total

    @staticmethod
    def _pressure(view: Readings, ctx: Context) -> Floats:
        groups = judging_sensors(ctx)
        return view.get(f"melt_pressure:{groups[0][0]}") if groups else np.full(view.n, np.nan)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What fell how fast, and what did not."""
        coarse = ctx.step_s > NOT_DECIDABLE_S
        unit = "%" if gross_torque_known(ctx) else ""
        evidence = [
            Evidence("load after the fall, no-load part taken off", facts["torque"], unit, facts["before"], None),
            Evidence("screw speed as the drive shows it", facts["speed"], "rpm", None, None, "screw_speed"),
        ]
        fallen = level > 1 and facts["drop"] == facts["drop"]
        if facts["drop"] == facts["drop"]:
            evidence.append(Evidence("fall of melt pressure since", 100 * facts["drop"], "%"))
        seen = (
            f"torque went to no-load within {'two readings' if coarse and self._edge(ctx) > 1 else 'one reading'}",
            "the drive kept its speed",
        )
        holds = ("pressure has not fallen so far",) if facts["drop"] <= 1 - PRESSURE_HOLDS else ()
        if facts["torque"] <= 0 and gross_torque_known(ctx):
            seen = (*seen, "no more is left than the drive takes alone")
        sure: Confidence = "low" if coarse else "high" if fallen else "medium"
        causes = [
            Cause(
                "screw shaft, coupling or torque limiter gone",
                (*seen, *(("pressure fell after it",) if fallen else ())),
            ),
            Cause(
                "path blocked at once between feeder and throat",
                ("readings are too far apart to tell",) if coarse else (),
                () if coarse else ("no feed is lost as fast as this",),
            ),
            Cause("torque signal dead", *((), ("pressure fell too",)) if fallen else (holds, ())),
        ]
        return Explanation(
            "the drive turns without load: screw shaft, coupling or torque limiter gone",
            1 if level > 1 else 2,
            sure,
            tuple(evidence),
            tuple(causes),
            (
                "stop the feeders",
                "is the screw tip turning: look, from outside",
                "torque limiter or coupling",
                "throat",
            ),
            cautions.MOVING,
        )
