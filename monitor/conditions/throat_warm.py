"""The feed throat jacket is getting warm: pellets will soften and bridge there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import fixed_base, recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class ThroatWarm(RuleDefaults):
    """The jacket of the feed throat is warmer than it was: bridging to come.

    An operator would say: "the throat is hot, it will bridge". Mean of five minutes over the recipe's upper limit, or
    `warmer_c` over the level of the first half hour of steady running, less what the cooling water rose, and at least
    `least_c`. It comes before the rate falls; once the load stands `less_load_pct` under what is usual at this speed
    and rate, material no longer gets in as it did, and there is no time left: priority 2. Look-alikes: season and
    warm header (what the water rose is taken off, or where it is not logged the hall, which the water of a tower
    follows and in which the jacket stands), another recipe's throat set-point (a planned stop or change starts the
    base anew after a stop), sun on the sensor. Missing readings do not start it; without a load it stays a look
    this shift. Memory: five minutes and a base. Common practice, no source.
    """

    warmer_c: float = setting(8, 2, 60, "C over the level of the first half hour")
    least_c: float = setting(35, 0, 150, "C below which a throat is cool")
    less_load_pct: float = setting(15, 5, 80, "% under the usual net torque")
    on_s: float = setting(120, 10, 3600, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "throat_warm"
    family: ClassVar[Family] = "over_temperature"
    title: ClassVar[str] = "feed throat getting warm"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("throat_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "cooling_water_temperature|ambient_temperature",
        "recipe",
        "torque|motor_current",
    )
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The throat."""
        return ("throat",) if ctx.has("throat_temperature") else ()

    def channel(self, subject: str) -> str:
        """The jacket."""
        return "throat_temperature"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base. less: whether the load was under its usual."""
        return {
            "less": np.zeros(1, bool),
            "now": recent_level.start(4, ctx.cells(300), 0),
            "base": fixed_base.start(3),
            "on": np.zeros(1, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        torque, (expected, _) = view.quantity("net_torque"), view.expectation("net_torque")
        with np.errstate(invalid="ignore", divide="ignore"):
            load = np.where(expected > 0, torque / expected - 1, np.nan)
        around = [view.get(key) for key in ("throat_temperature", "cooling_water_temperature", "ambient_temperature")]
        rows = np.array([*around, load])
        now_state, now = recent_level.advance(state["now"], rows)
        calm = view.in_phase("steady") & (view.ages["started"] >= 1800) & np.isfinite(now[0])
        base_state, base = fixed_base.advance(state["base"], now[:3], calm, view.ages["still"] > 1800, ctx.cells(1800))
        window = ctx.recipe.window_of("throat_temperature") if ctx.recipe else None
        high = window.high if window and window.high is not None else np.inf
        running = view.in_phase("steady", "settling", "changing")
        warmer, water, hall = now[:3] - base
        brings = hall if not ctx.has("cooling_water_temperature") else water
        with np.errstate(invalid="ignore"):
            own = warmer - np.fmax(np.nan_to_num(brings), 0.0)
            hot = (now[0] > high) | ((own >= self.warmer_c) & (now[0] >= self.least_c))
            cool = ~(now[0] > high - 2) & (~(own >= 0.6 * self.warmer_c) | ~(now[0] >= self.least_c))
        on, after = two_threshold(state["on"], (hot & running)[None, :], (cool | ~running)[None, :])
        level = rule(on, np.isfinite(now[:1]), running)
        share = self.less_load_pct / 100
        with np.errstate(invalid="ignore"):
            falls, back = on[0] & (now[3] <= -share), ~on[0] | ~(now[3] <= -0.6 * share)
        less, less_state = two_threshold(state["less"], falls[None, :], back[None, :])
        level[(level == 1) & less] = 2
        facts = {"value": now[0], "base": base[0], "water": water, "hall": hall, "load": now[3]}
        return {"less": less_state, "now": now_state, "base": base_state, "on": after}, Judged(level, now[:1], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How warm, against what, and whether the screw already gets less."""
        less = level >= 2
        by_hall = facts["water"] != facts["water"] and facts["hall"] == facts["hall"]
        key = "ambient_temperature" if by_hall else "cooling_water_temperature"
        since = ("hall since then", facts["hall"]) if by_hall else ("cooling water since then", facts["water"])
        evidence = (
            Evidence("throat jacket", facts["value"], "C", facts["base"], None, "throat_temperature"),
            Evidence(*since, "C", None, None, key),
        )
        load = Evidence("net torque against the usual", 100 * facts["load"], "%", 0.0, None, "net_torque")
        does = "softens or bridges there, the screw gets less" if less else "may soften and bridge there"
        return Explanation(
            f"feed throat jacket {facts['value']:.0f} °C: material {does}",
            2 if less else 3,
            "medium",
            (*evidence, load) if less else evidence,
            (
                Cause("cooling water shut, scaled or air-locked", shown_by=("cooling_scaled",)),
                Cause("first heated zone set too high, or overheating", shown_by=("zone_over_temperature",)),
                Cause("melt or gas backing up from the screw", shown_by=("flooded",)),
            ),
            ("water through the throat", "first zones", "material in the throat: sticky? bridging?"),
        )
