"""The screw does not turn at the speed it is told, or swings about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import recent_level
from monitor.conditions.torque_high import START_S, gross_load_pct
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import (
    Bools,
    Floats,
    accumulate_while,
    blank,
    count_true,
    trailing_extremes,
    turns,
    two_threshold,
    with_past,
)
from monitor.levels import rule
from monitor.phases import RUNNING, turning_limit_rpm
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

HUNT_S = 90.0
"""A drive hunts with some seconds to a minute a swing; common practice, no source."""

TURNS = 3
"""Down and up again are two: a screw that idles for two minutes. A swing of two minutes makes three in `2 HUNT_S`."""

CLOSES_S, CLOSES_BY = 20.0, 0.9
"""What is off by so much less than so long ago is on its way: a drive let go by its limiter ramps up again."""

AT_LIMIT_PCT = 95.0
"""A limiter holds the load about the limit; a mean of 10 s lies so near to it."""

HUNTING = 2
"""Level of a swing."""


@dataclass(frozen=True)
class SpeedDeviation(RuleDefaults):
    """Screw speed stays off its set-point, or swings about it.

    An operator would say: "it does not reach its speed". Off by more than `off_pct` of the set-point and `off_rpm`,
    for `on_s`, a minute and a half after the last change of set-point. Hunting: within each of the last two times
    `HUNT_S` the 10 s means were `hunt_pct` above and below the set-point (the mean of ten minutes where none is
    logged), and went from one side to the other three times: once is a bump, twice a swing. Pressure and load swing
    in step with it. Look-alikes: ramp after a change (not judged), a speed that a limit held back and that now
    comes up (it closes in: not judged meanwhile), start and stop (not judged), slowed down and brought up again by
    hand (two moves), a start whose load has been at its limit (cooled melt is pushed through first: not judged for
    5 min), rounded tags (under `off_rpm`), a set-point that is not used because another drive leads (said as a
    cause; with a melt pump a note). Missing readings do not start it. Memory: 10 min of speed. Common practice, no
    source.
    """

    off_pct: float = setting(2, 0.5, 30, "% of the set-point")
    off_rpm: float = setting(2, 0.1, 50, "rpm")
    hunt_pct: float = setting(1.2, 0.2, 20, "% to either side of the set-point")
    hunt_rpm: float = setting(1, 0.1, 20, "rpm to either side, at least")
    ramp_s: float = setting(90, 10, 900, "s after a change of set-point")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(30, 10, 600, "s")

    name: ClassVar[str] = "speed_deviation"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "screw speed off its set-point"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("screw_speed",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("screw_speed_setpoint", "torque|motor_current|drive_power")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The screw."""
        return ("screw",) if ctx.has("screw_speed") and "screw_speed" not in ctx.line.relative_channels else ()

    def channel(self, subject: str) -> str:
        """The speed."""
        return "screw_speed"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not off."""
        return {
            "on": np.zeros(2, bool),
            "ago": blank(1, ctx.cells(CLOSES_S)),
            "mean": recent_level.start(1, ctx.cells(600), 0),
            "late": blank(1, ctx.cells(HUNT_S) - 1),
            "early": blank(2, ctx.cells(HUNT_S)),
            "limited": np.zeros(1),
            "side": np.full(1, np.nan),
            "turns": blank(1, 2 * ctx.cells(HUNT_S) - 1),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        speed, wanted = view.get("screw_speed"), view.get("screw_speed_setpoint")
        load, turning = gross_load_pct(view, ctx), view.ages["turning"]
        with np.errstate(invalid="ignore"):
            at_limit = (load >= AT_LIMIT_PCT)[None, :].astype(float)
        limited, limited_state = accumulate_while(state["limited"], at_limit, (turning > 0)[None, :])
        held_up = (limited[0] > 0) & (turning < START_S)
        with np.errstate(invalid="ignore"):
            off, allowed = np.abs(speed - wanted), np.fmax(self.off_pct / 100 * wanted, self.off_rpm)
            armed = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= self.ramp_s)
            middle, kept = self._middle(state, speed, wanted)
            armed &= (middle > turning_limit_rpm(ctx)) & (view.ages["turning"] >= self.ramp_s)
            joined_off, ago_state = with_past(state["ago"], off[None, :])
            closes = off <= CLOSES_BY * joined_off[0, : view.n]
            far, near = (off > allowed) & ~closes & ~held_up, off < 0.7 * allowed
            # Without a set-point a swing itself looks like a change of speed: both sides of its mean, twice, is none.
            moving = view.in_phase(*RUNNING) & (view.ages["turning"] >= 600.0)
            armed = np.where(np.isnan(wanted), moving & (middle > turning_limit_rpm(ctx)), armed)
            beside = np.where(armed, speed - middle, np.nan)[None, :]
            low, high, kept["late"] = trailing_extremes(state["late"], beside)
            kept["ago"], kept["limited"] = ago_state, np.minimum(limited_state, 1.0)
            joined, kept["early"] = with_past(state["early"], np.concatenate((low, high), axis=0))
            least, most = joined[0, : view.n], joined[1, : view.n]
            hunt = np.fmax(self.hunt_pct / 100 * middle, self.hunt_rpm)
            swing = np.fmin(np.fmin(high[0], -low[0]), np.fmin(most, -least))
            turned, sides = self._turned(state, beside, hunt, 2 * ctx.cells(HUNT_S))
            kept.update(sides)
            hunts, calm = (swing >= hunt) & turned, ~(np.fmin(high[0], -low[0]) >= 0.6 * hunt)
        rises, falls = np.array([far & armed, hunts & armed]), np.array([near | closes | np.isnan(off), calm]) | ~armed
        on, kept["on"] = two_threshold(state["on"], rises, falls)
        facts = {"speed": speed, "wanted": middle, "load": load, "swing": swing}
        level = rule(on[:1] | on[1:], (np.isfinite(speed) & np.isfinite(middle))[None, :], armed)
        level[(level == 1) & on[1:]] = HUNTING
        return kept, Judged(level, np.where(on[1], swing, off)[None, :], facts)

    @staticmethod
    def _turned(state: State, beside: Floats, hunt: Floats, width: int) -> tuple[Bools, State]:
        """Whether it went from one side to the other three times in `width` cells, [n]. beside: [1, n], hunt: [n]."""
        side = np.where(beside >= hunt, 1.0, np.where(beside <= -hunt, -1.0, np.nan))
        turned, after = turns(state["side"], side)
        lately, past = with_past(state["turns"], turned.astype(float))
        return count_true(lately > 0, width)[0] >= TURNS, {"side": after, "turns": past}

    @staticmethod
    def _middle(state: State, speed: Floats, wanted: Floats) -> tuple[Floats, State]:
        """What the speed should be, [n]: set-point, else its own mean."""
        mean_state, mean = recent_level.advance(state["mean"], speed[None, :])
        return np.where(np.isnan(wanted), mean[0], wanted), {"mean": mean_state}

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By how much."""
        if level == HUNTING:
            return self._hunting(facts, ctx)
        speed, wanted, load = facts["speed"], facts["wanted"], facts["load"]
        limit = (f"load {load:.0f} % of its limit",) if load == load else ()
        slow, loaded = speed < wanted, load >= 90
        causes = [
            Cause(
                "drive at its torque or current limit", limit if loaded else (), () if loaded or not limit else limit
            ),
            Cause("drive fault, or scaling of speed or set-point wrong"),
            Cause("another set-point leads: suction pressure of the melt pump, load control"),
        ]
        off = 100 * abs(speed - wanted) / wanted
        led = ctx.has("melt_pump_speed") and not loaded
        order = [causes[2], causes[0], causes[1]] if led else causes if slow and not (limit and not loaded) else None
        return Explanation(
            f"screw turns at {speed:.1f} rpm, {off:.1f} % {'under' if slow else 'over'} its set-point of {wanted:.1f}",
            4 if led else 2 if off >= 10 else 3,
            "high",
            (
                Evidence("screw speed", speed, "rpm", wanted, None, "screw_speed"),
                Evidence("load of the drive", load, "% of the limit"),
            ),
            tuple(order or causes[1:] + causes[:1]),
            ("drive display: limit or fault", "load and melt temperature", "scaling of the tag"),
        )

    @staticmethod
    def _hunting(facts: dict[str, float], ctx: Context) -> Explanation:
        """How wide it swings; a screw led by the suction of a melt pump may."""
        led = ctx.has("melt_pump_speed")
        part = 100 * facts["swing"] / facts["wanted"]
        return Explanation(
            f"screw speed swings by {part:.1f} % to either side of {facts['wanted']:.1f} rpm",
            4 if led else 3,
            "high",
            (
                Evidence("swing of screw speed to either side", facts["swing"], "rpm", None, None, "screw_speed"),
                Evidence("load of the drive", facts["load"], "% of the limit"),
            ),
            (
                Cause("speed control of the drive hunting: tuning, encoder or tacho"),
                Cause("load swings and the drive follows it", shown_by=("zone_hunting",)),
                Cause("another set-point leads: suction pressure of the melt pump"),
            ),
            ("drive display: speed, current, encoder", "does it stop on a fixed set-point, by hand"),
        )
