"""The melt is thicker than it was."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions.die_side import DieSide, both_fit, thicker_cause, way_out_cause
from monitor.conditions.load_evidence import load_evidence, moved
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.records import Confidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class ViscousLot(DieSide):
    """The melt is more viscous, or colder, than it was.

    An operator would say: "this lot runs stiff". Pressure and torque are up together against what they should be at
    this speed and rate, and rate over speed holds: flow hardly depends on viscosity when screw and die share it.
    Look-alikes: a restriction (torque hardly moves: said as restricted), over-feeding (torque up more than pressure,
    sudden: said as flooded), a new lot with a small shift (below the limit), the slide after a start (torque and
    pressure fall). A look this shift; soon where torque is near its limit. Missing readings neither start nor end it.
    Memory: a switch and 15 cells. Thresholds: common practice, no source.
    """

    pressure_rise: float = setting(0.08, 0.02, 1.0, "in ln pressure; the same in restricted and viscous_lot")
    sigmas: float = setting(5, 2, 20, "sigma")
    on_s: float = setting(120, 10, 1800, "s")
    off_s: float = setting(180, 10, 3600, "s")

    name: ClassVar[str] = "viscous_lot"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "melt thicker than it was"

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        return self.judged(state, view, ctx, thicker=True)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far pressure is up, and what torque, melt temperature and rate say of it."""
        first, second = thicker_cause(facts), way_out_cause(facts)
        sure: Confidence = "low" if both_fit(facts) else "medium"
        where = first.text if not both_fit(facts) else f"{first.text} or {second.text}, both fit"
        rise = f"pressure up {100 * (np.exp(facts['pressure']) - 1):.0f} %"
        if facts["torque"] == facts["torque"]:
            rise += f", torque up {100 * (np.exp(facts['torque']) - 1):.0f} %"
        summary = f"{rise} at the same rate: {where}"
        checks = ("which lot runs", "melt temperature and zones", "moisture and melt flow of the lot")
        near = facts["gross"] >= 0.9 * ctx.line.drive.torque_limit_pct
        caution, priority = "", 2 if near else 3
        return Explanation(
            summary, priority, sure, load_evidence(facts, ctx), (first, second), checks, caution, moved(facts)
        )
