"""Feeders deliver into a screw that stands still."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions, read_twice
from monitor.conditions.machine_load import judging_sensors
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import blank, last_known, run_length, with_past
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.records import Evidence, Family
from monitor.view import Readings

DYING_S, DYING_SHARE = (4.0, 10.0), (0.85, 0.8)
"""A filtered rate that dies away after a stop has less than this of what it was so many seconds ago; one that goes on
has not."""

AS_BEFORE, AS_BEFORE_S = 0.9, 10.0
"""A rate got from the weight lags, but it falls from the first seconds after its feeder has stopped: one that moves in
its digits and has lost less than a tenth in so long is that of a feeder that goes on. Common practice, no source."""

WORTH_SHARE = 0.1
"""A feed that was below this share of the usual one when the screw stopped had been switched off before."""

STILL_DRIVE_PCT = 2.0
"""Feeder drive at or below which a feeder stands."""


PRESSURE_STANDS = 0.95
"""Of the melt pressure while the screw turned: melt runs out of an open die within seconds of its stop, so a speed of
zero with the pressure as it was may be a drive controller that starts anew. Common practice, no source."""


@dataclass(frozen=True)
class FeedersScrewStopped:
    """Feeders deliver while the screw stands.

    An operator would say: "the screw tripped and the feeders kept running". The screw stands for more than 5 s, two
    readings at least, while feeders together still deliver more than half of what they did when it stopped, or a
    tenth for 30 s. Where no feeder drive is logged, 20 s: a rate got from the weight lags by that much after a
    proper stop (10 s where it does not fall at all meanwhile); so too while a melt pressure stands as it was.
    Judged only after the screw has been seen turning with feed. Look-alikes: a blender that fills the hopper of a
    flood-fed screw (side feeders alone count there), calibration or catch sample on a standing line (no feed before), a
    proper stop (feed gone before the screw stopped, drives stand, feeders are switched off, or the filtered rate dies
    away), zeros of a drive controller that starts anew (pressure stands).
    Missing readings: the newest speed stands, rates that are missing count as none. Priority 1. Memory: 10 s of
    rates and 7 numbers.
    """

    soon_s: float = setting(5, 1, 60, "s")
    rate_only_s: float = setting(20, 1, 300, "s where no feeder drive is logged")
    soon_share: float = setting(0.5, 0.1, 1.0, "of the rate before")
    late_s: float = setting(30, 5, 300, "s")
    late_share: float = setting(0.1, 0.01, 1.0, "of the rate before")
    off_s: float = setting(5, 1, 600, "s")

    name: ClassVar[str] = "feeders_screw_stopped"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "feeding into a standing screw"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_drive|feeder_running",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where speed and rates of what feeds the screw are logged."""
        return ("line",) if ctx.has("screw_speed") and self._into_the_screw(ctx) else ()

    @staticmethod
    def _into_the_screw(ctx: Context) -> tuple[str, ...]:
        """Feeders with a rate that feed the screw itself: a blender fills the hopper a flood-fed one takes from."""
        given = {
            feeder.name for feeder in ctx.line.feeder if feeder.kind != "hopper" and (ctx.starve_fed or feeder.side)
        }
        return tuple(name for name in ctx.subjects_of("feeder_rate") if name in given)

    def channel(self, subject: str) -> str:
        """The screw."""
        return "screw_speed"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The rule has its own delays."""
        return Timing(ctx.step_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not seen turning."""
        count = np.zeros(1, np.int64)
        return {
            "past": blank(1, ctx.cells(DYING_S[1])),
            "speed": np.full(1, np.nan),
            "fed": np.full(1, np.nan),
            "pressure": np.full(1, np.nan),
            "most": np.zeros(1),
            "high": count,
            "low": count,
            "full": count,
            "twice": read_twice.start(1),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        speed, speed_state = last_known(state["speed"], view.get("screw_speed")[None, :])
        feeders = self._into_the_screw(ctx)
        rows = view.rows("feeder_rate", feeders)
        rate = np.zeros(view.n)
        for row in rows:
            rate = rate + np.where(np.isfinite(row), row, 0.0)
        known = np.logical_or.reduce(np.isfinite(rows), axis=0) if len(rows) else np.zeros(view.n, bool)
        with np.errstate(invalid="ignore"):
            turning = speed[0] > turning_limit_rpm(ctx)
            standing = speed[0] <= turning_limit_rpm(ctx)
        fed, fed_state = last_known(state["fed"], np.where(turning & known, rate, np.nan)[None, :])
        most = np.fmax.accumulate(np.concatenate((state["most"], fed[0])))
        joined, past = with_past(state["past"], rate[None, :])
        groups = judging_sensors(ctx)
        pressure = view.get(f"melt_pressure:{groups[0][0]}") if groups else np.full(view.n, np.nan)
        before, pressure_state = last_known(state["pressure"], np.where(turning, pressure, np.nan)[None, :])
        after = {
            "past": past,
            "speed": speed_state,
            "fed": fed_state,
            "pressure": pressure_state,
            "most": most[-1:].copy(),
        }
        if view.n and not np.count_nonzero(standing):  # nothing to look into, as nearly always
            level = rule(standing[None, :], np.isfinite(speed) & known, np.ones((1, view.n), bool))
            none = np.zeros(1, np.int64)
            return after | {"high": none, "low": none, "full": none, "twice": read_twice.start(1)}, no_facts(
                level[: len(subjects)]
            )
        recipe_rate = ctx.recipe_rate_kg_h or 0.0
        with np.errstate(invalid="ignore"):
            worth = fed[0] > np.fmax(WORTH_SHARE * np.fmax(most[1:], recipe_rate), 1.0)
            much = standing & known & worth & (rate > self.soon_share * fed[0])
            some = standing & known & worth & (rate > self.late_share * fed[0])
        with np.errstate(invalid="ignore"):
            back = [joined[0, joined.shape[1] - view.n - ctx.cells(s) :][: view.n] for s in DYING_S]
            dying = (rate < DYING_SHARE[0] * back[0]) | (rate < DYING_SHARE[1] * back[1])
            as_before = standing & known & worth & (rate >= AS_BEFORE * fed[0])
        moves = np.where(np.isfinite(back[1]), rate != back[1], False)
        drives = view.rows("feeder_drive", feeders)
        all_still = np.isfinite(drives).any(axis=0) & ~(drives > STILL_DRIVE_PCT).any(axis=0)
        switched = view.rows("feeder_running", feeders)
        all_still |= np.isfinite(switched).any(axis=0) & ~(switched > 0.5).any(axis=0)
        much, some = much & ~dying & ~all_still, some & ~dying & ~all_still
        high, high_state = run_length(state["high"], much[None, :])
        low, low_state = run_length(state["low"], some[None, :])
        full, full_state = run_length(state["full"], (as_before & ~dying & ~all_still)[None, :])
        with np.errstate(invalid="ignore"):
            proven = ~((pressure >= PRESSURE_STANDS * before) & (before > 0))
        twice, waits = read_twice.advance(
            state["twice"], some[None, :], read_twice.arrived(view, ("screw_speed",)), ctx
        )
        soon_s = self.soon_s if ctx.has("feeder_drive") else self.rate_only_s
        soon, sure, late = (ctx.cells(read_twice.on_delay_s(s, ctx)) for s in (soon_s, self.rate_only_s, self.late_s))
        goes_on = (full >= ctx.cells(read_twice.on_delay_s(AS_BEFORE_S, ctx))) & moves[None, :]
        holds = (((high >= soon) & proven) | (goes_on & proven) | (high >= sure) | (low >= late)) & ~waits
        after |= {"high": high_state, "low": low_state, "full": full_state, "twice": twice}
        if not subjects:
            empty = np.zeros((0, view.n))
            return after, Judged(empty.astype(np.int8), empty, {})
        level = rule(holds, np.isfinite(speed) & known, np.ones((1, view.n), bool))
        return after, Judged(level, rate[None, :], {"rate": rate, "fed": fed[0], "speed": speed[0]})

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What is still fed."""
        return Explanation(
            f"feeders deliver {facts['rate']:.0f} kg/h into a screw that stands",
            1,
            "high",
            (
                Evidence("rate fed", facts["rate"], "kg/h", 0.0, None, "total_feed"),
                Evidence("screw speed", facts["speed"], "rpm", None, None, "screw_speed"),
            ),
            (
                "drive tripped and the feeder interlock did not act",
                "interlock bridged or delayed",
                "feeder rates frozen in the log",
            ),
            ("stop the feeders", "material standing in throat and side feeder", "why the drive stopped"),
            cautions.MOVING,
        )
