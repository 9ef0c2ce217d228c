"""The screw turns at another speed than the recipe's, and no set-point of it is logged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.conditions.setpoint_not_recipe import SAME_SPECIFIC_SHARE
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import trailing_mean
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class SpeedNotRecipe(RuleDefaults):
    """The screw of a starve-fed line turns faster or slower than the recipe says, while the rate does not go with it.

    An operator would say: "it runs at 280, the recipe says 350". For logs without the set-point of the speed: with it
    `setpoint_not_recipe` tells what was set and `speed_deviation` what the drive makes of it. The mean of a minute in
    steady running, off by `off_pct` for `on_s`: a look this shift, by `soon_pct` soon; within the window the recipe
    gives the speed a note. Look-alikes: another output on purpose (the rate is off by the same share), a flood-fed
    line or one with a melt pump, whose speed is how its output or suction is held (not watched), a start led up by hand
    (not steady), a speed that the operator moves for minutes (has to stand). Missing readings neither start nor end
    it; without a rate nothing is said. Memory: a minute. Thresholds: common practice, no source.
    """

    off_pct: float = setting(5, 1, 50, "% of the recipe's speed")
    soon_pct: float = setting(20, 2, 100, "% of the recipe's speed")
    on_s: float = setting(600, 60, 7200, "s")
    off_s: float = setting(60, 10, 1800, "s")

    name: ClassVar[str] = "speed_not_recipe"
    family: ClassVar[Family] = "window"
    title: ClassVar[str] = "screw speed is not the recipe's"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("screw_speed", "feeder_rate|line_rate")
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)
    quantities: ClassVar[tuple[str, ...]] = ("total_feed",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The screw of a starve-fed line without a set-point of its speed."""
        led = ctx.has("screw_speed_setpoint") or ctx.has("melt_pump_speed") or ctx.line.flood_fed
        own = ctx.has("screw_speed") and "screw_speed" not in ctx.line.relative_channels
        return ("screw_speed",) if own and not led else ()

    def channel(self, subject: str) -> str:
        """The speed."""
        return subject

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {"past": np.full((2, ctx.cells(60) - 1), np.nan)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row: level 1 within the recipe's own window, 2 a look this shift, 3 soon."""
        asked = ctx.recipe.recipe if ctx.recipe else None
        recipe = (asked.screw_speed_rpm or np.nan) if asked else np.nan
        rate = (asked.rate_kg_h or np.nan) if asked else np.nan
        rows = np.array([view.get("screw_speed"), view.quantity("total_feed")])
        (speed, feed), past = trailing_mean(state["past"], rows, ctx.cells(60) // 2)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = 100 * (speed / recipe - 1)
            planned = np.abs((feed / rate) / (speed / recipe) - 1) <= SAME_SPECIFIC_SHARE
            holds = (np.abs(off) >= self.off_pct) & ~planned
        level = rule(holds[None, :], np.isfinite(off + feed)[None, :], view.in_phase("steady"))
        level[level == 1] = 2
        level[(level == 2) & (np.abs(off) >= self.soon_pct)] = 3
        window = ctx.recipe.window_of("screw_speed") if ctx.recipe else None
        if window is not None and window.low is not None and window.high is not None:
            level[(level > 1) & (speed >= window.low) & (speed <= window.high)] = 1
        facts = {
            "speed": speed, "feed": feed, "wanted": np.full(view.n, recipe), "rate": np.full(view.n, rate), "off": off
        }  # fmt: skip
        return {"past": past}, Judged(level, np.abs(off)[None, :], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """From what it should be to what it is."""
        slower = facts["off"] < 0
        limited = Cause("drive does not hold its speed", shown_by=("torque_high",))
        return Explanation(
            f"screw turns at {facts['speed']:.4g} rpm, the recipe says {facts['wanted']:.4g}; the rate is not "
            f"{'reduced' if slower else 'raised'} with it",
            {1: 4, 2: 3, 3: 2}[level],
            "high",
            (
                Evidence("screw speed", facts["speed"], "rpm", facts["wanted"], None, subject),
                Evidence("rate fed", facts["feed"], "kg/h", facts["rate"], None, "total_feed"),
            ),
            (
                Cause("set by hand and left so"),
                *((limited,) if slower else ()),
                Cause("recipe file is not the one in force"),
            ),
            ("who changed it, and why", "the speed set on the line's own panel", "load of the drive and its limiter"),
            moved={"rate": 0.0},
        )
