"""Something hard goes through the screws: a spike of torque with a dip of speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions, recent_level
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import Bools, Floats, blank, run_length, trailing_extremes, trailing_greatest, with_past
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import Readings

BACK_S = 4.0
"""Within so many seconds after the spike a drive is back at its speed; common practice, no source."""

OFTEN_S, SELDOM_S = 3.0, 10.0
"""Read as often as the first a spike shows with its beginning and end; read more seldom than the second next to none
of those of a few seconds is met by a reading."""

LEAST_LEVEL_CELLS = 6
"""Readings of which level and scatter before the spike are made."""

MORE_THAN_DROOP = 3.0
"""One reading alone shows no course. A drive gives way by 1 to 2 % of its speed from no load to full (value from
memory), so that a lump which only loads it shows `dip_share` too: three times that is the screws being held."""


@dataclass(frozen=True)
class TrampMetal(RuleDefaults):
    """Torque spikes for one to three seconds while the screw speed dips.

    An operator would say: "it banged, there is metal in it". The load rises by `spike_share` of its level of the half
    minute before and comes back within `longest_s`, and in the same seconds the speed dips by `dip_share` and by four
    times its own usual scatter. Said when load and speed are back, so that it is a spike. Look-alikes: one-sample spike
    of the load alone (no dip), melt slug or over-feed (stays longer), speed change (no spike against a dip), hunting
    drive (both swing all the time: scatter). Missing readings: silent. Wants readings every 3 s or oftener; in a log of
    every 10 s or oftener a spike that a reading meets is one reading, and counts where load and speed answer in the
    same one, the speed by three times the dip. Memory: 40 s. Common practice, no source.
    """

    spike_share: float = setting(0.2, 0.05, 2, "of the load before")
    dip_share: float = setting(0.01, 0.001, 0.3, "of the speed before")
    longest_s: float = setting(4, 1, 20, "s")
    off_s: float = setting(600, 1, 3600, "s without another")

    name: ClassVar[str] = "tramp_metal"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "something hard in the screws"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("screw_speed", "torque|motor_current|drive_power")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The drive, where it is logged often enough."""
        loads = [role for role in ("torque", "motor_current", "drive_power") if ctx.has(role)]
        return tuple(loads[:1]) if ctx.has("screw_speed") and ctx.line.line.cadence_s <= SELDOM_S else ()

    def channel(self, subject: str) -> str:
        """The load."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Said at once; spikes within `off_s` are one finding."""
        return Timing(ctx.step_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        # What is held against the level must not be part of it: the spike, and the way back to speed.
        lag = max(ctx.cells(self.longest_s + 2 + BACK_S), ctx.cells(self.longest_s) + ctx.cells(BACK_S) + 1)
        width = max(ctx.cells(30), LEAST_LEVEL_CELLS)
        return {
            "level": recent_level.start(2, width, lag),
            "square": recent_level.start(1, width, lag),
            "spike": np.zeros(1, np.int64),
            "past": blank(2, lag),
            "over": blank(1, ctx.cells(BACK_S)),
            "was_up": blank(1, 1),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """True for the seconds in which load and speed are back."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        load, speed = view.get(subjects[0]), view.get("screw_speed")
        both = np.array([load, speed])
        level_state, level = recent_level.advance(state["level"], both, 0.8)
        square_state, square = recent_level.advance(state["square"], np.square(speed)[None, :], 0.8)
        with np.errstate(invalid="ignore"):
            up = load >= (1 + self.spike_share) * level[0]
        length, spike_state = run_length(state["spike"], up[None, :])
        joined, was_up = with_past(state["was_up"], length.astype(float))
        lasted = np.where(np.isnan(joined[0, : view.n]), 0.0, joined[0, : view.n])
        with np.errstate(invalid="ignore"):
            ends = ~up & np.isfinite(load) & (lasted >= 1) & (lasted <= ctx.cells(self.longest_s))
            spike, over_state = trailing_greatest(state["over"], np.where(ends, lasted, np.nan)[None, :])
            over = ~up & np.isfinite(load) & (spike[0] >= 1)
            if not np.count_nonzero(over):
                past = with_past(state["past"], self._answering(both, up, ctx))[1]
                after = {"level": level_state, "square": square_state, "spike": spike_state, "past": past}
                after |= {"over": over_state}
                quiet = rule(over[None, :], np.isfinite(load)[None, :], np.ones((1, view.n), bool))
                return after | {"was_up": was_up}, no_facts(quiet)
            low, peak, past = trailing_extremes(state["past"], self._answering(both, up, ctx))
            scatter = np.sqrt(np.fmax(square[0] - np.square(level[1]), 0.0))
            dip = level[1] - low[1]
            least = self.dip_share * (1.0 if _often(ctx) else MORE_THAN_DROOP)
            dips = (dip >= least * level[1]) & (dip >= 4 * scatter)
            turning = speed > turning_limit_rpm(ctx)
            steady = np.abs(speed - level[1]) <= 0.03 * level[1]
        holds = (over & dips & turning & steady)[None, :]
        facts = {"peak": peak[0], "was": level[0], "dip": dip, "speed": level[1], "seconds": spike[0] * ctx.step_s}
        after = {"level": level_state, "square": square_state, "spike": spike_state, "past": past, "was_up": was_up}
        after |= {"over": over_state}
        return after, Judged(rule(holds, np.isfinite(load)[None, :], np.ones((1, view.n), bool)), peak[:1], facts)

    @staticmethod
    def _answering(both: Floats, up: Bools, ctx: Context) -> Floats:
        """Load and the speed that may have dipped with it, [2, n]: where readings are seldom, only in the same ones."""
        return both if _often(ctx) else np.array([both[0], np.where(up, both[1], np.nan)])

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How high, how long."""
        every_s = ctx.line.line.cadence_s
        for_how_long = f"for {facts['seconds']:.0f} s" if _often(ctx) else f"in one reading of every {every_s:.0f} s"
        return Explanation(
            f"load spiked to {facts['peak']:.0f} from {facts['was']:.0f} {for_how_long} and speed dipped "
            f"by {facts['dip']:.1f} rpm",
            2,
            "medium",
            (
                Evidence("load at the peak", facts["peak"], "", facts["was"]),
                Evidence("dip of screw speed", facts["dip"], "rpm", None, None, "screw_speed"),
            ),
            (
                Cause("metal or stone in the feed", ("a short spike and a dip of speed together",)),
                Cause("a lump of cold or frozen material"),
                Cause("screws touching barrel or each other"),
            ),
            (
                "listen at the barrel; stop if it comes again",
                "magnet and sieve of the feed, bolts and scoops missing upstream",
                "screws and liners at the next opening; product since then for metal",
            ),
            cautions.MOVING,
        )


def _often(ctx: Context) -> bool:
    """Whether readings come so often that a spike is several of them."""
    return ctx.line.line.cadence_s <= OFTEN_S
