"""A pressure reading stands still while the line runs and everything round it moves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import display_steps, recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import blank, last_known, running_count, trailing_extremes, with_past
from monitor.levels import rule
from monitor.phases import RUNNING
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import COMES_BACK_S, RuleDefaults
from monitor.view import CoarseView

LONGER = 3
"""Of N rests of a reading that moves at random the longest is about ln N times the mean (rests are geometric), and one
three times as long comes with odds of N to the power -3, each time."""

EMPTY_SHARE = 0.5
"""With less of the usual net torque the screw runs empty, or its coupling has gone: a gauge at zero is right then, and
what little comes makes little noise. Common practice, no source."""

NOTHING_BAR = 3.0
"""A gauge that shows less shows its zero; common practice, no source."""

STAYS_S = 30.0
"""A speed or rate that has moved stands at its new level for so long."""


@dataclass(frozen=True)
class PressureSensorFrozen(RuleDefaults):
    """A melt pressure that used to move stands still to the last digit while the line runs.

    An operator would say: "that pressure has not moved for ages". No reading differs from the last for `still_s`,
    although in the hour before at least half of the 10 s cells differed, in the ten minutes before it took three
    values at least, and for `LONGER` times the longest it has stood before (a reading stored on change rests where
    the mean lies in the middle of its deadband); or for a
    minute, while screw speed or rate moved by `moved_pct` meanwhile and stayed there (a sixth of that is more than
    the ripple of a good pressure; zeros that a controller writes at its restart do not stay). The load of the drive
    must have moved meanwhile: else a controller is stale. A standing line is not judged, but a reading that has not
    moved in the stop either, as no pressure can that was one, goes on being counted where it was at the restart.
    Look-alikes: coarse resolution or a logger with a deadband (they stood still before, too: only the second rule
    judges them, from a change that predicts over 3 steps), a standing line (not judged), a stale controller, a gauge
    at zero over a screw that carries nothing, the rate of a blender over a flood-fed screw, which takes what it takes.
    Missing readings end the count. Memory: an hour of marks, a longest rest. Numbers are common practice, no
    source.
    """

    still_s: float = setting(600, 60, 7200, "s without any difference")
    moved_pct: float = setting(20, 5, 100, "% that speed or rate moved meanwhile")
    on_s: float = setting(10, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "pressure_sensor_frozen"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "pressure reading stands still"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    again_s: ClassVar[float] = COMES_BACK_S
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "screw_speed",
        "torque|motor_current|drive_power",
        "feeder_rate|line_rate",
    )
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "total_feed")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every melt pressure, also of unknown unit."""
        return ctx.subjects_of("melt_pressure")

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        k = len(subjects)
        return {
            "last": blank(k + 1, 1),
            "ran": np.zeros(1, np.int64),
            "mark": np.zeros(k + 1),
            "still": np.zeros(k + 1),
            "activity": recent_level.start(k, ctx.cells(3600), 0),
            "usual": np.full(k, np.nan),
            "moves": blank(2, ctx.cells(STAYS_S) - 1),
            "moved": blank(4, ctx.cells(60)),
            "longest": np.zeros(k),
            "display": display_steps.start(k, ctx.cells(display_steps.WITHIN_S)),
            "digits": np.full(k, np.nan),
        }

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until a pressure has stood still for a minute at least; see `resting`."""
        return ctx.cells(min(60.0, self.still_s)) - int(state["still"][:-1].max(initial=0))

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a sensor."""
        k, n = len(subjects), view.n
        low, high = view.low_high("melt_pressure", subjects)
        rows = np.concatenate((view.rows("melt_pressure", subjects), view.quantity("net_torque")[None, :]), axis=0)
        joined, last = with_past(state["last"], rows)
        with np.errstate(invalid="ignore"):
            differs = joined[:, 1:] != joined[:, :n]
            differs[:k] |= low != high
        running = view.in_phase(*RUNNING)
        known = np.isfinite(rows)
        # Cells it ran since the reading moved: a stop in between is not counted and ends nothing.
        ran = running_count(state["ran"], running[None, :])
        since, mark = last_known(state["mark"], np.where(differs | ~known, ran.astype(float), np.nan))
        still = ran - since
        marks = np.where(known[:k] & running, differs[:k].astype(float), np.nan)
        rested = np.concatenate((state["still"][:k, None], still[:k]), axis=1)[:, :n]
        rested = np.where(differs[:k] & known[:k] & running, rested, 0)
        longest = np.maximum.accumulate(np.concatenate((state["longest"][:, None], rested), axis=1), axis=1)
        activity_state, activity = recent_level.advance(state["activity"], marks)
        usual, usual_state = last_known(state["usual"], np.where(differs[:k] & running, activity, np.nan))
        digits, display_state = display_steps.advance(state["display"], low, high)
        digits, digits_state = last_known(state["digits"], np.where(differs[:k] & running, digits, np.nan))
        rate = view.quantity("total_feed") if ctx.starve_fed else view.get("line_rate")
        moves = np.array([view.get("screw_speed"), rate])
        least, most, moves_state = trailing_extremes(state["moves"], moves)
        then, moved_state = with_past(state["moved"], np.concatenate((least, most), axis=0))
        with np.errstate(invalid="ignore"):
            more = 1.0 + self.moved_pct / 100
            moved = ((least > more * then[2:, :n]) | (more * most < then[:2, :n])).any(axis=0)
            alive = ~(still[k] >= ctx.cells(60)) | ~np.isfinite(rows[k])
            quiet = (still[:k] >= ctx.cells(self.still_s)) & (usual >= 0.5) & (still[:k] >= LONGER * longest[:, 1:])
            quiet &= digits >= display_steps.FEWEST
            empty = rows[k] < EMPTY_SHARE * view.expectation("net_torque")[0]
            # A control that turns an empty screw faster leaves nothing to expect: zero is right by what was known.
            known_before = np.fmax(*(view.expectation(f"{then} net_torque")[0] for then in ("carried", "before")))
            empty = empty | ((np.abs(rows[:k]) < NOTHING_BAR) & (rows[k] < EMPTY_SHARE * known_before))
            alive = alive & ~empty
            deaf = (still[:k] >= ctx.cells(60)) & moved & (np.abs(rows[:k]) * 0.35 * self.moved_pct / 100 > 3.0)
        level = rule((quiet | deaf) & alive, known[:k], running)
        seconds = still[:k] * ctx.step_s
        facts = {"value": rows[:k], "still_s": seconds, "usual": 100 * usual}
        after = {
            "last": last, "ran": ran[:, -1].copy() if n else state["ran"], "mark": mark,
            "still": still[:, -1].copy() if n else state["still"], "activity": activity_state, "usual": usual_state,
            "moves": moves_state, "moved": moved_state, "longest": longest[:, -1].copy(),
            "display": display_state, "digits": digits_state,
        }  # fmt: skip
        return after, Judged(level, seconds, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long, and how it was before."""
        return Explanation(
            f"melt pressure {subject} has stood at one value for {facts['still_s'] / 60:.0f} min while the line runs",
            2,
            "high" if facts["usual"] >= 80 else "medium",
            (
                Evidence(f"melt pressure {subject}", facts["value"], "", None, None, self.channel(subject)),
                Evidence("cells that differed from the last, before", facts["usual"], "%"),
            ),
            (
                Cause("sensor, amplifier or input card hung", ("the drive load goes on moving",)),
                Cause("reading held by the logger or the controller"),
                Cause("port plugged with cold or charred melt"),
            ),
            (
                "count on no pressure alarm of this sensor: who else guards this pressure?",
                "a second gauge, if there is one",
                "sensor and port at the next stop",
            ),
        )
