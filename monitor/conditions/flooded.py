"""More is in the screws, or offered to them, than they can take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.conditions.machine_load import Load, gross_torque_pct, load
from monitor.conditions.starved import load_evidence, load_facts
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, trailing_extremes, trailing_mean, two_threshold
from monitor.levels import rule
from monitor.records import Evidence, Family
from monitor.view import CoarseView

OVERFED, INTAKE, TORQUE = 1.0, 2.0, 3.0
"""How it was recognised: more comes in than wanted; less is taken than fed; torque at its limit."""


@dataclass(frozen=True)
class Flooded:
    """More is in the screws, or offered to them, than they can take (starve-fed lines).

    An operator would say: "it backs up at the throat" or "it is overfed". Three ways: (1) over-fed: torque up
    sharply and pressure up less than torque, with feeders on set (powder flushing in a refill hold) or above set;
    (2) intake-limited: torque and pressure flat or low, all feeders on set, and a cause came first: rate over
    speed was raised and torque did not follow, or a feeder needs clearly more drive for its rate (feed factor
    down); (3) torque-limited: torque near its limit while rate over speed is at or above what it was.
    Look-alikes: path blocked (no cause first, torque toward no-load: said as starved), thick or cold melt
    (pressure moves at least as much as torque), restriction (pressure first), loss of lubricant (its feeder low).
    A flood-fed screw is always full: not armed there. Missing readings neither start nor end it.
    Memory: three switches, 18 cells a row. Thresholds: common practice, no source.
    """

    torque_rise: float = setting(0.10, 0.03, 0.7, "in ln torque")
    pressure_rise: float = setting(0.02, 0.0, 0.5, "in ln pressure")
    most_pressure_per_torque: float = setting(0.8, 0.3, 1.0, "ln pressure per ln torque")
    rate_excess: float = setting(0.08, 0.02, 0.5, "of the set rate")
    sigmas: float = setting(5, 2, 20, "sigma")
    raised: float = setting(0.04, 0.01, 0.5, "in ln rate over speed")
    not_followed: float = setting(0.02, 0.0, 0.3, "in ln torque, fall after a raise")
    drive_rise: float = setting(0.08, 0.03, 0.5, "in ln feeder drive at the same rate")
    intake_fall: float = setting(0.05, 0.02, 0.5, "in ln torque with feed factor down")
    torque_limit_share: float = setting(0.92, 0.7, 1.0, "of the torque limit")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "flooded"
    family: ClassVar[Family] = "flooded"
    title: ClassVar[str] = "more fed than the screws take"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = (
        "net_torque",
        "total_feed",
        "total_setpoint",
        "specific_throughput",
    )

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where its load is logged."""
        return ("line",) if any(ctx.has(role) for role in ("torque", "motor_current", "drive_power")) else ()

    def channel(self, subject: str) -> str:
        """Net torque tells it first."""
        return "net_torque"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Three 10 s cells in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not flooded."""
        feeders = len(ctx.subjects_of("feeder_drive"))
        sharp, minute = max(1, round(180 / ctx.step_s)), max(1, round(50 / ctx.step_s))
        return {
            "on": np.zeros(3, bool),
            "past": blank(1, sharp),
            "torque": blank(1, minute),
            "ratio": np.full(feeders, np.nan),
            "ratio_cells": blank(feeders, minute),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line; the three ways are switched apart and the first that holds is told."""
        found = load(view, ctx)
        recent_low, _, past = trailing_extremes(state["past"], found.torque[None, :])
        torque, torque_past = trailing_mean(state["torque"], gross_torque_pct(view, ctx)[None, :], 3)
        needs_drive, ratio, ratio_cells = self._feed_factor_down(state, view, ctx)
        kept: State = {"past": past, "torque": torque_past, "ratio": ratio, "ratio_cells": ratio_cells}
        if not subjects:
            empty = np.zeros((0, view.n))
            return {**kept, "on": state["on"]}, Judged(empty.astype(np.int8), empty, {})
        sharp = found.torque - recent_low[0] >= 0.6 * np.abs(found.torque)
        ways = np.array(
            [
                self._overfed(found, sharp),
                self._intake(found, view, needs_drive),
                self._torque_limited(torque[0], view, ctx),
            ]
        )
        loose = np.array(
            [
                self._overfed(found, np.ones(view.n, bool), 0.6),
                self._intake(found, view, needs_drive, 0.5),
                self._torque_limited(torque[0], view, ctx, 0.97),
            ]
        )
        known = np.isfinite(found.torque) | np.isfinite(torque[0])
        armed = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= 60.0) & ctx.starve_fed
        on, on_state = two_threshold(state["on"], ways & armed, (~loose & known) | ~armed)
        level = rule(np.logical_or.reduce(on, axis=0, keepdims=True), known[None, :], armed[None, :])
        facts = {
            **load_facts(found, view),
            "way": np.where(on[0], OVERFED, np.where(on[1], INTAKE, TORQUE)),
            "gross_torque": view.get("torque"),
            "fill": view.quantity("fill"),
            "needs_drive": needs_drive.astype(float),
        }
        return {**kept, "on": on_state}, Judged(level, np.abs(found.torque)[None, :], facts)

    def _overfed(self, found: Load, sharp: Bools, share: float = 1.0) -> Bools:
        least = self.torque_rise * (0.6 if found.raw_current else 1.0) * share
        up = found.torque >= np.fmax(least, share * self.sigmas * found.torque_scatter)
        pressure_up = found.pressure >= np.fmax(self.pressure_rise, 2 * found.pressure_scatter) * share
        less_than_torque = found.pressure <= self.most_pressure_per_torque * found.torque
        by_machine = up & sharp & pressure_up & less_than_torque & found.feeds_on_set
        fed = (found.rate >= np.log(1 + self.rate_excess * share)) & (found.torque >= 0.4 * least)
        return by_machine | fed

    def _intake(self, found: Load, view: CoarseView, needs_drive: Bools, share: float = 1.0) -> Bools:
        on_set = ~(found.rate < np.log(1 - self.rate_excess))
        less = (found.torque <= -share * self.intake_fall) & ~(found.pressure > 0.0)
        now, speed_rate = view.quantity("net_torque"), view.quantity("specific_throughput")
        with np.errstate(divide="ignore", invalid="ignore"):
            raised = np.log(speed_rate / view.expectation("before specific_throughput")[0])
            followed = np.log(np.fmax(now, 0.1) / view.expectation("before net_torque")[0])
        not_followed = (raised >= self.raised) & (followed <= -self.not_followed * share)
        settled = (view.ages["unchanged"] >= 120.0) & (view.ages["unchanged"] <= 7200.0)
        return on_set & ((less & needs_drive) | (not_followed & settled))

    def _torque_limited(self, torque: Floats, view: CoarseView, ctx: Context, share: float = 1.0) -> Bools:
        expected, _ = view.expectation("specific_throughput")
        before, _ = view.expectation("before specific_throughput")
        usual = np.where(np.isnan(expected), before, expected)
        full = ~(view.quantity("specific_throughput") < 0.98 * usual)
        return (torque >= share * self.torque_limit_share * ctx.line.drive.torque_limit_pct) & full

    def _feed_factor_down(self, state: State, view: CoarseView, ctx: Context) -> tuple[Bools, Floats, Floats]:
        """Whether a main feeder (a third of the feed or more) needs clearly more drive for its rate than it did."""
        feeders = ctx.subjects_of("feeder_drive")
        if not feeders:
            return np.zeros(view.n, bool), state["ratio"], state["ratio_cells"]
        rate, drive = view.rows("feeder_rate", feeders), view.rows("feeder_drive", feeders)
        total = view.quantity("total_feed")
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where((rate > 0.3 * total) & (drive > 1), np.log(drive / rate), np.nan)
        smooth, cells = trailing_mean(state["ratio_cells"], ratio, 3)
        usual, needs = state["ratio"], np.zeros(view.n, bool)
        calm = view.in_phase("steady")
        for i in range(view.n):
            now = smooth[:, i]
            needs[i] = bool((now - usual >= self.drive_rise).any())
            if calm[i]:
                near = np.isnan(usual) | (np.abs(now - usual) < 0.5 * self.drive_rise)
                usual = np.where(np.isnan(usual), now, np.where(near, usual + (now - usual) / 120, usual))
        return needs, usual, cells

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By which way it was recognised decides words, causes and what to check."""
        way, evidence = facts["way"], load_evidence(facts, ctx)
        if facts["fill"] == facts["fill"]:
            evidence += (Evidence("degree of fill at the throat", facts["fill"], "", None, None, "fill"),)
        if way == OVERFED:
            rise = 100 * (np.exp(facts["torque"]) - 1)
            return Explanation(
                f"over-fed: torque up {rise:.0f} % and pressure up less: more comes in than the feeders say",
                2,
                "medium",
                evidence,
                (
                    "powder flushing through a feeder, often in a refill hold",
                    "a scale reads low and is over-fed",
                    "loss of oil or lubricant raises torque too",
                ),
                ("weight of each feeder after its refill", "feeder drives at minimum", "throat backing up"),
                cautions.MOVING,
            )
        if way == INTAKE:
            first = "bulk density or feed factor down" if facts["needs_drive"] else "rate over speed was raised"
            return Explanation(
                f"flooded at the intake: feeders on set, the screws take less; {first} came first",
                2,
                "medium",
                evidence,
                (
                    first,
                    "throat too hot",
                    "path blocked between feeder and throat, if cutting the rate does not help",
                ),
                (
                    "material standing in the throat",
                    "cut the rate or raise the speed, by site procedure",
                    "bulk density of the lot",
                ),
                cautions.MOVING,
            )
        return Explanation(
            f"flooded, torque-limited: torque {facts['gross_torque']:.0f} % at full rate over speed",
            2,
            "medium",
            evidence,
            ("rate too high for this speed", "melt too cold or viscous", "zones below set"),
            (
                "cut the rate or raise the speed, by site procedure",
                "zone temperatures",
                "side feeder and vents",
            ),
            cautions.MOVING,
        )
