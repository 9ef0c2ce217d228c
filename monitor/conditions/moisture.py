"""The melt has become thin for its load: water in the resin, or chains broken by it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import fixed_base, pressure_path, read_twice, recent_level
from monitor.conditions import wall_off
from monitor.contract import DISARMED, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import blank, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

DRIED = ("PA", "PET", "PBT", "PC", "TPU", "PLA")
"""Polymers whose chains water breaks at melt temperature, by the beginning of their code."""

DRY_DEW_POINT_C = -30.0
"""Dew point of dryer air above which it hardly dries; usual dryers hold -40 C. Common practice, no source."""

SAME_C = 1.0
"""Less is no difference of a melt temperature worth telling."""

RIPPLE_UP, VENT_UP_MBAR = 1.5, 10.0
"""Signs of water: pressure ripple over what it was, vent pressure up. Common practice, no source."""

MORE_ALONE, MORE_WITH_SIGNS = 1.5, 1.0
"""ln pressure per ln torque at least: a thinner melt takes as much of both, one that foams in the die more."""

SAME_RATE = 0.03
"""ln of the feed, and of the speed of a melt pump, that has not moved."""

STEP = math.log(1.045)
"""A change of pressure within half a minute that no melt makes: the screws smear what comes through the hopper."""

SLIDES = 0.4
"""Part of a step that was gone in the half minute before it as well: then it is none."""

NOISES = 4.0
"""A coarse or restless reading steps so many times its scatter before it counts as a step of the pressure."""

MOST_RISE = 0.02
"""A thinner melt never takes more torque: beyond noise, ln torque up is another matter, as melt in a vent."""

MOST_FALL = math.log(0.5)
"""Pressure that falls to less than this is gone or its sensor is: no melt becomes so thin in a run."""


@dataclass(frozen=True)
class Moisture(RuleDefaults):
    """Melt pressure falls, and more than net torque does, at the same rate and melt temperature.

    An operator would say: "it runs like water and the vent foams". Only for polyamide, PET, PBT, PC, TPU and PLA.
    The means of five minutes against the level of the first half hour of steady running at this speed and rate:
    pressure down by `fall_pct`, by half as much again as torque (as much, where two signs speak for water), feed within
    3 % of it and melt temperature not up by more than `melt_c` (thinner melt heats itself less: colder speaks for
    it). Behind a melt pump its discharge is judged, while the pump turns within 3 % of what it did; as much as torque
    is enough there. Twice `fall_pct` is no slide and no drift and is said after `soon_s`. Pressure ripple up by
    half, vacuum pressure up or restless, dew point over -30 C: each speaks for water; two of them make it more than a
    guess. Look-alikes: thinner lot or regrind, more oil or lubricant (both said as causes: without ripple and dew point
    they look the same), hotter melt or a die, screen or adapter that is too hot (3 % a C at most: silent), loss of feed
    (torque falls more), new or torn screen (a step within half a minute: the level is learned anew). Missing readings
    do not start it. Memory: half an hour. Numbers are common practice, no source; the physics: water breaks chains
    (see materials).
    """

    fall_pct: float = setting(6, 2, 40, "% of melt pressure")
    melt_c: float = setting(3, 0.5, 15, "C that melt temperature may rise")
    on_s: float = setting(300, 30, 3600, "s")
    soon_s: float = setting(120, 10, 3600, "s where twice as much has fallen")
    off_s: float = setting(600, 10, 7200, "s")

    name: ClassVar[str] = "moisture"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "melt too thin: wet resin?"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure", "torque|motor_current|drive_power")
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe", "dew_point", "vacuum", "melt_temperature")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "total_feed")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure the screws work against; where a melt pump carries on, that behind it."""
        load = any(ctx.has(role) for role in ("torque", "motor_current", "drive_power"))
        return (_carried(ctx) or pressure_path.head_group(ctx)[:1]) if load else ()

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Five minutes, and no more than two where so much has gone that nothing else slides as far."""
        return Timing(self.on_s, self.off_s, urgent_level=2, urgent_on_s=min(self.soon_s, self.on_s))

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base."""
        return {
            "odd": blank(9, 2),
            "now": recent_level.start(9, ctx.cells(300), 0),
            "moment": recent_level.start(1, ctx.cells(20), ctx.cells(20)),
            "earlier": recent_level.start(1, ctx.cells(20), ctx.cells(50)),
            "base": fixed_base.start(9),
            "on": np.zeros(1, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects or not self._dried(ctx):
            shape = (len(subjects), view.n)
            return state, Judged(np.full(shape, DISARMED, np.int8), np.zeros(shape), {})
        # The middle of three: one reading that is wrong would be a step and move a mean of five minutes by any amount.
        rows, odd = read_twice.middle(state["odd"], self._rows(view, subjects, ctx))
        now_state, now = recent_level.advance(state["now"], rows)
        calm = fixed_base.long_steady(view, 300.0)
        moment, just = recent_level.advance(state["moment"], rows[:1])
        earlier, then = recent_level.advance(state["earlier"], rows[:1])
        with np.errstate(invalid="ignore"):
            step = np.abs(rows[0] - just[0]) >= np.fmax(STEP, NOISES * pressure_path.scatter_share(view, subjects[0]))
            # What came down as fast before slides, however fast.
            step &= ~((just[0] - then[0]) * np.sign(rows[0] - just[0]) >= SLIDES * np.abs(rows[0] - just[0]))
        forget = (view.ages["unchanged"] < 60) | (view.ages["still"] > 0) | step
        base_state, base = fixed_base.advance(state["base"], now, calm & np.isfinite(now[0]), forget, ctx.cells(1800))
        moved = now - base
        pressure, torque, feed, melt = moved[:4]
        with np.errstate(invalid="ignore", divide="ignore"):
            ripple = now[4] / base[4]
            least = math.log(1 - self.fall_pct / 100)
            same = ~(np.abs(feed) > SAME_RATE) & ~(np.abs(moved[8]) > SAME_RATE) & ~(melt > self.melt_c)
            signs = (ripple >= RIPPLE_UP) + 1 * (moved[5] >= VENT_UP_MBAR) + (now[6] >= DRY_DEW_POINT_C)
            # A pump that turns as before carries as much: no less feed takes the pressure behind it.
            sure = (signs >= 2) | (bool(_carried(ctx)) & np.isfinite(moved[8]))
            more = np.where(sure, MORE_WITH_SIGNS, MORE_ALONE) * torque
            more_load = torque > MOST_RISE
            # Melt or a wall that has become hotter thins it by itself, the wall before the probe shows it.
            hotter = wall_off.accounts_for(-pressure, np.fmax(melt, moved[7]))
            falls = (pressure <= least) & (pressure > MOST_FALL) & (pressure <= more) & same & ~more_load & ~hotter
            back = ~(pressure <= 0.6 * least) | (pressure <= MOST_FALL) | more_load | ~view.in_phase("steady") | hotter
        armed = calm & np.isfinite(base[0])
        on, on_state = two_threshold(state["on"], (falls & armed)[None, :], back[None, :])
        level = rule(on, (np.isfinite(pressure) & np.isfinite(torque))[None, :], armed)
        with np.errstate(invalid="ignore"):
            level[(level == 1) & (pressure <= 2 * least)] = 2
        facts = {
            "pressure": pressure, "torque": torque, "melt": melt, "ripple": ripple, "vacuum": moved[5],
            "dew": now[6], "bar": np.exp(now[0]), "was": np.exp(base[0]),
        }  # fmt: skip
        after = {"odd": odd, "now": now_state, "moment": moment, "earlier": earlier, "base": base_state, "on": on_state}
        return after, Judged(level, -pressure[None, :], facts)

    @staticmethod
    def _dried(ctx: Context) -> bool:
        codes = ctx.recipe.recipe.materials if ctx.recipe else ()
        known = [code.upper() for code in codes] + ([ctx.material.code.upper()] if ctx.material else [])
        return any(code.startswith(DRIED) for code in known)

    @staticmethod
    def _rows(view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> np.ndarray:
        """Logarithms of pressure, torque and feed; melt temperature; ripple of pressure; vacuum; dew point;
        by how much the hottest wall beyond the screw is off; logarithm of the melt pump's speed."""
        bar, torque, feed, speed = (
            view.rows("melt_pressure", subjects)[0],
            view.quantity("net_torque"),
            view.quantity("total_feed"),
            view.get("melt_pump_speed"),
        )
        low, high = view.low_high("melt_pressure", subjects)
        probes, vents = ctx.subjects_of("melt_temperature"), ctx.subjects_of("vacuum")
        nothing = np.full(view.n, np.nan)
        with np.errstate(invalid="ignore", divide="ignore"):
            *logs, pump = [np.log(np.where(row > 0, row, np.nan)) for row in (bar, torque, feed, speed)]
            ripple = (high[0] - low[0]) / np.where(bar > 0, bar, np.nan)
        return np.array(
            [
                *logs,
                view.get(channel_key("melt_temperature", probes[0])) if probes else nothing,
                ripple,
                view.get(channel_key("vacuum", vents[0])) if vents else nothing,
                view.get("dew_point"),
                wall_off.off_c(view, ctx, 1),
                pump if _carried(ctx) else nothing,
            ]
        )

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, and what else speaks for water."""
        signs = []
        if facts["ripple"] >= RIPPLE_UP:
            signs.append(f"pressure ripple is {facts['ripple']:.1f} times what it was")
        if facts["vacuum"] >= VENT_UP_MBAR:
            signs.append(f"vent pressure is up {facts['vacuum']:.0f} mbar")
        if facts["dew"] >= DRY_DEW_POINT_C:
            signs.append(f"dew point of the dryer air is {facts['dew']:.0f} °C")
        against = []
        if facts["dew"] < DRY_DEW_POINT_C - 5:
            against.append(f"dew point of the dryer air is {facts['dew']:.0f} °C")
        if facts["ripple"] < 1.2:
            against.append("pressure is as quiet as before")
        water = Cause("wet resin: chains broken by water", tuple(signs), tuple(against))
        thin = Cause("thinner lot, regrind, more oil or lubricant", (), tuple(signs), ("share_wrong",))
        screen = Cause("new or torn screen", (), ("pressure did not step", *signs), ("screen_ruptured",))
        fall, torque = -100 * math.expm1(facts["pressure"]), 100 * math.expm1(facts["torque"])
        melt = facts["melt"]
        beside = "rate and melt temperature same"
        if melt <= -self.melt_c:
            beside = "rate same, melt colder (thinner melt heats itself less)"
        elif abs(melt) >= SAME_C:
            beside = f"rate same, melt {abs(melt):.0f} °C {'hotter' if melt > 0 else 'colder'}"
        return Explanation(
            f"melt pressure {subject} {fall:.0f} % down, net torque {_way(torque)}, {beside}: "
            + ("melt thinner, water likely" if len(signs) >= 2 else "melt thinner"),
            2 if len(signs) >= 2 else 3,
            "medium" if signs else "low",
            (
                Evidence(f"melt pressure {subject}", facts["bar"], "bar", facts["was"], None, self.channel(subject)),
                Evidence("net torque from before", torque, "%", 0.0, None, "net_torque"),
                Evidence("pressure ripple against before", facts["ripple"], "times"),
                Evidence("dew point", facts["dew"], "C", None, None, "dew_point"),
            ),
            (water, thin, screen) if signs or not against else (thin, water, screen),
            (
                "dryer: dew point, temperature, time; silo and hopper changes",
                "moisture of a sample",
                "vent: foam, vapour",
            ),
            moved={"pressure": facts["pressure"], "torque": facts["torque"]},
        )


def _carried(ctx: Context) -> tuple[str, ...]:
    """The pressure behind a melt pump; () without one."""
    return tuple(pressure_path.groups(ctx, "pump_discharge", known_unit=False))[:1]


def _way(change_pct: float) -> str:
    """'down 9 %', 'up 1 %'."""
    return f"{'down' if change_pct < 0 else 'up'} {abs(change_pct):.0f} %"
