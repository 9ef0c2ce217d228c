"""A strand has broken: the haul-off pulls less while the extruder goes on as before."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import last_known, two_threshold
from monitor.levels import rule
from monitor.onset import onsets
from monitor.onset import start as onset_start
from monitor.pressure_path import head_group, pressure
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

LOAD_APART = 0.06
"""Net torque of the screws that has moved more is a feed or a melt that has: thinner strands, not one less. Half again
as much as pressure and feed may move, for its scatter. Common practice, no source."""


@dataclass(frozen=True)
class StrandBreak(RuleDefaults):
    """Haul-off load falls in a step by about one part in the number of strands, extruder unchanged.

    An operator would say: "a strand is down". Within half a minute the load of the haul-off drive falls by at least
    `least_pct` of its level two minutes before and more than four times its own minute-to-minute scatter, haul-off
    speed within 2 %, screw speed within 2 %, feed and melt pressure within 4 %, net torque within 6 %. Where strands
    fall from the die one by one, the share says how many of them. Look-alikes: haul-off speed changed, stop, loss of
    feed (pressure and feed move, or, where a filler holds the pressure up, torque alone), rethreading (load climbs
    again: the finding ends). Missing readings do not start it. Memory: 4 min. Numbers are common practice, no source.
    """

    least_pct: float = setting(4, 1, 60, "% of the haul-off load")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(30, 10, 3600, "s")

    name: ClassVar[str] = "strand_break"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "strand down"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("haul_off_load",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "haul_off_speed",
        "melt_pressure",
        "feeder_rate|line_rate",
        "torque|motor_current",
    )
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "net_torque")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where its haul-off load is logged."""
        return ("line",) if ctx.has("haul_off_load") else ()

    def channel(self, subject: str) -> str:
        """The load."""
        return "haul_off_load"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing recent."""
        return {
            "before": recent_level.start(6, ctx.cells(120), ctx.cells(30)),
            "squares": recent_level.start(1, ctx.cells(120), ctx.cells(30)),
            "now": recent_level.start(2, ctx.cells(20), 0),
            "quiet": onset_start(1),
            "ref": np.full(1, np.nan),
            "on": np.zeros(1, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        load = view.get("haul_off_load")
        rows = np.array(
            [load, view.get("haul_off_speed"), view.get("screw_speed"), view.quantity("total_feed"),
             pressure(view, head_group(ctx)), view.quantity("net_torque")]
        )  # fmt: skip
        before_state, before = recent_level.advance(state["before"], rows)
        squares, mean_square = recent_level.advance(state["squares"], np.square(load)[None, :])
        now_state, now = recent_level.advance(state["now"], rows[[0, 5]])
        with np.errstate(invalid="ignore", divide="ignore"):
            scatter = np.sqrt(np.fmax(mean_square[0] - np.square(before[0]), 0.0))
            fall = before[0] - now[0]
            # The load of the screws scatters more than the rest.
            apart = np.abs(np.concatenate((rows[1:5], now[1:])) - before[1:]) / before[1:]
            same = ~(apart[0] > 0.02) & ~(apart[1] > 0.02) & ~(apart[2] > 0.04) & ~(apart[3] > 0.04)
            same &= ~(apart[4] > LOAD_APART)
            steps = (fall >= self.least_pct / 100 * before[0]) & (fall >= 4 * scatter) & (before[0] > 0) & same
            armed = view.in_phase("steady", "settling")
            onset, quiet = onsets(state["quiet"], (steps & armed)[None, :], ctx.cells(180))
            ref, ref_state = last_known(state["ref"], np.where(onset, before[:1], np.nan))
            back = ~(now[0] < ref[0] * (1 - self.least_pct / 200)) | ~armed
        on, on_state = two_threshold(state["on"], (steps & armed)[None, :], back[None, :])
        level = rule(on, np.isfinite(load)[None, :], armed)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = (ref[0] - now[0]) / ref[0]
        facts = {"load": now[0], "was": ref[0], "share": share, "pressure": apart[3], "feed": apart[2]}
        after = {"before": before_state, "squares": squares, "now": now_state, "quiet": quiet}
        after |= {"ref": ref_state, "on": on_state}
        return after, Judged(level, share[None, :], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What share, so how many strands that is."""
        share = facts["share"]
        parts = f", as of 1 strand in {1 / share:.0f}" if share >= 0.02 else ""
        same = tuple(
            f"{what} within {100 * max(facts[key], 0.005):.0f} %"
            for key, what in (("pressure", "melt pressure"), ("feed", "feed"))
            if math.isfinite(facts[key])
        )
        return Explanation(
            f"haul-off load fell by {100 * share:.0f} %{parts}, extruder unchanged",
            3,
            "medium" if same else "low",
            (Evidence("haul-off load", facts["load"], "%", facts["was"], None, "haul_off_load"),),
            (
                Cause("strand broken or lost from the haul-off", same),
                Cause("strand slipping or riding up in the haul-off", same),
                Cause("nip pressure of the haul-off changed"),
            ),
            ("count the strands", "fibre, moisture, gels or a cold die hole at the broken one", "wraps in the cutter"),
        )
