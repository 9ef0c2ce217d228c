"""A feeder delivers, but not what it is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import one_side
from monitor.conditions import feeder_signals, more_than_shown
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, count_true, run_length, trailing_extremes, with_past
from monitor.levels import levels_above
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

FAR_SCATTERS = 4.0
"""A single minute is given so many standard deviations of such minutes; the 180 s mean fewer, for it scatters less."""

LASTING_PART, LASTING_SHARE = 2 / 3, 0.5
"""An error lasts if this part of the readings behind the mean lie on its side by this share of its limit. A hand on the
hopper, a tare, a pulse of the extraction shifts the weight once: the controller's rate, a filtered slope of it, makes
one bump of some filter times and comes back, and a mean holds that bump for as long as it is wide."""

WANDERS = 3.0
"""The 180 s mean is given so many of its own standard deviations: a feeder whose rate wanders for minutes (lumps, its
controller) scatters more in such means than its minutes let expect. Three: about one false alarm in a shift of 240 such
means would need less."""

FAR_LOST_PCT = -15.0
"""No tuning loses so much for minutes: material fails to come. Common practice, no source."""

WOUND_UP_S = 300.0
"""A controller that has turned its drive up while too little came needs so long at most to come down again."""

MOVED_S = 120.0
"""A set-point that is led along, as by the level of a throat hopper or the speed of a screw, is followed a minute later
and shown through a filter: a rate it had asked for so lately is no error. Common practice, no source."""

FAR_HIGH = 1.5
"""Times its set-point: a rate that shows so much makes a controller turn its feeder down, as far as its filter lets it.
Common practice, no source."""

STOPPED_PCT = -40.0
"""Deviation below which a feeder has stopped rather than strayed."""

TURNED_UP = 0.08
"""Drive above what the wanted rate usually takes that shows a controller at work; common practice, no source."""


@dataclass(frozen=True)
class FeederOffTarget:
    """A feeder delivers, but not what it is told.

    An operator would say: "the talc feeder does not hold its rate". The 180 s mean is off its set-point by more than 3
    % for 60 s (a minute and a half of overshoot after a refill is usual, and many logs do not show refills); under 5
    kg/h the 300 s mean by more than 5 %. Level 2: the 60 s mean beyond 10 % (common practice, no source). A feeder
    whose 60 s means scatter is given 2.5 times their standard deviation: its scatter is quoted, a lasting error of more
    is still said. Refill hold and the 30 s after it do not count. Below 60 % of set it is no longer off target but
    bridged, empty or tripped: other conditions say so. Rates logged as whole numbers may be half a unit off and mean
    nothing by it. It begins where two thirds of the readings behind the mean lie on its side by half the limit, and the
    last minute by all of it, and ends where the last minute is inside half of it: one bump is none, nor what a
    controller is taking out. Too little and too much are two findings, one after the other; too much just after too
    little is a controller that comes down from where it was driven, no powder flushing: said as that, not urgent. Where
    no set-point is logged the recipe's share of its rate stands for it: what all such feeders are off by together is a
    line run at another rate, no feeder's error. Look-alikes: refill by mark or weight, catch sample, a set-point just
    moved or led along, a scale that was touched or tared, a feed factor that steps with regrind (one bump each).
    Missing readings neither start nor end it. Memory: an hour of running totals a feeder.
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
            "wander": feeder_signals.scatter_start(subjects, ctx, 180, 3600),
            "fast_strays": window_start(count, ctx.cells(60)),
            "middle": window_start(count, ctx.cells(180)),
            "slow": window_start(count, ctx.cells(300)),
            "near_sides": blank(count, ctx.cells(300) - 1),
            "far_sides": blank(count, ctx.cells(300) - 1),
            "on": np.zeros((count, 1), bool),
            "far": np.zeros((count, 1), bool),
            "side": one_side.start(count),
            "enough": np.full(count, one_side.LONG_AGO, np.int64),
            "high": np.full(count, one_side.LONG_AGO, np.int64),
            "asked": feeder_signals.asked_start(subjects),
            "lately": blank(count, ctx.cells(MOVED_S) - 1),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 far off."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        busy = feeder_signals.refilling(view, subjects)
        used = feeder_signals.in_use(view, wanted)
        anew, asked = feeder_signals.asked_anew(state["asked"], wanted, ctx)
        least, most, lately = trailing_extremes(state["lately"], np.where(wanted > 0, wanted, np.nan))
        with np.errstate(divide="ignore", invalid="ignore"):
            now_off = np.where(used & ~busy & ~anew, 100 * (rate / wanted - 1), np.nan)
            # What it was asked for within the last minutes is what it is on its way from.
            off = np.where(np.isnan(now_off), np.nan, 100 * (rate / np.clip(rate, least, most) - 1))
        fast, fast_past = window_mean(state["fast"], now_off, ctx.cells(60), ctx.cells(40))
        strays = np.where(now_off < STOPPED_PCT, np.nan, off)  # a stop of minutes would be in these means long after it
        near_fast, near_fast_past = window_mean(state["fast_strays"], strays, ctx.cells(60), ctx.cells(40))
        scatter, scatter_state = feeder_signals.minute_scatter(state["scatter"], near_fast, ctx)
        slow, slow_past = window_mean(state["slow"], strays, ctx.cells(300), ctx.cells(240))
        middle, middle_past = window_mean(state["middle"], strays, ctx.cells(180), ctx.cells(120))
        together = _shared_part(middle, ~np.isfinite(view.rows("feeder_setpoint", subjects)) & used)
        strays, near_fast, slow, middle = (x - together for x in (strays, near_fast, slow, middle))
        small = wanted < self.small_kg_h
        rounded, rounding = feeder_signals.rounding(state["rounding"], view, subjects)
        with np.errstate(divide="ignore", invalid="ignore"):
            slack = np.where(wanted > 0, 100 * rounded / wanted, 0.0)
        mean = np.where(small, slow, middle)
        near = np.fmax(np.where(small, self.small_off_pct, self.off_pct), slack)
        wander, after_wander = feeder_signals.minute_scatter(state["wander"], middle, ctx)
        near = np.fmax(near, np.fmax(self.scatters * scatter, WANDERS * wander))
        far = np.fmax(np.where(small, 2 * self.far_off_pct, self.far_off_pct), 2 * slack)
        far = np.fmax(far, FAR_SCATTERS * scatter)
        stopped = np.nan_to_num(fast) < STOPPED_PCT
        usable = used & ~stopped
        near_mean, far_mean = mean, np.where(small, slow, near_fast)
        held, after_sides = [], {}
        for name, value, limit, seconds in (("near", near_mean, near, 180), ("far", far_mean, far, 60)):
            side = np.where(np.abs(strays) >= LASTING_SHARE * limit, np.sign(strays), 0.0 * strays)
            joined, after_sides[name + "_sides"] = with_past(state[name + "_sides"], side)
            lasts = np.where(small, _lasts(joined, value, ctx.cells(300)), _lasts(joined, value, ctx.cells(seconds)))
            now = np.where(value > 0, near_fast, -near_fast)
            lasts &= now >= limit
            # What does not last is kept inside the deadband: it neither begins nor ends anything. What is past ends it.
            kept = np.where(lasts, np.abs(value), np.fmin(np.abs(value), 0.85 * limit))
            held.append(np.where(now < LASTING_SHARE * limit, 0.0, kept))
        on, level = levels_above(state["on"], held[0], (near,), 0.3 * near, usable)
        far_on, far_level = levels_above(state["far"], held[1], (far,), 0.3 * far, usable)
        level = np.where(far_level > 0, np.int8(2), level)
        mean = np.where(far_level > 0, far_mean, near_mean)
        level, side_after = one_side.one_side(state["side"], level, mean, ctx.cells(self.off_s))
        with np.errstate(invalid="ignore"):
            enough, enough_after = run_length(state["enough"], ~(used & (fast <= -far)))
            # What runs through after a refill is over before its means are asked for again.
            high, high_after = run_length(state["high"], ~(used & (rate >= FAR_HIGH * wanted)))
        facts = {
            "off": mean,
            "rate": wanted * (1 + mean / 100),
            "wanted": wanted,
            "drive": view.rows("feeder_drive", subjects),
            "scatter": 2 * scatter,
            "enough_s": enough * ctx.step_s,
            "high_s": high * ctx.step_s,
            "factor": feeder_signals.rows_of(view, "feed_factor", subjects),
            "usual": feeder_signals.rows_of(view, "usual_feed_factor", subjects),
            "falls_with": feeder_signals.falls_with_neighbours(
                wanted * (1 + np.fmin(fast, middle) / 100), wanted, subjects, ctx, 1 - self.off_pct / 200
            ),
            **more_than_shown.facts(wanted, view, subjects, ctx),
        }
        after = {
            "rounding": rounding,
            "fast": fast_past,
            "fast_strays": near_fast_past,
            "scatter": scatter_state,
            "wander": after_wander,
            "middle": middle_past,
            "slow": slow_past,
            "on": on,
            "far": far_on,
            "side": side_after,
            "enough": enough_after,
            "high": high_after,
            "asked": asked,
            "lately": lately,
            **after_sides,
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
        liquid = ctx.line.feeder_named(subject).kind == "liquid"
        more = off < 0 and not liquid and more_than_shown.told_by(subject, facts, ctx)
        faster = (f"its controller drives it to {drive:.0f} %",) if _turned_up(facts) else ()
        return Explanation(
            f"{name} {abs(off):.1f} % {'above' if off > 0 else 'below'} its set-point",
            2 if level > 1 and not _winds_down(facts) else 3,
            "high",
            tuple(evidence),
            more_than_shown.causes(facts, faster) if more else self._causes(subject, facts, ctx),
            (
                *(
                    ("tank, filter, pump and its stroke", "nozzle and line")
                    if liquid
                    else ("hopper level and flow", "feeder mode and drive", "anything touching the scale")
                ),
                feeder_signals.what_losing_it_does(subject, ctx)
                if off < 0
                else feeder_signals.what_more_of_it_does(subject, ctx),
            ),
            moved=more_than_shown.moved(facts) if more else {},
        )

    @staticmethod
    def _causes(subject: str, facts: dict[str, float], ctx: Context) -> tuple[Cause, ...]:
        """Ranked by what drive and feed factor say; both are only known where the drive is logged."""
        drive, limit = facts["drive"], ctx.line.feeder_named(subject).drive_limit_pct
        if ctx.line.feeder_named(subject).kind == "liquid":
            return feeder_signals.liquid_causes(facts["off"], drive >= 0.9 * limit)
        empty = Cause("hopper nearly empty", (), (), ("refill_not_answered", "hopper_running_empty"))
        mode = Cause("controller tuning or volumetric mode", (), (), ("volumetric_too_long",))
        if facts["off"] > 0:
            slow = facts["drive"] < 0.7 * facts["wanted"] / facts["usual"]
            minimum = (f"drive only {drive:.0f} %",) if slow else ()
            lacked = (f"too little came until {facts['enough_s'] / 60:.0f} min before",)
            wound = Cause("its controller comes down from where a shortage had driven it", lacked)
            flush = Cause("powder flushing", minimum, (), ("flushing",))
            return (wound, mode, flush) if _winds_down(facts) and not slow else (flush, mode, Cause("scale disturbed"))
        shared = feeder_signals.shared_chute_cause(facts["falls_with"])
        # A controller that has turned its drive up is not to blame for what does not come.
        turned_up = _turned_up(facts)
        weak = turned_up or facts["factor"] < 0.9 * facts["usual"]
        less = ("it delivers less a turn than usual",) if weak else ()
        if facts["high_s"] <= WOUND_UP_S and not turned_up:
            before = (f"it showed half as much again as set until {max(facts['high_s'] / 60, 1):.0f} min before",)
            shot = Cause("its controller has turned it down: powder had run through it", before, (), ("flushing",))
            return (shot, Cause("scale disturbed"), mode, empty)
        if drive >= 0.9 * limit:
            at_limit = (f"drive at {drive:.0f} %, near its limit of {limit:.0f} %", *less)
            return (
                *shared,
                Cause("bridging or low bulk density: drive near its limit", at_limit, (), ("feed_factor_moved",)),
                Cause("rat-holing: what is left flows in bursts", less),
                empty,
            )
        room = (f"drive at {drive:.0f} % has room left",) if drive == drive else ()
        bridge = Cause("bridging or rat-holing begins", less, room)
        if turned_up or (drive != drive and facts["off"] <= FAR_LOST_PCT):
            return (*shared, bridge, empty, mode)
        return (*shared, mode, empty, bridge)


def _turned_up(facts: dict[str, float]) -> bool:
    """Whether its controller turns it faster than the wanted rate usually takes."""
    return facts["drive"] >= (1 + TURNED_UP) * facts["wanted"] / facts["usual"]


def _winds_down(facts: dict[str, float]) -> bool:
    """Whether it brings too much just after it brought too little."""
    return facts["off"] > 0 and facts["enough_s"] <= WOUND_UP_S


def _lasts(sides: Floats, mean: Floats, width: int) -> Bools:
    """Where most known cells of the last `width` lie on the side of the mean, [subject, n].

    sides: 1 above, -1 below, 0 near, with the cells before, [subject, past + n].
    """
    part = sides[:, sides.shape[1] - mean.shape[1] - width + 1 :]
    same = np.where(mean > 0, count_true(part == 1, width), count_true(part == -1, width))
    return same >= LASTING_PART * count_true(np.isfinite(part), width)


def _shared_part(mean: Floats, untold: Bools) -> Floats:
    """What all feeders without a logged set-point are off by, percent: the least of theirs where all lie on one side.

    mean: deviation, percent; untold: wanted by the recipe alone, [subject, n]. 0 for the others, for one alone, and
    where they disagree.
    """
    values = np.where(untold, mean, np.nan)
    least = np.fmin.reduce(values, axis=0, initial=np.nan)
    most = np.fmax.reduce(values, axis=0, initial=np.nan)
    several = np.add.reduce(np.isfinite(values), axis=0, dtype=np.int64) > 1
    with np.errstate(invalid="ignore"):
        part = np.where(several & (least > 0), least, np.where(several & (most < 0), most, 0.0))
    return np.where(untold, part, 0.0)
