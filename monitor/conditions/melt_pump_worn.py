"""The melt pump delivers less a turn than it did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import fixed_base, pressure_path, read_twice, recent_level
from monitor.conditions import feeder_signals, machine_load
from monitor.conditions.another_melt import first_probe
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

LONG_S, SHORT_S, SETTLED_S = 1800.0, 300.0, 300.0
"""Means of what is told as a note and of what is told soon, and how long after a change of speed the latter is read:
the control of the suction slows the screw as the pump takes less."""

HARDER_SHARE, HARDER_BAR, SUCTION_SHARE = 0.15, 5.0, 0.8
"""A pump that works against so much more than at first slips more, as it must; one whose suction has gone is starved.
Common practice, no source."""

MOST_ASTRAY = 0.1
"""Of the whole feed, what feeders may be off their set-points or shares in sum. Common practice, no source."""

HOTTER_C, LESS_LOAD = 3.0, 0.05
"""Melt temperature and net torque that have not moved by more say that the melt is what it was."""


@dataclass(frozen=True)
class MeltPumpWorn(RuleDefaults):
    """The melt pump delivers less a turn than at first, though it works against no more pressure.

    An operator would say: "the pump slips". The rate over pump speed, mean of half an hour, is `less_pct` under its
    level of the first half hour of steady running: wear takes weeks, so inside one run that is a warm pump, a thinner
    melt or a rate that is wrong, a note; over runs see `monitor.wear`. Mean of five minutes and `soon_pct` under it,
    the suction held: no melt thins so far and no gear wears so fast, something in the pump passes; that is said within
    minutes. Look-alikes: pressure difference risen (slip goes with it: silent), a pump without melt (suction gone:
    melt_pump_starved), a feeder that is lost while the throat still holds some (off its set-point or share: not read),
    thinner melt. Missing readings do not start it. Memory: half an hour and a base. Common
    practice, no source.
    """

    less_pct: float = setting(4, 1, 30, "% less a turn")
    soon_pct: float = setting(10, 3, 60, "% less a turn, mean of five minutes")
    on_s: float = setting(600, 10, 7200, "s")
    soon_on_s: float = setting(120, 10, 7200, "s, from soon_pct on")
    off_s: float = setting(600, 10, 7200, "s")

    name: ClassVar[str] = "melt_pump_worn"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "melt pump delivers less a turn"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pump_speed", "feeder_rate|line_rate")
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "melt_pressure", "melt_temperature", "torque|motor_current|drive_power",
    )  # fmt: skip
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "net_torque")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pump, where its speed and a rate are logged."""
        rate = ctx.has("feeder_rate") or ctx.has("line_rate")
        return ("pump",) if ctx.has("melt_pump_speed") and rate else ()

    def channel(self, subject: str) -> str:
        """Its speed."""
        return "melt_pump_speed"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """What is lost at once is told soon."""
        return Timing(self.on_s, self.off_s, urgent_level=2, urgent_on_s=self.soon_on_s, again_s=self.again_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base."""
        return {
            "now": recent_level.start(6, ctx.cells(LONG_S), 0),
            "short": recent_level.start(6, ctx.cells(SHORT_S), 0),
            "base": fixed_base.start(6),
            "on": np.zeros((2, 1), bool),
            "turns": blank(1, 2),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 a note, 2 soon."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        of = {place: pressure_path.groups(ctx, place) for place in ("pump_suction", "pump_discharge")}
        suction, discharge = (
            pressure_path.pressure(view, next(iter(found.values()), ())) if found else np.full(view.n, np.nan)
            for found in of.values()
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            speed = view.get("melt_pump_speed")
            turn = view.quantity("total_feed") / np.where(speed > 0, speed, np.nan)
        # The middle of three: one reading that is wrong would move a mean of five minutes by any amount.
        middle, turns = read_twice.middle(state["turns"], np.where(_whole(view, ctx), turn, np.nan)[None, :])
        turn = middle[0]
        melt, torque = first_probe(view, ctx)[0], view.quantity("net_torque")
        rows = np.array([turn, discharge - suction, suction, melt, torque, discharge])
        calm = fixed_base.long_steady(view, 600.0, 1200.0)
        settled = fixed_base.long_steady(view, SETTLED_S, 1200.0)
        now_state, now = recent_level.advance(state["now"], np.where(calm, rows, np.nan), 0.2)
        short_state, short = recent_level.advance(state["short"], np.where(settled, rows, np.nan), 0.2)
        enough = np.isfinite(now[0])
        base_state, base = fixed_base.advance(state["base"], now, calm & enough, view.ages["still"] > 0, ctx.cells(600))
        less, note = self._less(now, base)
        at_once, held = self._less(short, base)
        fed = ~(short[2] < SUCTION_SHARE * base[2])
        held &= fed
        # The mean of half an hour is low for as long after all is well again.
        note &= ~(at_once < 0.5 * self.less_pct / 100) & fed
        on, switches = [], []
        for row, (lost, fits, limit, runs) in enumerate(
            ((less, note, self.less_pct, calm), (at_once, held, self.soon_pct, settled))
        ):
            with np.errstate(invalid="ignore"):
                rises = (lost >= limit / 100) & fits & runs
                falls = ~(lost >= 0.5 * limit / 100) | ~fits
            known, switch = two_threshold(state["on"][row], rises[None, :], (falls & np.isfinite(lost))[None, :])
            on.append(known)
            switches.append(switch)
        soon = on[1]
        level = rule(on[0] | soon, np.isfinite(less)[None, :] | soon, (settled & np.isfinite(base[0])))
        level[(level == 1) & soon] = 2
        with np.errstate(invalid="ignore", divide="ignore"):
            told = np.where(soon[0], short, now)
            facts = {
                "less": 1 - told[0] / base[0], "turn": told[0], "was": base[0], "difference": told[1],
                "melt_c": told[3] - base[3], "torque": told[4] / base[4] - 1,
                "discharge": told[5] / base[5] - 1,
            }  # fmt: skip
        after = {"now": now_state, "short": short_state, "base": base_state, "on": np.array(switches)}
        after["turns"] = turns
        return after, Judged(level, facts["less"][None, :], facts)

    @staticmethod
    def _less(now: Floats, base: Floats) -> tuple[Floats, Bools]:
        """What is lost of a turn, and whether the pump does not work against more than at first."""
        with np.errstate(invalid="ignore", divide="ignore"):
            harder = now[1] - base[1] > np.fmax(HARDER_SHARE * np.abs(base[1]), HARDER_BAR)
            return 1 - now[0] / base[0], ~harder

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How much less, and whether the melt or the pump has changed."""
        less = 100 * facts["less"]
        warm, eased = facts["melt_c"] >= HOTTER_C, facts["torque"] <= -LESS_LOAD
        as_before = abs(facts["melt_c"]) < HOTTER_C and not abs(facts["torque"]) >= LESS_LOAD
        thinner = Cause(
            "thinner or hotter melt: more slip",
            (
                *((f"melt temperature up {facts['melt_c']:.0f} C",) if warm else ()),
                *((f"net torque down {-100 * facts['torque']:.0f} %",) if eased else ()),
            ),
            (
                *(("melt temperature and load are what they were",) if as_before else ()),
                *(("no melt thins so far",) if level > 1 else ()),
            ),
        )
        more = facts["torque"] >= LESS_LOAD or facts["discharge"] >= LESS_LOAD
        rate = Cause(
            "reported rate too low",
            ("load or die pressure is up: more goes through",) if more else (),
            shown_by=("scale_wrong", "scale_jumped", "refill_valve_leaking", "feeder_off_target"),
        )
        worn = Cause(
            "pump slips inside: gears, bearings or a shaft seal worn or broken, a bypass open"
            if level > 1
            else "pump worn",
            ("so much at once, at no more pressure",) if level > 1 else (),
            () if level > 1 else ("wear takes weeks, not hours",),
        )
        causes = (
            (worn, rate, thinner)
            if level > 1 and not more
            else (rate, worn, thinner)
            if more
            else (worn, thinner, rate)
            if as_before
            else (thinner, rate, worn)
        )
        return Explanation(
            f"melt pump delivers {less:.1f} % less a turn than at first at {'no more' if level > 1 else 'the same'} "
            "pressure",
            4 if level == 1 else 3 if more else 2,
            "medium" if level > 1 else "low",
            (
                Evidence("rate over pump speed", facts["turn"], "kg/h/rpm", facts["was"], None, "melt_pump_speed"),
                Evidence("pressure difference", facts["difference"], "bar"),
                Evidence("melt temperature against at first", facts["melt_c"], "C", 0.0),
                Evidence("net torque against at first", 100 * facts["torque"], "%", 0.0, None, "net_torque"),
            ),
            causes,
            (
                *(("noise, load and leakage of the pump; its drive and coupling",) if level > 1 else ()),
                "melt temperature",
                "rate against packed kilograms",
                "the same figure of earlier runs",
            ),
            moved={"rate": float(np.log(max(1 - facts["less"], 0.02)))},
        )


def _whole(view: CoarseView, ctx: Context) -> Bools:
    """Cells in which what is fed is what goes through, [n]: no feeder is short of its set-point, or where none is
    logged of its share. Of one that is lost the throat of a flood-fed screw makes up for minutes."""
    feeders = ctx.subjects_of("feeder_rate")
    shares = feeder_signals.recipe_shares(feeders, ctx) / 100
    rates = view.rows("feeder_rate", feeders)
    with np.errstate(invalid="ignore", divide="ignore"):
        apart = np.abs(rates / view.quantity("total_feed") - shares)
        astray = np.fmax(machine_load.astray(view, ctx), np.add.reduce(np.nan_to_num(apart), axis=0))
        return ~(astray > MOST_ASTRAY)
