"""Nothing comes from the plant any more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import ROLES
from monitor import silent_log
from monitor.contract import CLEAR, Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import last_known
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import Readings

ON_CHANGE_CADENCES = 10
"""A reading that is said to stand for more cadences than this is one that is written when it changes."""


@dataclass(frozen=True)
class DataStopped(RuleDefaults):
    """No reading of any channel has arrived for a while.

    An operator would say: "the screen stands still". Nothing has arrived for `least_s`, three cadences, and three times
    the usual gap of this log, whichever is longest. A note at first, from `long_s` on priority 2: the line is not
    watched. Held readings are no arrivals. Look-alikes: a log that comes every half minute by habit (its usual gap is
    the second longest of the last eight), a logger that writes changes only (irregular gaps: the same; where every
    sensor, set-points and modes apart, has a `hold_s` of more than ten cadences, a running line is silent for `long_s`
    before it counts, a standing one, where nothing changes, for the shortest of them), store-and-forward bursts (the
    readings are there in the end, at their own times), the time before the first reading and after the end of a
    finished log (not judged). Missing readings are the matter itself. Memory: 8 gaps and a speed. Never taken as zero
    by anything. `least_s` is common practice, no source.
    """

    least_s: float = setting(5, 1, 600, "s")
    cadences: float = setting(3, 2, 60, "cadences")
    long_s: float = setting(60, 5, 3600, "s after which it is more than a note")

    name: ClassVar[str] = "data_stopped"
    family: ClassVar[Family] = "data"
    title: ClassVar[str] = "no data"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The log as a whole, charted by its first channel."""
        return ctx.line.channels[:1]

    def channel(self, subject: str) -> str:
        """The first channel."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The rule counts by itself."""
        return Timing(ctx.step_s, ctx.step_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing has come yet."""
        return {**silent_log.start(), "speed": np.full(1, np.nan)}

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 silent, 2 silent for long."""
        n = view.n
        arrived = view.arrived
        if arrived is None:
            arrived = np.logical_or.reduce(np.isfinite(view.values), axis=0)
        speed, speed_state = last_known(state["speed"], view.get("screw_speed")[None, :])
        least = ctx.cells(max(self.least_s, self.cadences * ctx.step_s))
        silent, limit, kept = silent_log.silence(state, arrived, least)
        after = {**kept, "speed": speed_state}
        if not silent.any():  # as nearly always
            return after, no_facts(np.full((1, n), CLEAR, np.int8))
        hold_s = self.on_change_s(ctx)
        if hold_s is not None:
            turns = speed[0] > turning_limit_rpm(ctx)
            limit = np.fmax(limit, np.where(turns, ctx.cells(min(self.long_s, hold_s)), ctx.cells(hold_s)))
        seen = np.logical_or.accumulate(np.concatenate(([state["seen"]], arrived)))
        silent = silent[None, :]
        level = rule(silent > limit, np.ones((1, n), bool), seen[1:])
        level[(level == 1) & (silent >= ctx.cells(self.long_s))] = 2
        facts = {"silent_s": (silent * ctx.step_s).astype(np.float64)}
        return after, Judged(level, silent.astype(float), facts)

    @staticmethod
    def on_change_s(ctx: Context) -> float | None:
        """How long a reading stands at least in a log that is written on change, s; None for one on a clock."""
        # Set-points and modes hold by themselves, on a clock as well: nobody says so in a file.
        stand = silent_log.STATE_HOLD_S
        holds = [s.hold_s for s in ctx.line.sensor if s.hold_s is not None or ROLES[s.role].hold_s < stand]
        told = [hold for hold in holds if hold is not None and hold > ON_CHANGE_CADENCES * ctx.line.line.cadence_s]
        return min(told) if told and len(told) == len(holds) else None

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long."""
        return Explanation(
            f"no data for {facts['silent_s']:.0f} s: the line is not watched",
            2 if level == 2 else 4,
            "high",
            (Evidence("since the last reading of any channel", facts["silent_s"], "s"),),
            (
                Cause("logger, gateway or network"),
                Cause("controller off or restarting"),
                Cause("log file closed or moved"),
            ),
            ("the machine's own display: is the line all right?", "logger and network"),
        )
