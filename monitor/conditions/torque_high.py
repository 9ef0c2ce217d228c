"""The drive is near or over its torque limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions, read_twice, recent_level
from monitor.conditions.toward_over_pressure import OVER_FED
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import Bools, Floats, blank, run_length, trailing_greatest, two_threshold, with_past
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.quantities.feed import total_feed
from monitor.quantities.load import speed_for_power
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import Readings

MEAN_S = 60.0

START_S, START_PCT, TAKES_HOLD_S, HELD_S = 300.0, 110.0, 10.0, 60.0
"""So long after the screw has begun to turn, and up to so much of its limit, a drive may be held by its own limiter:
what stood in screw and die has cooled and has to be pushed through first. It takes some seconds to take hold, and in a
minute fresh melt has come, or the screw is stuck. Common practice, no source."""

YIELDS_BY = 0.02
"""A screw so much slower than its set-point, or than it was within the last minute, gives way."""

LONG_AGO = 1_000_000_000

SLOWER_BY, FED_STILL = 0.15, 0.95
"""A screw so much slower than it should be that gets this share of its rate still is filled by that. Less is what a
drive at its limit gives way by to whatever loads it. Common practice, no source."""


def gross_load_pct(view: Readings, ctx: Context) -> Floats:
    """Load with its no-load part, percent of what the drive may give, [n]; NaN where that cannot be known."""
    drive, relative = ctx.line.drive, ctx.line.relative_channels
    if ctx.has("torque"):
        return np.full(view.n, np.nan) if "torque" in relative else view.get("torque") * 100 / drive.torque_limit_pct
    if ctx.has("motor_current") and drive.rated_current_a and "motor_current" not in relative:
        return view.get("motor_current") * 100 / drive.rated_current_a
    if ctx.has("drive_power") and drive.rated_power_kw and drive.rated_speed_rpm and "drive_power" not in relative:
        share = speed_for_power(view.get("screw_speed"), ctx) / drive.rated_speed_rpm
        return view.get("drive_power") * 100 / (drive.rated_power_kw * np.fmin(share, 1.0))
    return np.full(view.n, np.nan)


@dataclass(frozen=True)
class TorqueHigh(RuleDefaults):
    """The load of the drive is near its limit, or over it.

    An operator would say: "it is running at the limit of its torque". The mean of 60 s is over `warn_pct` of the limit
    and stays so for more than another 60 s: by then the swing after a refill is over, and one odd reading out of the
    mean; or every reading for `over_s`, two at least, is over `over_pct`: priority 1, shaft, coupling and gearbox carry
    it. Torque in percent, else motor current of its rated value, else drive power of what the rated torque gives at
    this speed.
    Look-alikes: one-sample spikes, tramp metal (1 to 3 s, its own finding), start of a full screw: in the first
    minutes of its turning up to 110 % of the limit are let for 10 s, and for a minute while the screw gives way,
    which is its limiter at work; further it still counts. Missing readings do not start it; the mean needs half a
    minute of them. Memory: a minute. Trade practice, no source.
    """

    warn_pct: float = setting(90, 50, 100, "% of the limit, mean of 60 s")
    over_pct: float = setting(100, 80, 200, "% of the limit")
    over_s: float = setting(3, 1, 30, "s")
    clear_pct: float = setting(3, 0.5, 20, "% under the limit that clears it")
    off_s: float = setting(30, 1, 3600, "s")

    name: ClassVar[str] = "torque_high"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "torque at its limit"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque", "screw_speed")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The drive, where its load in percent of its limit can be known."""
        drive, relative = ctx.line.drive, ctx.line.relative_channels
        power = drive.rated_power_kw and drive.rated_speed_rpm and ctx.has("screw_speed")
        for role, known in (("torque", True), ("motor_current", drive.rated_current_a), ("drive_power", power)):
            if ctx.has(role):
                return (role,) if known and role not in relative else ()
        return ()

    def channel(self, subject: str) -> str:
        """The load."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The rule has its own delays."""
        return Timing(ctx.step_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {
            "minute": recent_level.start(1, ctx.cells(MEAN_S), 0),
            "stays": np.zeros(1, np.int64),
            "over": np.zeros(1, np.int64),
            "twice": read_twice.start(1),
            "on": np.zeros((2, 1), bool),
            "turned": np.full(1, LONG_AGO, np.int64),
            "speed": blank(1, ctx.cells(MEAN_S) - 1),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 near the limit, 2 over it."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        load = gross_load_pct(view, ctx)[None, :]
        minute, mean = recent_level.advance(state["minute"], load)
        with np.errstate(invalid="ignore"):
            high = np.count_nonzero(load > self.over_pct) or np.count_nonzero(mean > self.warn_pct)
            if view.n and not high and not state["on"].any():
                return self._far_below(state, view, minute, load, ctx)
            length, over_state = run_length(state["over"], load > self.over_pct)
            stays, stays_state = run_length(state["stays"], mean > self.warn_pct)
            near, near_state = two_threshold(
                state["on"][0], stays > ctx.cells(MEAN_S), ~(mean > self.warn_pct - self.clear_pct)
            )
            twice, waits = read_twice.advance(
                state["twice"], load > self.over_pct, read_twice.arrived(view, subjects), ctx
            )
            least, start = self._least(state, view, load, ctx)
            over, over_on = two_threshold(
                state["on"][1],
                (length >= np.fmax(read_twice.TWO, least)) & ~waits,
                ~(load > self.over_pct - self.clear_pct),
            )
        level = rule(near | over, np.isfinite(load), np.ones(load.shape, bool))
        level[(level == 1) & over] = 2
        facts = {"load": load, "mean": mean, **_slower(view, ctx)}
        after = {"minute": minute, "stays": stays_state, "over": over_state, "on": np.array([near_state, over_on])}
        after["twice"] = twice
        return after | start, Judged(level, np.fmax(load, mean), facts)

    def _far_below(
        self, state: State, view: Readings, minute: State, load: Floats, ctx: Context
    ) -> tuple[State, Judged]:
        """Nothing to work out, as nearly always: only what is remembered moves on."""
        none = np.zeros(1, np.int64)
        after = {"minute": minute, "stays": none, "over": none, "on": state["on"], "twice": read_twice.start(1)}
        after |= self._least(state, view, load, ctx)[1]
        return after, no_facts(rule(np.zeros(load.shape, bool), np.isfinite(load), np.ones(load.shape, bool)))

    def _least(self, state: State, view: Readings, load: Floats, ctx: Context) -> tuple[Floats, State]:
        """Cells over the limit after which it is said, [1, n], and what is remembered of the start."""
        speed = view.get("screw_speed")[None, :]
        with np.errstate(invalid="ignore"):
            turned, turned_state = run_length(state["turned"], ~(speed <= turning_limit_rpm(ctx)))
            starts = (turned <= ctx.cells(START_S)) & (load <= START_PCT) & (load > self.over_pct)
        usual = np.full(load.shape, float(ctx.cells(self.over_s)))
        if not np.count_nonzero(starts):
            return usual, {"turned": np.minimum(turned_state, LONG_AGO), "speed": with_past(state["speed"], speed)[1]}
        fastest, past = trailing_greatest(state["speed"], speed)
        aim = np.fmax(fastest, view.get("screw_speed_setpoint")[None, :])
        with np.errstate(invalid="ignore"):
            yields: Bools = speed < (1 - YIELDS_BY) * aim
        let = np.where(yields, ctx.cells(max(HELD_S, self.over_s)), ctx.cells(max(TAKES_HOLD_S, self.over_s)))
        return np.where(starts, let, usual), {"turned": np.minimum(turned_state, LONG_AGO), "speed": past}

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How near."""
        over = level == 2
        slower = _slower_cause(facts)
        summary = (
            f"load of the drive {facts['load']:.0f} % of its limit"
            if over
            else f"load of the drive {facts['mean']:.0f} % of its limit over the last minute"
        )
        return Explanation(
            summary,
            1 if over else 2,
            "high",
            (
                Evidence("load now", facts["load"], "% of the limit"),
                Evidence("mean of the 60 s before that", facts["mean"], "% of the limit"),
            ),
            (
                *slower,
                # A screw that is filled by its own slowness is flooded too: no witness for more feed.
                Cause("screws over-fed", shown_by=() if slower else OVER_FED),
                Cause(
                    "melt cold or not melted through", shown_by=("cold_start", "heater_dead", "zone_under_temperature")
                ),
                Cause("metal or a lump in the screws", shown_by=("tramp_metal",)),
                Cause("die or screen shut", shown_by=("toward_over_pressure", "screen_blinding")),
                Cause("thicker lot, too little lubricant or plasticiser"),
            ),
            (
                "cut the feed, by site procedure; then the speed only with it",
                "zones and melt temperature",
                "noise from barrel and gearbox",
            ),
            cautions.TORQUE,
        )


def _slower(view: Readings, ctx: Context) -> dict[str, Floats]:
    """Speed, and rate fed, against what is wanted, as shares of it, [n] each; NaN where not known."""
    recipe = ctx.recipe.recipe if ctx.recipe else None
    planned, rate = (recipe.screw_speed_rpm, recipe.rate_kg_h) if recipe else (None, None)
    known = bool(rate) and not ctx.line.any_relative("feeder_rate", "line_rate")
    aim = np.fmax(view.get("screw_speed_setpoint"), np.nan if planned is None else planned)
    with np.errstate(divide="ignore", invalid="ignore"):
        return {
            "speed_share": view.get("screw_speed") / aim,
            "fed_share": total_feed(view, ctx) / (rate if known and rate else np.nan),
        }


def _slower_cause(facts: dict[str, float]) -> tuple[Cause, ...]:
    """Where the screw turns slower than it should at the same feed: rate over speed fills it."""
    slow, fed = 1 - facts.get("speed_share", math.nan), facts.get("fed_share", math.nan)
    if not slow >= SLOWER_BY or fed < max(FED_STILL * (1 - slow / 2), 1 - slow + SLOWER_BY / 2):
        return ()
    return (
        Cause(
            "screw slower at the same feed: it is fuller",
            (
                f"speed {100 * slow:.0f} % below what is wanted",
                *((f"{100 * fed:.0f} % of its rate fed",) if fed == fed else ()),
            ),
            shown_by=("speed_deviation",),
        ),
    )
