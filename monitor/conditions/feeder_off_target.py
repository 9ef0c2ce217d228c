"""A feeder delivers, but not what it is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import blank, trailing_mean
from monitor.levels import levels_above
from monitor.records import Evidence, Family
from monitor.view import CoarseView

STOPPED_PCT = -40.0
"""Deviation below which a feeder has stopped rather than strayed."""


@dataclass(frozen=True)
class FeederOffTarget:
    """A feeder delivers, but not what it is told.

    An operator would say: "the talc feeder does not hold its rate". The 180 s mean is off its set-point by more
    than 3 % for 60 s (a minute and a half of overshoot after a refill is usual, and many logs do not show refills);
    under 5 kg/h the 300 s mean by more than 5 %. Level 2: the 60 s mean beyond 10 % (common practice, no source).
    Refill hold and the 30 s after it do not count. Below 60 % of set it is no longer off target but bridged, empty
    or tripped: other conditions say so. Look-alikes: refill, catch sample, a set-point just moved.
    Missing readings neither start nor end it. Memory: 30 cells a feeder.
    """

    off_pct: float = setting(3, 0.5, 50, "% of set")
    far_off_pct: float = setting(10, 1, 100, "% of set")
    small_off_pct: float = setting(5, 0.5, 50, "% of set, small feeders")
    small_kg_h: float = setting(5, 0, 100, "kg/h")
    on_s: float = setting(60, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "feeder_off_target"
    family: ClassVar[Family] = "feeder"
    title: ClassVar[str] = "feeder off its set-point"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate, and a set-point or a recipe share to hold it against."""
        return feeder_signals.usable_feeders(ctx)

    def channel(self, subject: str) -> str:
        """The rate."""
        return f"feeder_rate:{subject}"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the mean's own delay."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count = len(subjects)
        return {
            "refill": feeder_signals.refill_start(subjects),
            "fast": blank(count, ctx.cells(60) - 1),
            "middle": blank(count, ctx.cells(180) - 1),
            "slow": blank(count, ctx.cells(300) - 1),
            "on": np.zeros((count, 1), bool),
            "far": np.zeros((count, 1), bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 far off."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        busy, refill = feeder_signals.refilling(state["refill"], view, subjects)
        used = feeder_signals.in_use(view, wanted)
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.where(used & ~busy, 100 * (rate / wanted - 1), np.nan)
        fast, fast_past = trailing_mean(state["fast"], off, ctx.cells(40))
        strays = np.where(off < STOPPED_PCT, np.nan, off)  # a stop of minutes would be in these means long after it
        slow, slow_past = trailing_mean(state["slow"], strays, ctx.cells(240))
        middle, middle_past = trailing_mean(state["middle"], strays, ctx.cells(120))
        small = wanted < self.small_kg_h
        mean = np.where(small, slow, middle)
        near = np.where(small, self.small_off_pct, self.off_pct)
        far = np.where(small, 2 * self.far_off_pct, self.far_off_pct)
        stopped = np.nan_to_num(fast) < STOPPED_PCT
        usable = used & ~stopped
        on, level = levels_above(state["on"], np.abs(mean), (near,), 0.3 * near, usable)
        far_on, far_level = levels_above(state["far"], np.abs(np.where(small, slow, fast)), (far,), 0.3 * far, usable)
        level = np.where(far_level > 0, np.int8(2), level)
        mean = np.where(far_level > 0, np.where(small, slow, fast), mean)
        facts = {
            "off": mean,
            "rate": wanted * (1 + mean / 100),
            "wanted": wanted,
            "drive": view.rows("feeder_drive", subjects),
        }
        after = {"refill": refill, "fast": fast_past, "middle": middle_past, "slow": slow_past, "on": on, "far": far_on}
        return after, Judged(level, np.abs(mean), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, which way, and what drive says."""
        off, drive = facts["off"], facts["drive"]
        name = feeder_signals.label(subject, ctx)
        evidence = [Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, self.channel(subject))]
        if drive == drive:
            evidence.append(Evidence("feeder drive", drive, "%", None, None, f"feeder_drive:{subject}"))
        limit = ctx.line.feeder_named(subject).drive_limit_pct
        if off < 0 and drive >= 0.9 * limit:
            causes: tuple[str, ...] = (
                "bridging or low bulk density: drive near its limit",
                "hopper nearly empty",
            )
        elif off < 0:
            causes = ("controller tuning or volumetric mode", "hopper nearly empty", "bridging begins")
        else:
            causes = ("powder flushing", "controller tuning or volumetric mode", "scale disturbed")
        return Explanation(
            f"{name} {abs(off):.1f} % {'above' if off > 0 else 'below'} its set-point",
            2 if level > 1 else 3,
            "high",
            tuple(evidence),
            causes,
            ("hopper level and flow", "feeder mode and drive", "anything touching the scale"),
        )
