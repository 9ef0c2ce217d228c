"""The gearbox: oil too warm for its load, oil pressure low, filter filling."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import fixed_base, read_twice, recent_level
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, trailing_extremes, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import COMES_BACK_S, RuleDefaults
from monitor.view import CoarseView

ROLES = ("gearbox_oil_temperature", "gearbox_oil_pressure", "gearbox_filter_drop")


LOW_AFTER_S, ALIKE_C = 30.0, 3.0
WHILE_S, SAME_LOAD = 1800.0, 0.05
RESTED_C, ABOVE_ALL_C = 1.0, 2.5
"""Warmer within half an hour is judged where load and speed held within 5 % for an hour and the oil had gained at most
1 C in the half hour before, which is no warm-up any more; above all it was in that half hour, so that the thermostat of
an oil cooler is none. Common practice, no source."""

FOLLOWS_S = 7200.0
"""Oil and casting follow hall and load with a time constant of one to some hours: both count as they are and as they
were over so long. Common practice, no source."""

HOT_FIRST_C = 500.0
"""Oil over its limit is told by how hot it gets, before any rise."""

SETTLED_C = 1.0
"""Oil that moves by no more in an hour is near where it goes: with a time constant of four hours 3.5 C remain."""

HALF_SPEED = 0.5
"""Share of the speed at first (rated speed, where none is known yet) under which `low_bar` is not asked in full."""


@dataclass(frozen=True)
class Gearbox(RuleDefaults):
    """Oil temperature over the hall's at the same load and speed is up, oil pressure is low, or the filter is filling.

    An operator would say: "the gearbox is running hot". Temperature: over `hot_c`; or `rise_c` over what was usual,
    the hall's gain taken off (doubled where the hall is not logged), with load and speed within a tenth; or
    `faster_c` more than half an hour ago, the hall's gain taken off, at one load and speed for an hour, when it had
    come to rest before. What is usual is learned from two hours after the start on, of oil that has moved by 1 C at
    most in an hour. Oil follows hall and load in hours: the hall's gain is the larger one of now and of two hours,
    and of a hall that falls nothing is added; more load in those two hours than was usual is not judged. Pressure:
    with the screw turning, under `low_bar` or under `low_share` of its level then, `alike_share` at the same speed
    and oil temperature; mean of a minute. A pump on the gearbox gives oil by the turn, and through its fixed
    passages pressure goes with flow (thick oil) up to its square (thin oil): slower than at first, what is asked
    falls with the square of the speed; under half speed `low_bar` falls with the speed. Filter: drop over
    `filter_bar`, or `filter_share` of its level then and `filter_rise_bar` more: warm oil at one speed flows alike.
    Look-alikes: warm-up and cold thick oil in the first hours (not judged; pressure and drop are high then),
    season, a door that stands open (the hall falls, the oil does not), another load or speed (not judged). Missing
    readings do not start it. Memory: two hours and two bases. Limits: common practice, no source; the maker's
    manual overrides them.
    """

    hot_c: float = setting(85, 50, 120, "C oil temperature")
    rise_c: float = setting(6, 2, 40, "C more than usual, same load, hall taken off")
    faster_c: float = setting(4, 1, 20, "C more than half an hour ago, same load")
    low_bar: float = setting(0.5, 0.05, 10, "bar oil pressure")
    low_share: float = setting(0.75, 0.1, 0.95, "of the oil pressure at first")
    filter_bar: float = setting(2.0, 0.2, 10, "bar drop over the oil filter")
    alike_share: float = setting(0.85, 0.3, 0.98, "of the oil pressure at first, same speed and oil temperature")
    filter_share: float = setting(1.5, 1.1, 5, "of the drop at first, same speed")
    filter_rise_bar: float = setting(0.25, 0.05, 5, "bar more than at first, at least")
    warm_s: float = setting(7200, 600, 28800, "s of turning after which it counts as warm")
    on_s: float = setting(300, 10, 3600, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "gearbox"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "gearbox oil"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    again_s: ClassVar[float] = COMES_BACK_S
    needs: ClassVar[tuple[str, ...]] = ("|".join(ROLES),)
    sharpened_by: ClassVar[tuple[str, ...]] = (*ROLES, "ambient_temperature")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """What is logged of the oil."""
        return tuple(role for role in ROLES if ctx.has(role) and role not in ctx.line.relative_channels)

    def channel(self, subject: str) -> str:
        """The channel itself."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A gearbox without oil pressure is lost in minutes: half a minute at most."""
        return Timing(
            min(self.on_s, LOW_AFTER_S) if subject == ROLES[1] else self.on_s, self.off_s, again_s=self.again_s
        )

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base."""
        return {
            "now": recent_level.start(6, ctx.cells(600), 0),
            "minute": recent_level.start(1, ctx.cells(60), 0),
            "oil": blank(1, 1),
            "last": blank(6, 2),
            "turns": blank(1, ctx.cells(60) - 1),
            "base": fixed_base.start(6),
            "usual": fixed_base.start(4),
            "while": blank(4, 2 * ctx.cells(WHILE_S)),
            "long": recent_level.start(3, ctx.cells(FOLLOWS_S), 0),
            "on": np.zeros(len(subjects), bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for each part of it."""
        oil, hall = view.get(ROLES[0]), view.get("ambient_temperature")
        has_hall = ctx.has("ambient_temperature")
        torque, speed = view.quantity("net_torque"), view.get("screw_speed")
        rows = np.array([hall, view.get(ROLES[1]), view.get(ROLES[2]), torque, speed, oil])
        calm, last = read_twice.middle(state["last"], rows)
        now_state, now = recent_level.advance(state["now"], calm)
        given, oil_past = read_twice.higher(state["oil"], rows[1:2])
        minute_state, minute = recent_level.advance(state["minute"], given)
        slowest, fastest, turns = trailing_extremes(state["turns"], speed[None, :])
        warm = view.in_phase("steady") & (view.ages["turning"] >= self.warm_s) & np.isfinite(now[4])
        base_state, base = fixed_base.advance(state["base"], now, warm, view.ages["still"] > 1800, ctx.cells(1800))
        long_state, long = recent_level.advance(state["long"], np.array([hall, torque, speed]))
        hall_long = np.where(np.isnan(long[0]), now[0], long[0])
        turning = (view.ages["still"] == 0) & (view.ages["turning"] >= 300)
        with np.errstate(invalid="ignore", divide="ignore"):
            same = ~(np.abs(now[3:5] / base[3:5] - 1) > 0.1).any(axis=0)
            gained, faster, settled, while_state = self._faster(
                state["while"], now[5], now[3:5], np.array([hall, hall_long]), ctx
            )
            usual_state, usual = fixed_base.advance(
                state["usual"],
                np.array([now[5], hall_long, now[3], now[4]]),
                warm & settled,
                view.ages["still"] > 1800,
                ctx.cells(1800),
            )
            by_hall = np.fmax(np.maximum(now[0], hall_long) - usual[1], 0.0) if has_hall else np.zeros(view.n)
            more = now[5] - usual[0] - by_hall
            rise = self.rise_c * (1.0 if has_hall else 2.0)
            # Oil that a heavier load has warmed stays warm for hours after it.
            another = (np.abs(now[3:5] / usual[2:] - 1) > 0.1) | (long[1:] > 1.1 * usual[2:])
            alike_load = ~another.any(axis=0)
            hot = (now[5] > self.hot_c) | ((more > rise) & alike_load) | faster
            # The pump hangs on the gearbox: at its speed, with oil as warm, it gives its pressure to a few percent. The
            # mean of a minute holds what was given at the slowest of it.
            paces = np.concatenate((slowest, fastest)) / base[4]
            alike = (np.abs(paces - 1) <= 0.03).all(axis=0) & ~(np.abs(now[5] - base[5]) > ALIKE_C)
            pace = np.where(np.isnan(paces[0]), 1.0, np.fmin(paces[0], 1.0))
            share = np.where(alike, self.alike_share, self.low_share * pace * pace)
            full_speed = np.where(np.isnan(base[4]), ctx.line.drive.rated_speed_rpm or np.nan, base[4])
            floor = self.low_bar * np.fmin(np.fmin(slowest[0] / (HALF_SPEED * full_speed), 1.0), 1.0)
            least = np.fmax(floor, share * base[1])
            low = turning & (minute[0] < least)
            more_drop = np.fmax(self.filter_share * base[2], base[2] + self.filter_rise_bar)
            of_filter = np.fmin(np.where(np.isnan(more_drop) | ~same, self.filter_bar, more_drop), self.filter_bar)
            full = turning & (now[2] > of_filter) & (view.ages["turning"] >= self.warm_s)
            cool = ~(now[5] > self.hot_c - 3) & ~((more > 0.7 * rise) & alike_load) & ~(gained > 0.25 * self.faster_c)
            fine = ~(minute[0] < 1.05 * least) | ~turning
            clean = ~(now[2] > 0.9 * of_filter)
        row = [ROLES.index(subject) for subject in subjects]
        on, on_state = two_threshold(state["on"], np.array([hot, low, full])[row], np.array([cool, fine, clean])[row])
        values = np.array([now[5], minute[0], now[2]])[row]
        level = rule(on, np.isfinite(values), on | turning)
        expected = np.where(np.isfinite(more) & ~(faster & ~(more > rise)), now[5] - more, now[5] - gained)
        bases = np.array([expected, base[1], base[2]])[row]
        facts = {
            "value": values, "base": bases, "more": np.broadcast_to(more, values.shape),
            "by_hall": np.broadcast_to(by_hall, values.shape),
            "gained": np.broadcast_to(gained, values.shape), "rise": np.full(values.shape, rise),
            "hall": np.broadcast_to(hall, values.shape), "load": np.broadcast_to(torque, values.shape),
        }  # fmt: skip
        # The sentence keeps the largest rise: once at its new level the oil gains nothing any more.
        rises = np.fmax(np.nan_to_num(np.fmax(more, gained)), 0.0)
        score = np.array([np.where(now[5] > self.hot_c, HOT_FIRST_C + now[5], rises), -minute[0], now[2]])[row]
        after = {"now": now_state, "minute": minute_state, "turns": turns, "base": base_state, "on": on_state}
        return {
            **after,
            "usual": usual_state,
            "long": long_state,
            "while": while_state,
            "oil": oil_past,
            "last": last,
        }, Judged(level, score, facts)

    def _faster(
        self, before: Floats, oil: Floats, load: Floats, hall: Floats, ctx: Context
    ) -> tuple[Floats, Bools, Bools, Floats]:
        """What the oil gained in half an hour, C, less what the hall did; whether it gained by itself; whether it has
        come to rest, which what is not logged has; and the state.

        oil: mean of ten minutes, C. load: net torque and speed, the same. hall: now and its mean of two hours, C."""
        n, width = len(oil), ctx.cells(WHILE_S)
        joined, after = with_past(before, np.concatenate((oil[None, :], load, hall[:1])))
        ago, longer_ago = joined[:, width : width + n], joined[:, :n]
        highest = trailing_extremes(joined[:1, :width], joined[:1, width : width + n])[1][0]
        low, high, _ = trailing_extremes(joined[1:3, : 2 * width], joined[1:3, 2 * width :])
        # A hall that has grown warm an hour ago still warms the oil.
        by_hall = np.fmax(hall[0] - ago[3], hall[0] - hall[1])
        gained = oil - ago[0] - np.fmax(np.nan_to_num(by_hall), 0.0)
        rested = (ago[0] - longer_ago[0] <= RESTED_C) & (oil - highest >= ABOVE_ALL_C)
        held = (high - low <= SAME_LOAD * high).all(axis=0) & np.isfinite(longer_ago[1:3]).all(axis=0)
        settled = np.abs(oil - longer_ago[0]) <= SETTLED_C
        return gained, (gained >= self.faster_c) & rested & held, settled, after

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which part, how far."""
        value, base = facts["value"], facts["base"]
        if subject == ROLES[0]:
            hot = value > self.hot_c
            at_first = (
                f", {facts['more']:.0f} more than usual at this load"
                + (", the hall's gain taken off" if facts["by_hall"] >= 1 else "")
                if facts["more"] > 0
                else ""
            )
            if facts["gained"] >= 1 and not facts["more"] > facts["rise"]:
                at_first = f", {facts['gained']:.0f} more than half an hour ago at the same load and speed"
            return Explanation(
                f"gearbox oil {value:.0f} °C{at_first}",
                2 if hot else 3,
                "high" if hot or facts["hall"] == facts["hall"] else "medium",
                (
                    Evidence("oil temperature", value, "C", base, None, subject),
                    Evidence("hall", facts["hall"], "C", None, None, "ambient_temperature"),
                ),
                (
                    Cause("oil cooler scaled, or its water shut"),
                    Cause("oil level, oil age or pump"),
                    Cause("bearing or gear running hot"),
                ),
                (
                    "cooler water in and out",
                    "oil level and sample",
                    "vibration and noise of gearbox and thrust bearing",
                ),
            )
        if subject == ROLES[1]:
            return Explanation(
                f"gearbox oil pressure {value:.2f} bar" + (f", {base:.2f} at first" if base == base else ""),
                3 if value > max(self.low_bar, self.low_share * base) else 2,
                "high",
                (Evidence("oil pressure", value, "bar", base, None, subject),),
                (
                    Cause("oil pump or its drive"),
                    Cause("suction strainer or filter full"),
                    Cause("oil low, hot or thin"),
                ),
                ("stop by the maker's manual if it goes on falling", "oil level", "filter and pump"),
            )
        return Explanation(
            f"gearbox oil filter drops {value:.1f} bar",
            3,
            "high",
            (Evidence("drop over the oil filter", value, "bar", base, None, subject),),
            (
                Cause("filter filling: change it"),
                Cause("metal from gears or bearings"),
                Cause("oil cold or of the wrong grade"),
            ),
            ("change the filter and look at what is in it", "oil sample"),
        )
