"""A feeder that should deliver does not: bridged or empty with its drive turning, or tripped with it still."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, trailing_mean, two_threshold
from monitor.levels import rule
from monitor.records import Evidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class FeederBridged:
    """A feeder's rate falls away while its drive turns: bridged, rat-holing or run empty.

    An operator would say: "the feeder is bridged". Reported rate under 60 % of set for 20 s outside refills, drive
    not stopped. The drive climbing to its limit and a weight standing still make it sure; where neither is logged
    (plain channel set) bridged, empty and tripped cannot be told apart and all three are said.
    Look-alikes: trip (drive still), refill (excluded, with 30 s after), set-point zero (not judged), volumetric
    fallback (rate reads on set: see feeder_weight_still). Missing readings neither start nor end it.
    Memory: a switch and 3 cells a feeder. Common practice, no source.
    """

    low_share: float = setting(0.6, 0.2, 0.9, "of the set rate")
    off_share: float = setting(0.8, 0.3, 1.0, "of the set rate, to clear")
    still_drive_pct: float = setting(3, 0, 20, "% drive that counts as still")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    drive_still: ClassVar[bool] = False
    name: ClassVar[str] = "feeder_bridged"
    family: ClassVar[Family] = "feeder"
    title: ClassVar[str] = "feeder delivers far less, drive turning"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate in a known unit."""
        return feeder_signals.usable_feeders(ctx)

    def channel(self, subject: str) -> str:
        """The rate."""
        return f"feeder_rate:{subject}"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two cells in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Delivering."""
        count = len(subjects)
        return {
            "refill": feeder_signals.refill_start(subjects),
            "on": np.zeros(count, bool),
            "drive": blank(count, ctx.cells(120)),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        drive, weight = view.rows("feeder_drive", subjects), view.rows("feeder_weight", subjects)
        busy, refill = feeder_signals.refilling(state["refill"], view, subjects)
        used = feeder_signals.in_use(view, wanted) & ~busy
        usual_drive, drive_past = trailing_mean(state["drive"], drive)
        rises, falls = self._switches(rate, wanted, drive)
        on, on_state = two_threshold(state["on"], rises & used, falls | ~(wanted > 0))
        level = rule(on, np.isfinite(rate), feeder_signals.in_use(view, wanted))
        level[(level == 1) & (rate < 0.3 * wanted)] = 2
        facts = {
            "rate": rate,
            "wanted": wanted,
            "drive": drive,
            "usual_drive": usual_drive,
            "weight": weight,
            "share": 100
            * wanted
            / np.where(view.quantity("total_setpoint") > 0, view.quantity("total_setpoint"), np.nan),
        }
        after = {"refill": refill, "on": on_state, "drive": drive_past}
        with np.errstate(divide="ignore", invalid="ignore"):
            return after, Judged(level, 1 - rate / wanted, facts)

    def _switches(self, rate: Floats, wanted: Floats, drive: Floats) -> tuple[Bools, Bools]:
        with np.errstate(invalid="ignore"):
            still = drive <= self.still_drive_pct
            low, well = rate < self.low_share * wanted, rate >= self.off_share * wanted
        return (low & still, well | ~still) if self.drive_still else (low & ~still, well | still)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What it delivers, what its drive and weight do, what it means for the product."""
        name = feeder_signals.label(subject, ctx)
        feeder = ctx.line.feeder_named(subject)
        drive, weight = facts["drive"], facts["weight"]
        known = drive == drive
        climbs = drive >= 0.9 * feeder.drive_limit_pct or drive > 1.25 * facts["usual_drive"]
        empty = weight < 0.02 * (feeder.hopper_kg or 50.0)
        words = "tripped" if self.drive_still else "empty" if empty else "bridged" if climbs else "delivers little"
        return Explanation(
            f"{name} {words}: {facts['rate']:.1f} of {facts['wanted']:.1f} kg/h",
            2,
            "high" if known else "medium",
            self._evidence(subject, name, facts),
            self._causes(known, climbs, empty),
            (
                "hopper: empty, bridged, outlet closed",
                "drive: trip, coupling, local switch",
                "refill valve and silo",
            ),
            cautions.MOVING,
        )

    def _causes(self, known: bool, climbs: bool, empty: bool) -> tuple[str, ...]:
        if self.drive_still:
            return ("drive tripped or switched off", "interlock", "motor or coupling")
        if not known:
            return ("bridged", "run empty: refill not answered", "drive tripped: its speed is not logged")
        if empty:
            return ("run empty: refill not answered", "silo or refill valve")
        if climbs:
            return (
                "bridged or outlet blocked",
                "run empty: refill not answered",
                "feed screw or coupling broken",
            )
        return ("volumetric mode at a low speed", "bridged", "coupling broken")

    def _evidence(self, subject: str, name: str, facts: dict[str, float]) -> tuple[Evidence, ...]:
        out = [Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, self.channel(subject))]
        if facts["drive"] == facts["drive"]:
            usual = facts["usual_drive"]
            expected = None if np.isnan(usual) else usual
            out.append(Evidence("feeder drive", facts["drive"], "%", expected, None, f"feeder_drive:{subject}"))
        if facts["weight"] == facts["weight"]:
            out.append(Evidence("weight in its hopper", facts["weight"], "kg", None, None, f"feeder_weight:{subject}"))
        if facts["share"] == facts["share"]:
            out.append(Evidence("share it should have", facts["share"], "%"))
        return tuple(out)


@dataclass(frozen=True)
class FeederTripped(FeederBridged):
    """A feeder's rate is gone and its drive stands still while it is told to deliver.

    An operator would say: "the feeder has tripped". As for a bridged feeder, with the drive at or below
    `still_drive_pct`; armed only where the drive is logged.
    """

    drive_still: ClassVar[bool] = True
    name: ClassVar[str] = "feeder_tripped"
    title: ClassVar[str] = "feeder stopped while told to deliver"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_drive")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate and a drive."""
        driven = ctx.subjects_of("feeder_drive")
        return tuple(name for name in feeder_signals.usable_feeders(ctx) if name in driven)
