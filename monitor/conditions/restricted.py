"""The way out of the screws is narrower than it was."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import cautions
from monitor.conditions.die_side import DieSide, both_fit, thicker_cause, way_out_cause, zero_cause
from monitor.conditions.load_evidence import load_evidence, moved
from monitor.conditions.melt_colder import colder_enough, is_colder
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.records import Confidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class Restricted(DieSide):
    """The way out of the screws is narrower than it was.

    An operator would say: "the screen is blocking" or "the die is plugging". Pressure ahead of screen and die is up
    against what it should be at this speed and rate, torque hardly, melt temperature up; on a flood-fed screw rate
    over speed is down. With a sensor on each side of the screen it says which; with one: screen or die.
    Look-alikes: a thicker or colder melt (torque rises with pressure: said as viscous_lot; where it is between, both
    causes are said), more fed (rate up), a slow blinding of the screen over hours, which the reference follows, a
    melt pump (its pressure judges nothing here). Missing readings neither start nor end it.
    Memory: a switch and 15 cells. Thresholds: common practice, no source.
    """

    pressure_rise: float = setting(0.08, 0.02, 1.0, "in ln pressure; the same in restricted and viscous_lot")
    sigmas: float = setting(5, 2, 20, "sigma")
    on_s: float = setting(120, 10, 1800, "s")
    off_s: float = setting(180, 10, 3600, "s")

    name: ClassVar[str] = "restricted"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "screen or die restricted"

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        return self.judged(state, view, ctx, thicker=False)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far pressure is up, and what torque, melt temperature and rate say of it."""
        first, second = way_out_cause(facts), thicker_cause(facts)
        if is_colder(facts) and colder_enough(facts, facts["pressure"]):
            first, second = second, first
        sure: Confidence = "low" if both_fit(facts) else "medium"
        where = first.text if not both_fit(facts) else f"{first.text} or {second.text}, both fit"
        summary = f"pressure up {100 * (np.exp(facts['pressure']) - 1):.0f} % at the same rate: {where}"
        checks = (
            "pressure before and behind the screen, and its zero at the next stop",
            "when the screen was changed",
            "die holes and strands",
        )
        caution, priority = cautions.PRESSURE, 3
        return Explanation(
            summary, priority, sure, load_evidence(facts, ctx), (first, *zero_cause(facts), second), checks, caution,
            moved(facts),
        )  # fmt: skip
