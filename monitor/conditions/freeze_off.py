"""Die holes freeze off: pressure goes up in steps at a start or when the water turns cold."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, fixed_base, pressure_path, recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import last_known, two_threshold
from monitor.levels import rule
from monitor.onset import onsets
from monitor.onset import start as onset_start
from monitor.phases import RUNNING
from monitor.physics.melt_pressure import share_blocked
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class FreezeOff(RuleDefaults):
    """Melt pressure goes up in a step while the feed does not, just after a start or on colder water.

    An operator would say: "holes froze, the water hit the die too early". Within 20 s pressure goes up by `step_pct`
    and ends `over_pct` over what it was two minutes before, the rate within 4 %, within `start_min` minutes of a start,
    or with the water `colder_c` below its level of the first half hour. Only on lines that log cutter or water: a die
    under water or a water bath. Look-alikes: planned rate or speed change (rate moves), screen change (pressure falls
    back: it must hold), start ramp (the rate climbs). Missing readings do not start it. Memory: 3 min. Numbers are
    common practice, no source.
    """

    step_pct: float = setting(5, 2, 50, "% within 20 s")
    over_pct: float = setting(8, 3, 100, "% over two minutes before")
    start_min: float = setting(15, 2, 60, "min after a start")
    colder_c: float = setting(5, 1, 40, "C colder water than usual")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "freeze_off"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "die holes freezing off"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure", "cutter_speed|bath_temperature")
    sharpened_by: ClassVar[tuple[str, ...]] = ("bath_temperature", "feeder_rate|line_rate")
    quantities: ClassVar[tuple[str, ...]] = ("total_feed",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure nearest to the die, where a cutter or water is logged."""
        if not (ctx.has("cutter_speed") or ctx.has("bath_temperature")):
            return ()
        for where in ("after_screen", "pump_discharge", "before_screen"):
            found = pressure_path.groups(ctx, where)
            if found:
                return (next(iter(found)),)
        return ()

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing recent."""
        return {
            "minutes": recent_level.start(3, ctx.cells(60), ctx.cells(60)),
            "seconds": recent_level.start(1, ctx.cells(20), ctx.cells(20)),
            "water": fixed_base.start(1),
            "quiet": onset_start(1),
            "ref": np.full(1, np.nan),
            "on": np.zeros(1, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        bar = pressure_path.pressures(view, {s: pressure_path.groups(ctx)[s] for s in subjects})
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), bar, {})
        with np.errstate(invalid="ignore", divide="ignore"):
            log = np.log(np.where(bar > 0, bar, np.nan))
            rate = view.quantity("total_feed")
            feed = np.log(np.where(rate > 0, rate, np.nan))
        speed = view.get("screw_speed")
        minutes, before = recent_level.advance(state["minutes"], np.array([log[0], feed, speed]))
        seconds, just = recent_level.advance(state["seconds"], log)
        water = view.get("bath_temperature")[None, :]
        running = view.in_phase(*RUNNING)
        water_state, usual = fixed_base.advance(
            state["water"], water, running & np.isfinite(water[0]), view.ages["still"] > 1800, ctx.cells(1800)
        )
        over, step = log[0] - before[0], log[0] - just[0]
        with np.errstate(invalid="ignore"):
            colder = usual[0] - water[0]
            young = (view.ages["running"] > 60) & (view.ages["started"] <= 60 * self.start_min)
            same = ~(np.abs(feed - before[1]) > 0.04) & ~(np.abs(speed - before[2]) > 0.04 * speed)
            armed = running & (young | (colder >= self.colder_c))
            rises = armed & same & (step >= math.log1p(self.step_pct / 100)) & (over >= math.log1p(self.over_pct / 100))
        # What was normal before the step, for as long as it lasts.
        onset, quiet = onsets(state["quiet"], rises[None, :], ctx.cells(180))
        level_before, ref = last_known(state["ref"], np.where(onset, before[:1], np.nan))
        with np.errstate(invalid="ignore"):
            back = ~(log[0] > level_before[0] + math.log1p(self.over_pct / 200)) | ~running
        on, on_state = two_threshold(state["on"], rises[None, :], back[None, :])
        level = rule(on, np.isfinite(log), running)
        facts = {
            "bar": bar, "over": log[0] - level_before[0], "was_bar": np.exp(level_before[0]), "colder": colder,
            "started_min": view.ages["started"] / 60,
        }  # fmt: skip
        after = {
            "minutes": minutes,
            "seconds": seconds,
            "water": water_state,
            "quiet": quiet,
            "ref": ref,
            "on": on_state,
        }
        return after, Judged(level, (log[0] - level_before[0])[None, :], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, how many holes."""
        ratio = math.exp(facts["over"])
        holes = 100 * float(share_blocked(pressure_ratio=ratio, flow_exponent=0.35))
        cold = facts["colder"] >= self.colder_c
        why = f"water {facts['colder']:.0f} °C colder than usual" if cold else (
            f"{facts['started_min']:.0f} min after the start"
        )  # fmt: skip
        return Explanation(
            f"melt pressure {subject} stepped up {100 * (ratio - 1):.0f} % at the same rate, {why}: "
            f"some {holes:.0f} % of the holes, if it is holes",
            2,
            "medium",
            (
                Evidence(
                    f"melt pressure {subject}", facts["bar"], "bar", facts["was_bar"], None, self.channel(subject)
                ),
                Evidence("water colder than usual by", facts["colder"], "C", None, None, "bath_temperature"),
            ),
            (
                Cause("die holes freezing off", ("the rate did not change", why)),
                Cause("screen changer between positions", (), ("pressure has not come back",)),
                Cause("a cold slug of melt ahead of the die"),
            ),
            ("pellet size and missing strands", "water temperature and flow at the die", "die temperature and heater"),
            cautions.PRESSURE,
        )  # fmt: skip
