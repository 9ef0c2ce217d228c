"""The hopper over a flood-fed throat empties: its loader brings nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions, recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import blank, trailing_least, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

MINUTE_S, OVER_S = 60.0, 180.0
"""Means of a minute, three minutes apart: how fast it falls."""

LATELY_S, REMEMBERED_S = 900.0, 7200.0
"""The lowest it usually gets: of two hours that ended a quarter of an hour ago, half an hour of them at least."""

KNOWN_S = 1800.0
LOWER_SHARE, LOWER_PCT = 0.1, 3.0


@dataclass(frozen=True)
class ThroatHopperEmptying(RuleDefaults):
    """The level in the hopper over the throat is lower than it usually gets, and falls.

    An operator would say: "the loader has stopped". The level is a tenth, and 3 % of a full hopper, under the lowest of
    the two hours before, and still falls, so that less than `soon_s` is left: priority 3, from `urgent_s` on 2. It goes
    on until the level has risen. Look-alikes: the saw-tooth of a loader (not lower than it usually gets), a hopper run
    empty on purpose ahead of a change (looks the same: the time left is said all the same), a level that is not yet
    known for half an hour (nothing is said). Missing readings neither start nor end it. Memory: two and a quarter hours
    of one signal. Common practice, no source.
    """

    soon_s: float = setting(1800, 120, 14400, "s to empty, from which it is said")
    urgent_s: float = setting(600, 30, 3600, "s to empty, from which it is urgent")
    on_s: float = setting(30, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "throat_hopper_emptying"
    family: ClassVar[Family] = "feeder"
    title: ClassVar[str] = "hopper over the throat running empty"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("hopper_level",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The hopper."""
        return ("hopper",) if ctx.has("hopper_level") else ()

    def channel(self, subject: str) -> str:
        """Its level."""
        return "hopper_level"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {
            "now": recent_level.start(1, ctx.cells(MINUTE_S), 0),
            "before": recent_level.start(1, ctx.cells(MINUTE_S), ctx.cells(OVER_S)),
            "lately": blank(1, ctx.cells(LATELY_S)),
            "known": recent_level.start(1, ctx.cells(KNOWN_S), ctx.cells(LATELY_S)),
            "lowest": blank(1, ctx.cells(REMEMBERED_S)),
            "on": np.zeros(1, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels: 1 it empties, 2 within minutes."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        level_now = view.get("hopper_level")[None, :]
        after: State = {}
        after["now"], now = recent_level.advance(state["now"], level_now)
        after["before"], before = recent_level.advance(state["before"], level_now)
        running = view.in_phase("steady", "settling", "changing")
        # A hopper that stands full through a heat-up tells nothing of how low it gets.
        after["known"], known = recent_level.advance(state["known"], np.where(running, level_now, np.nan), 0.9)
        joined, after["lately"] = with_past(state["lately"], np.where(running, now, np.nan))
        lowest, after["lowest"] = trailing_least(state["lowest"], joined[:, : view.n])
        with np.errstate(invalid="ignore", divide="ignore"):
            falls_s = (before - now) / OVER_S
            left_s = np.where(falls_s > 0, now / falls_s, np.inf)
            under = now < np.minimum((1 - LOWER_SHARE) * lowest, lowest - LOWER_PCT)
            starts = under & np.isfinite(known) & (left_s < self.soon_s) & running
            ends = (now > before + LOWER_PCT) | ~running
        on, after["on"] = two_threshold(state["on"], starts, ends)
        judged = rule(on, np.isfinite(now), running)
        with np.errstate(invalid="ignore"):
            # Once nothing falls any more it is because nothing is left.
            gone = ~(falls_s > 0) & (now <= LOWER_PCT)
            judged[(judged == 1) & ((left_s < self.urgent_s) | gone)] = 2
        left_s = np.where(np.isfinite(left_s), left_s, np.where(now <= LOWER_PCT, 0.0, np.nan))
        return after, Judged(judged, lowest - now, {"value": now, "lowest": lowest, "left_s": left_s})

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long it lasts."""
        left = facts["left_s"]
        lasts = "" if left != left else ", empty now" if left < 1 else f", empty in {max(left / 60, 1):.0f} min"
        return Explanation(
            f"hopper over the throat at {max(facts['value'], 0.0):.0f} % and falling{lasts}",
            2 if level >= 2 else 3,
            "high",
            (
                Evidence("level in the hopper", facts["value"], "%", facts["lowest"], None, "hopper_level"),
                *((Evidence("time to empty", left / 60, "min"),) if left == left else ()),
            ),
            (
                Cause("silo or container empty"),
                Cause("loader stopped, its line or filter blocked"),
                Cause("run empty on purpose before a change"),
            ),
            ("silo and loader", "loader's filter and suction line", "level probe, where the hopper looks full"),
            cautions.MOVING,
        )
