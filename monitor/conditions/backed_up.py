"""Melt stands where a part-filled screw should have no pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions.load_evidence import load_evidence, load_facts, moved
from monitor.conditions.machine_load import load, place_of
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, blank, last_known, trailing_mean, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

USUALLY_EMPTY_BAR = 8.0
"""A sensor that usually shows more does not stand over a part-filled stretch, whatever the line file says."""


@dataclass(frozen=True)
class BackedUp:
    """Melt stands where a part-filled screw should have no pressure (starve-fed lines).

    An operator would say: "it is backing up in the barrel". Over a conveying stretch, a vent port or a side feed a
    starve-fed screw has next to no pressure: more than 5 bar over the zero learned hot, and restless, is melt that
    fills the screws back to there. Look-alikes: thermal zero shift (1 to 3 bar, quiet), a sensor over kneading or
    reversing elements (usually under pressure: not watched), start and change (phase). Missing readings neither start
    nor end it. Memory: a switch, 7 cells and the zero kept over a change, a sensor. Thresholds: common practice, no
    source.
    """

    over_zero_bar: float = setting(5, 2, 50, "bar over the learned hot zero")
    unrest_bar: float = setting(0.4, 0.05, 10, "bar inside 10 s, mean of a minute")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "backed_up"
    family: ClassVar[Family] = "flooded"
    title: ClassVar[str] = "melt backing up in the barrel"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power", "vacuum", "stuffer_load")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "total_feed", "total_setpoint", "specific_throughput")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Pressure sensors over a conveying stretch of the barrel or at a vent, in bar."""
        return tuple(
            sensor.at
            for sensor in ctx.line.sensor
            if sensor.role == "melt_pressure"
            and sensor.key not in ctx.line.relative_channels
            and self._part_filled(place_of(sensor.position, sensor.at, ctx), sensor.at, ctx)
        )

    @staticmethod
    def _part_filled(place: str, at: str, ctx: Context) -> bool:
        if ctx.line.line.kind != "twin-screw":
            return False
        zone = next((zone for zone in ctx.line.zone if zone.name == at), None)
        conveying = zone is None or zone.element in ("conveying", "none")
        return place == "vent" or (place == "barrel" and conveying)

    def channel(self, subject: str) -> str:
        """The sensor."""
        return channel_key("melt_pressure", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Three 10 s cells in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not backed up."""
        count = len(subjects)
        return {
            "on": np.zeros(count, bool),
            "zero": np.full(count, np.nan),
            "unrest": blank(count, ctx.cells(60) - 1),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a sensor."""
        if not subjects:
            empty = np.zeros((0, view.n))
            return state, Judged(empty.astype(np.int8), empty, {})
        found = load(view, ctx)
        pressure = view.rows("melt_pressure", subjects)
        low, high = view.low_high("melt_pressure", subjects)
        unrest, unrest_state = trailing_mean(state["unrest"], high - low, 2)
        learned = np.array([view.expectation(self.channel(one))[0] for one in subjects]).reshape(-1, view.n)
        # The zero of an empty stretch stands whatever the speed and rate: it is kept over a change.
        zero, zero_state = last_known(state["zero"], learned)
        with np.errstate(invalid="ignore"):
            empty = zero < USUALLY_EMPTY_BAR
            over = pressure - zero
            rises = empty & (over >= self.over_zero_bar) & (unrest >= self.unrest_bar)
            falls = over < 0.6 * self.over_zero_bar
        running = view.in_phase("steady", "settling", "changing") & (view.ages["running"] >= 300.0) & ctx.starve_fed
        known = np.isfinite(over)
        on, on_state = two_threshold(state["on"], rises & running, (falls & known) | ~running)
        level = rule(on, known, running[None, :])
        facts = {**load_facts(found, view), "over": over, "here": pressure, "zero": zero, "unrest": unrest}
        return {"on": on_state, "zero": zero_state, "unrest": unrest_state}, Judged(level, _finite(over), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far over its zero, and what is seen downstream."""
        die_up = facts["pressure"] >= 0.05
        held = facts["pressure"] < 0.03
        causes = [
            Cause(
                "flooded from downstream: screen, die or cold melt",
                ("pressure before the die is up",) if die_up else (),
                ("pressure before the die is not up",) if held else (),
                shown_by=("restricted", "toward_over_pressure"),
            ),
            Cause(
                "too much rate for this speed",
                ("torque is up",) if facts["torque"] >= 0.04 else (),
                shown_by=("flooded",),
            ),
            Cause("worn screw elements: they build pressure over a longer stretch"),
        ]
        if held:
            causes = [causes[1], causes[0], causes[2]]
        return Explanation(
            f"melt backs up to {subject}: {facts['over']:.0f} bar over its hot zero, and restless",
            2,
            "high" if die_up else "medium",
            (
                Evidence(f"pressure at {subject}", facts["here"], "bar", facts["zero"], None, self.channel(subject)),
                Evidence("unrest inside 10 s", facts["unrest"], "bar"),
                *load_evidence(facts, ctx),
            ),
            tuple(causes),
            ("side feeder and vents near it", "screen and die pressure", "cut the rate, by site procedure"),
            cautions.PRESSURE,
            moved(facts),
        )


def _finite(x: Floats) -> Floats:
    return np.where(np.isnan(x), 0.0, x)
