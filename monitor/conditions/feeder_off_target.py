"""A feeder delivers, but not what it is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.conditions import feeder_signals
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.levels import levels_above
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

FAR_SCATTERS = 4.0
"""A single minute is given so many standard deviations of such minutes; the 180 s mean fewer, for it scatters less."""

STOPPED_PCT = -40.0
"""Deviation below which a feeder has stopped rather than strayed."""


@dataclass(frozen=True)
class FeederOffTarget:
    """A feeder delivers, but not what it is told.

    An operator would say: "the talc feeder does not hold its rate". The 180 s mean is off its set-point by more
    than 3 % for 60 s (a minute and a half of overshoot after a refill is usual, and many logs do not show refills);
    under 5 kg/h the 300 s mean by more than 5 %. Level 2: the 60 s mean beyond 10 % (common practice, no source). A
    feeder whose 60 s means scatter is given 2.5 times their standard deviation: its scatter is quoted, a lasting
    error of more is still said. Refill hold and the 30 s after it do not count. Below 60 % of set it is no longer
    off target but bridged, empty or tripped: other conditions say so. Rates logged as whole numbers may be half a
    unit off and mean nothing by it. Look-alikes: refill by mark or weight, catch sample, a set-point just moved.
    Missing readings neither start nor end it. Memory: half an hour of running totals a feeder.
    """

    off_pct: float = setting(3, 0.5, 50, "% of set")
    far_off_pct: float = setting(10, 1, 100, "% of set")
    small_off_pct: float = setting(5, 0.5, 50, "% of set, small feeders")
    small_kg_h: float = setting(5, 0, 100, "kg/h")
    scatters: float = setting(2.5, 0, 10, "times the scatter of its 60 s means")
    on_s: float = setting(60, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "feeder_off_target"
    family: ClassVar[Family] = "feeder"
    title: ClassVar[str] = "feeder off its set-point"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_setpoint", "feeder_drive", "feeder_weight")
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
            "rounding": feeder_signals.rounding_start(subjects),
            "fast": window_start(count, ctx.cells(60)),
            "scatter": feeder_signals.scatter_start(subjects, ctx),
            "fast_strays": window_start(count, ctx.cells(60)),
            "middle": window_start(count, ctx.cells(180)),
            "slow": window_start(count, ctx.cells(300)),
            "on": np.zeros((count, 1), bool),
            "far": np.zeros((count, 1), bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 far off."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        busy = feeder_signals.refilling(view, subjects)
        used = feeder_signals.in_use(view, wanted)
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.where(used & ~busy, 100 * (rate / wanted - 1), np.nan)
        fast, fast_past = window_mean(state["fast"], off, ctx.cells(60), ctx.cells(40))
        strays = np.where(off < STOPPED_PCT, np.nan, off)  # a stop of minutes would be in these means long after it
        near_fast, near_fast_past = window_mean(state["fast_strays"], strays, ctx.cells(60), ctx.cells(40))
        scatter, scatter_state = feeder_signals.minute_scatter(state["scatter"], near_fast, ctx)
        slow, slow_past = window_mean(state["slow"], strays, ctx.cells(300), ctx.cells(240))
        middle, middle_past = window_mean(state["middle"], strays, ctx.cells(180), ctx.cells(120))
        small = wanted < self.small_kg_h
        rounded, rounding = feeder_signals.rounding(state["rounding"], view, subjects)
        with np.errstate(divide="ignore", invalid="ignore"):
            slack = np.where(wanted > 0, 100 * rounded / wanted, 0.0)
        mean = np.where(small, slow, middle)
        near = np.fmax(np.where(small, self.small_off_pct, self.off_pct), slack)
        near = np.fmax(near, self.scatters * scatter)
        far = np.fmax(np.where(small, 2 * self.far_off_pct, self.far_off_pct), 2 * slack)
        far = np.fmax(far, FAR_SCATTERS * scatter)
        stopped = np.nan_to_num(fast) < STOPPED_PCT
        usable = used & ~stopped
        on, level = levels_above(state["on"], np.abs(mean), (near,), 0.3 * near, usable)
        far_on, far_level = levels_above(
            state["far"], np.abs(np.where(small, slow, near_fast)), (far,), 0.3 * far, usable
        )
        level = np.where(far_level > 0, np.int8(2), level)
        mean = np.where(far_level > 0, np.where(small, slow, near_fast), mean)
        facts = {
            "off": mean,
            "rate": wanted * (1 + mean / 100),
            "wanted": wanted,
            "drive": view.rows("feeder_drive", subjects),
            "scatter": 2 * scatter,
            "factor": feeder_signals.rows_of(view, "feed_factor", subjects),
            "usual": feeder_signals.rows_of(view, "usual_feed_factor", subjects),
            "falls_with": feeder_signals.falls_with_neighbours(
                wanted * (1 + np.fmin(fast, middle) / 100), wanted, subjects, ctx, 1 - self.off_pct / 200
            ),
        }
        after = {
            "rounding": rounding,
            "fast": fast_past,
            "fast_strays": near_fast_past,
            "scatter": scatter_state,
            "middle": middle_past,
            "slow": slow_past,
            "on": on,
            "far": far_on,
        }
        return after, Judged(level, np.abs(mean), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, which way, and what drive says."""
        off, drive = facts["off"], facts["drive"]
        name = feeder_signals.label(subject, ctx)
        evidence = [Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, self.channel(subject))]
        if drive == drive:
            evidence.append(Evidence("feeder drive", drive, "%", None, None, f"feeder_drive:{subject}"))
        if facts["scatter"] > 0:
            evidence.append(Evidence("scatter of its 60 s samples, 2 sigma", facts["scatter"], "%"))
        causes = self._causes(subject, facts, ctx)
        return Explanation(
            f"{name} {abs(off):.1f} % {'above' if off > 0 else 'below'} its set-point",
            2 if level > 1 else 3,
            "high",
            tuple(evidence),
            causes,
            (
                "hopper level and flow",
                "feeder mode and drive",
                "anything touching the scale",
                feeder_signals.what_losing_it_does(subject, ctx)
                if off < 0
                else feeder_signals.what_more_of_it_does(subject, ctx),
            ),
        )

    @staticmethod
    def _causes(subject: str, facts: dict[str, float], ctx: Context) -> tuple[Cause, ...]:
        """Ranked by what drive and feed factor say; both are only known where the drive is logged."""
        drive, limit = facts["drive"], ctx.line.feeder_named(subject).drive_limit_pct
        empty = Cause("hopper nearly empty", (), (), ("refill_not_answered", "hopper_running_empty"))
        mode = Cause("controller tuning or volumetric mode", (), (), ("volumetric_too_long",))
        if facts["off"] > 0:
            slow = facts["drive"] < 0.7 * facts["wanted"] / facts["usual"]
            minimum = (f"drive only {drive:.0f} %",) if slow else ()
            flush = Cause("powder flushing", minimum, (), ("flushing",))
            return (flush, mode, Cause("scale disturbed"))
        shared = feeder_signals.shared_chute_cause(facts["falls_with"])
        weak = facts["factor"] < 0.9 * facts["usual"]
        less = ("it delivers less a turn than usual",) if weak else ()
        if drive >= 0.9 * limit:
            at_limit = (f"drive at {drive:.0f} %, near its limit of {limit:.0f} %", *less)
            return (
                *shared,
                Cause("bridging or low bulk density: drive near its limit", at_limit, (), ("feed_factor_moved",)),
                Cause("rat-holing: what is left flows in bursts", less),
                empty,
            )
        room = (f"drive at {drive:.0f} % has room left",) if drive == drive else ()
        return (*shared, mode, empty, Cause("bridging or rat-holing begins", less, room))
