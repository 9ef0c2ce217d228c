"""A tag that should be measured is a copy of its set-point."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key, split_key
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Floats, blank, run_length, running_total, two_threshold, with_past
from monitor.levels import rule
from monitor.phases import RUNNING
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

PAIRS = {
    "zone_temperature": "zone_setpoint",
    "screw_speed": "screw_speed_setpoint",
    "line_rate": "line_rate_setpoint",
    "feeder_rate": "feeder_setpoint",
    "vacuum": "vacuum_setpoint",
}
"""Measured role -> its set-point. A feeder with a logged weight is checked better by that."""

SCATTERS = ("line_rate", "feeder_rate", "vacuum")
"""Readings that never stand on their set-point for long: they scatter."""

MEASURED_CELLS = 60
"""A tag that has differed from its set-point in so many 10 s of running was measured then."""

TIMES_LONGEST = 10
"""A rounded reading stands on its set-point now and then: so many times the longest of these is no such chance."""

FASTEST_RAMP_S = 5.0
"""No drive turns a screw up from rest to its rated speed, or down, in less; usual are 10 to 30 s. Common practice."""


@dataclass(frozen=True)
class ActualIsSetpoint(RuleDefaults):
    """The logged 'actual' is the set-point: nothing is measured there.

    An operator would say: "it is always spot on, too good to be true". Shown by a set-point that moves by `step_pct`
    (5 C at least for a zone) while the actual is equal to it in the same 10 s as before and after; of a speed only by a
    step that no drive makes between two readings; of rates and vacuum, which always scatter, only where they have been
    equal for `held_s`, or by `equal_s` of equality alone (`lost_s` of one that was measured before: then its sensor
    was lost, and that is no remark; of a feeder: volumetric_too_long). What this tag seems to watch is not watched.
    Look-alikes: rounded readings of a well-kept zone or speed (equal for hours, but not through a step), a feeder that
    stands (zero), one that is refilled (its rate is shown as set meanwhile), a drive that is there before the next
    reading. Missing readings: the count starts anew. Memory: 2 cells and 3 counts a channel. Common practice,
    no source.
    """

    step_pct: float = setting(3, 0.5, 50, "% step of the set-point")
    held_s: float = setting(600, 60, 14400, "s of equality before a step, for what scatters")
    equal_s: float = setting(1800, 300, 14400, "s of equality, for what scatters")
    lost_s: float = setting(900, 300, 14400, "s of equality, for what scattered before")
    on_s: float = setting(10, 10, 600, "s")
    off_s: float = setting(60, 10, 600, "s")

    name: ClassVar[str] = "actual_is_setpoint"
    family: ClassVar[Family] = "data"
    title: ClassVar[str] = "'actual' is a copy of the set-point"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = (
        "zone_setpoint|screw_speed_setpoint|line_rate_setpoint|feeder_setpoint|vacuum_setpoint",
    )

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Channels with a logged set-point."""
        logged, found = set(ctx.line.channels), []
        for key in ctx.line.channels:
            role, at = split_key(key)
            if role in PAIRS and channel_key(PAIRS[role], at) in logged:
                if role == "feeder_rate" and channel_key("feeder_weight", at) in logged:
                    continue
                found.append(key)
        return tuple(found)

    def channel(self, subject: str) -> str:
        """The channel."""
        return subject

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        k = len(subjects)
        return {
            "past": blank(2 * k, 2),
            "equal": np.zeros(k, np.int64),
            "on": np.zeros(k, bool),
            "measured": np.zeros(k),
            "longest": np.zeros(k, np.int64),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a channel."""
        k, n = len(subjects), view.n
        pairs = [(subject, channel_key(PAIRS[split_key(subject)[0]], split_key(subject)[1])) for subject in subjects]
        actual = np.array([view.get(one) for one, _ in pairs]).reshape(k, n)
        wanted = np.array([view.get(other) for _, other in pairs]).reshape(k, n)
        joined, past = with_past(state["past"], np.concatenate((actual, wanted), axis=0))
        equal = np.abs(joined[:k] - joined[k:]) <= 1e-9
        first, middle, now = joined[k:, :n], joined[k:, 1 : n + 1], joined[k:, 2:]
        zone = np.array([[subject.startswith("zone_")] for subject in subjects], bool).reshape(k, 1)
        scatters = np.array([[split_key(subject)[0] in SCATTERS] for subject in subjects], bool).reshape(k, 1)
        with np.errstate(invalid="ignore"):
            least = np.where(zone, 5.0, self.step_pct / 100 * np.abs(first))
            through = equal[:, :n] & equal[:, 1 : n + 1] & equal[:, 2:] & (np.abs(now - first) >= np.fmax(least, 1e-6))
            through &= (middle != 0) & (now != 0) & (first != 0)
            through &= np.abs(now - first) >= self._followed(subjects, first, now, ctx)
        length, equal_state = run_length(state["equal"], equal[:, 2:] & (wanted != 0) & view.in_phase(*RUNNING))
        through &= ~scatters | (length >= ctx.cells(self.held_s))
        known = np.isfinite(actual) & np.isfinite(wanted)
        apart = known & ~equal[:, 2:] & (wanted != 0) & view.in_phase(*RUNNING)
        measured = running_total(state["measured"], apart.astype(float))
        held = np.concatenate((state["equal"][:, None], length), axis=1)
        ended = np.where(held[:, 1:] == 0, held[:, :-1], 0)
        longest = np.maximum.accumulate(np.concatenate((state["longest"][:, None], ended), axis=1), axis=1)[:, 1:]
        before = measured >= MEASURED_CELLS
        least = np.where(before, np.fmax(ctx.cells(self.lost_s), TIMES_LONGEST * longest), ctx.cells(self.equal_s))
        feeder = np.array([[subject.startswith("feeder_rate")] for subject in subjects], bool).reshape(k, 1)
        shown = (through | (scatters & (length >= least))) & ~(feeder & before)
        lost = scatters & before
        on, after = two_threshold(state["on"], shown, known & ~equal[:, 2:])
        facts = {"value": actual, "wanted": wanted, "through": through.astype(float), "lost": lost.astype(float)}
        counted = measured[:, -1].copy() if n else state["measured"]
        state_after = {
            "past": past,
            "equal": equal_state,
            "on": after,
            "measured": counted,
            "longest": longest[:, -1].copy() if n else state["longest"],
        }
        return state_after, Judged(rule(on, known, np.ones((k, n), bool)), through.astype(float), facts)

    @staticmethod
    def _followed(subjects: tuple[str, ...], before: Floats, now: Floats, ctx: Context) -> Floats:
        """Least step that a drive cannot make between two readings, [subject, n]; 0 for what is no drive."""
        out = np.zeros(before.shape)
        for row, subject in enumerate(subjects):
            if split_key(subject)[0] == "screw_speed":
                sensor = next(one for one in ctx.line.sensor if one.role == "screw_speed")
                apart_s = max(ctx.line.line.cadence_s, sensor.hold_s or 0.0)
                whole = ctx.line.drive.rated_speed_rpm or np.fmax(np.abs(before[row]), np.abs(now[row]))
                out[row] = 2 * apart_s / FASTEST_RAMP_S * whole
        return out

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By what it is shown."""
        what = " ".join(split_key(subject)).replace("_", " ").strip()
        if facts["lost"]:
            return self._lost(subject, what, facts)
        why = "also while the set-point moved" if facts["through"] else "without any scatter"
        return Explanation(
            f"{what} equals its set-point to the last digit, {why}: a copy, nothing is measured there",
            4,
            "high" if facts["through"] else "medium",
            (Evidence(what, facts["value"], "", facts["wanted"], None, subject),),
            (
                Cause("set-point tag mapped as the actual value"),
                Cause("controller echoes its set-point while the sensor is off"),
            ),
            ("tag list of the logger", "reading on the controller's own display"),
        )

    @staticmethod
    def _lost(subject: str, what: str, facts: dict[str, float]) -> Explanation:
        """Of a tag that was measured before."""
        off = Cause("its sensor is off or failed, and the controller shows what is asked for")
        return Explanation(
            f"{what} has become its set-point to the last digit: it was measured before and is not now",
            3,
            "medium",
            (Evidence(what, facts["value"], "", facts["wanted"], None, subject),),
            (off,),
            ("reading on the controller's own display",),
        )
