"""The melt pump runs short of melt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import fixed_base, pressure_path, read_twice, recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import blank, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

AWAY, SAGS_SHARE = 0.12, 0.9
"""A screw that turns so much faster with so much less torque brings less a turn; the suction its control holds sags to
this. Common practice, no source."""


DRY_SHARE = 0.25
"""Of its usual suction: a pump that has so little draws no melt but what happens by. Common practice, no source."""


@dataclass(frozen=True)
class MeltPumpStarved(RuleDefaults):
    """Suction pressure of the melt pump falls while the screw turns faster to hold it.

    An operator would say: "the pump is pulling empty". The mean of 30 s of suction pressure is under `low_share` of
    its level of the first twenty minutes of steady running (or of the recipe's target), while screw speed is up by
    `faster_pct` on its own, or pump speed did not rise; or the suction has only sagged by a tenth, but the screw
    turns an eighth faster with an eighth less torque at the same pump speed. A pump that runs short loses its
    lubrication. Look-alikes: pump speed raised (output up: silent), planned change of rate (base stays; suction is
    held the same), start and stop (not judged). With a pump, pressure at the die no longer judges the extruder.
    Missing readings do not start it. Memory: half a minute and a base. Common practice, no source.
    """

    low_share: float = setting(0.6, 0.1, 0.95, "of the usual suction pressure")
    faster_pct: float = setting(3, 0.5, 50, "% that the screw turns faster than usual")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "melt_pump_starved"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "melt pump running short"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pump_speed", "melt_pressure@pump_suction")
    sharpened_by: ClassVar[tuple[str, ...]] = ("melt_pump_load", "torque|motor_current|drive_power")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The suction pressure."""
        return tuple(pressure_path.groups(ctx, "pump_suction")) if ctx.has("melt_pump_speed") else ()

    def channel(self, subject: str) -> str:
        """The suction pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base."""
        k = len(subjects)
        return {
            "now": recent_level.start(k + 4, ctx.cells(30), 0),
            "last": blank(k, 1),
            "base": fixed_base.start(k + 4),
            "on": np.zeros(k, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        k = len(subjects)
        suction = pressure_path.pressures(view, {s: pressure_path.groups(ctx)[s] for s in subjects})
        ahead = pressure_path.groups(ctx, "before_screen")
        first = pressure_path.pressure(view, next(iter(ahead.values()))) if ahead else np.full(view.n, np.nan)
        others = np.array([view.get("screw_speed"), view.get("melt_pump_speed"), first, view.quantity("net_torque")])
        given, last = read_twice.higher(state["last"], suction)
        now_state, now = recent_level.advance(state["now"], np.concatenate((given, others), axis=0))
        calm = view.in_phase("steady") & (view.ages["started"] >= 600)
        base_state, base = fixed_base.advance(state["base"], now, calm, view.ages["still"] > 0, ctx.cells(1200))
        running = view.in_phase("steady", "changing", "settling") & (view.ages["started"] >= 600)
        usual = base[:k]
        for row, subject in enumerate(subjects):
            window = ctx.recipe.window_of(channel_key("melt_pressure", subject)) if ctx.recipe else None
            if window is not None and window.target:
                usual[row] = window.target
        with np.errstate(invalid="ignore", divide="ignore"):
            screw, pump, screen, torque = now[k:] / base[k:] - 1
            low = now[:k] <= self.low_share * usual
            short = low & ((screw >= self.faster_pct / 100) | ~(pump > 0.03))
            # The control turns the screw faster and faster for the same pump: long before the suction has gone.
            runs_away = (screw >= AWAY) & (torque <= -AWAY) & ~(pump > 0.03)
            short |= runs_away & (now[:k] <= SAGS_SHARE * usual)
            goes_on = (screw >= AWAY / 2) & (torque <= -AWAY / 2) & (now[:k] <= (1 + SAGS_SHARE) / 2 * usual)
            back = (~(now[:k] < (0.5 + 0.5 * self.low_share) * usual) & ~goes_on) | ~running
        on, on_state = two_threshold(state["on"], short & running, back)
        level = rule(on, np.isfinite(now[:k]), running & np.isfinite(usual))
        facts = {
            "bar": now[:k], "usual": usual, "screw": screw, "pump": pump, "screen": screen, "torque": torque,
        }  # fmt: skip
        after = {"now": now_state, "last": last, "base": base_state, "on": on_state}
        return after, Judged(level, usual - now[:k], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Where the melt stays."""
        screen_up = facts["screen"] >= 0.1
        screen = Cause(
            "screen ahead of the pump filling",
            (f"pressure ahead of the screen is up {100 * facts['screen']:.0f} %",) if screen_up else (),
            ("pressure ahead of the screen has not risen",) if facts["screen"] < 0.03 else (),
            ("screen_blinding",),
        )
        less = facts["torque"] <= -0.1
        starved = Cause(
            "extruder starved",
            (f"net torque is down {-100 * facts['torque']:.0f} %",) if less else (),
            ("net torque has not fallen",) if facts["torque"] > -0.03 else (),
            ("starved", "feeder_bridged", "feeder_tripped", "feeder_off_target"),
        )
        pump = Cause("pump set faster than the extruder delivers")
        faster = f", screw speed {100 * facts['screw']:+.0f} %" if facts["screw"] == facts["screw"] else ""
        return Explanation(
            f"suction pressure of the melt pump {facts['bar']:.0f} bar, usual {facts['usual']:.0f}{faster}",
            2,
            "medium",
            (
                Evidence(f"suction {subject}", facts["bar"], "bar", facts["usual"], None, self.channel(subject)),
                Evidence("screw speed from usual", 100 * facts["screw"], "%", 0.0, None, "screw_speed"),
                Evidence("pressure ahead of the screen from usual", 100 * facts["screen"], "%", 0.0),
                Evidence("net torque from usual", 100 * facts["torque"], "%", 0.0, None, "net_torque"),
            ),
            (screen, starved, pump) if screen_up and not less else (starved, screen, pump),
            (
                "feed and throat",
                "screen ahead of the pump",
                "lower the pump speed: a pump without melt wears in minutes",
            ),
            moved={
                "torque": float(np.log(max(1 + facts["torque"], 0.02))),
                # A pump without melt builds nothing, however little the load has lost.
                **({"suction": facts["bar"] / facts["usual"]} if facts["bar"] <= DRY_SHARE * facts["usual"] else {}),
            },
        )
