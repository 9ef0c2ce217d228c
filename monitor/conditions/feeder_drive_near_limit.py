"""A feeder's drive has little left before it can't hold its rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.levels import levels_above
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence
from monitor.view import CoarseView


@dataclass(frozen=True)
class FeederDriveNearLimit(FeederRule):
    """A feeder still holds its rate, with its drive near the end.

    An operator would say: "the feeder is flat out". 1 min mean of the drive at or above 85 % of its limit for 2 min
    (limit: `drive_limit_pct` of the line file); level 2 from 97 %: the rate goes next. Common practice, no source.
    Look-alikes: refill (the drive is held then: left out), a line about to be started (only steady running counts),
    a set-point just raised (the phase is 'changing' then).
    Missing readings neither start nor end it. Memory: 6 cells a feeder.
    """

    near_pct: float = setting(85, 50, 100, "% of the drive limit")
    at_pct: float = setting(97, 60, 110, "% of the drive limit")
    on_s: float = setting(120, 10, 3600, "s")
    off_s: float = setting(120, 10, 3600, "s")

    name: ClassVar[str] = "feeder_drive_near_limit"
    title: ClassVar[str] = "feeder drive near its limit"
    charted: ClassVar[str] = "feeder_drive"
    needs: ClassVar[tuple[str, ...]] = ("feeder_drive",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_setpoint", "feeder_refill|feeder_weight")
    quantities: ClassVar[tuple[str, ...]] = ("feed_factor", "usual_feed_factor")

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {"drive": window_start(len(subjects), ctx.cells(60)), "on": np.zeros((len(subjects), 2), bool)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 near, 2 at the limit."""
        drive, wanted = view.rows("feeder_drive", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        running = view.in_phase("steady") & ~(wanted <= 0)
        limit = np.array([[ctx.line.feeder_named(name).drive_limit_pct] for name in subjects]).reshape(-1, 1)
        used = np.where(running & ~feeder_signals.refilling(view, subjects), 100 * drive / limit, np.nan)
        mean, past = window_mean(state["drive"], used, ctx.cells(60), ctx.cells(30))
        shape = np.ones_like(mean)
        on, level = levels_above(state["on"], mean, (self.near_pct * shape, self.at_pct * shape), 3.0 * shape, running)
        facts = {
            "percent": mean,
            "drive": mean * limit / 100,
            "rate": view.rows("feeder_rate", subjects),
            "wanted": wanted,
            "factor": feeder_signals.rows_of(view, "feed_factor", subjects),
            "usual": feeder_signals.rows_of(view, "usual_feed_factor", subjects),
        }
        return {"drive": past, "on": on}, Judged(level, mean, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How much is left, and whether the material or the rate brought it there."""
        name = feeder_signals.label(subject, ctx)
        evidence = [Evidence("feeder drive", facts["drive"], "%", None, None, self.channel(subject))]
        if facts["rate"] == facts["rate"]:
            evidence.append(Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, f"feeder_rate:{subject}"))
        less = 100 * (facts["factor"] / facts["usual"] - 1)
        known = less == less
        if known:
            evidence.append(
                Evidence("feed factor", facts["factor"], "kg/h/%", facts["usual"], None, f"feed_factor:{subject}")
            )
        told = (f"it delivers {-less:.0f} % less a turn than usual",) if known and less < -5 else ()
        same = ("it delivers as much a turn as usual",) if known and less >= -5 else ()
        if ctx.line.feeder_named(subject).kind == "liquid":
            causes = feeder_signals.liquid_causes(-1.0, True)
            most = Cause("rate near the most this pump can give", same, told)
            causes = (most, *causes) if same else (*causes, most)
            checks = ("tank, filter, suction line", "nozzle and line", "a larger pump or stroke for this rate")
            return self._said(name, level, facts, evidence, causes, checks)
        causes = (
            Cause("lower bulk density, or a bridge or rat-hole building", told, same, ("feed_factor_moved",)),
            Cause("rate near the most this feed screw can give", same, told),
            Cause("hopper nearly empty", (), (), ("refill_not_answered", "hopper_running_empty")),
            Cause("feed screw or tube caked"),
        )
        checks = (
            "hopper: flow, fill, agitator",
            "bulk density of the lot",
            "a larger feed screw or gear for this rate",
        )
        ranked = causes if not same else (causes[1], causes[0], *causes[2:])
        return self._said(name, level, facts, evidence, ranked, checks)

    @staticmethod
    def _said(
        name: str,
        level: int,
        facts: dict[str, float],
        evidence: list[Evidence],
        causes: tuple[Cause, ...],
        checks: tuple[str, ...],
    ) -> Explanation:
        summary = f"{name}: drive at {facts['percent']:.0f} % of its limit"
        return Explanation(summary, 2 if level > 1 else 3, "high", tuple(evidence), causes, checks)
