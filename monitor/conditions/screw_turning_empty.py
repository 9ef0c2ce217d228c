"""The screw turns without feed for long: metal on metal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import accumulate_while, run_length
from monitor.levels import rule
from monitor.quantities.load import load_words
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class ScrewTurningEmpty(RuleDefaults):
    """The screw turns fast with nothing in it.

    An operator would say: "somebody left it turning". Over `speed_share` of the recipe's speed (else of the drive's
    rated one), all feed under `fed_share` of the recipe's or the greatest rate seen, and net torque, where it is known
    in percent, under `torque_pct`, for `on_s`, outside purging. Metal wears by the way it slides: a screw that somebody
    slowed to a third may turn empty three times as long, so that the time counts in seconds at the usual speed.
    Look-alikes: rethreading strands at a low speed (a quarter of an hour), running empty before a stop (minutes), a
    feed that is lost while it is wanted (starved, another finding), purging by hand through the throat (torque shows
    it). Missing readings: nothing is known of the feed, so not judged. Memory: two numbers. Sliding way as the measure
    of wear: Archard's law. Limits: common practice, no source.
    """

    speed_share: float = setting(0.2, 0.02, 1.0, "of the usual speed")
    fed_share: float = setting(0.02, 0.001, 0.2, "of the usual rate")
    torque_pct: float = setting(6, 0.5, 40, "% of rated, no-load part taken off")
    on_s: float = setting(300, 30, 7200, "s at the usual speed; longer the slower it turns")
    off_s: float = setting(20, 10, 600, "s")

    name: ClassVar[str] = "screw_turning_empty"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "screw turning empty"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("screw_speed", "feeder_rate|line_rate")
    sharpened_by: ClassVar[tuple[str, ...]] = ("torque|motor_current|drive_power",)
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "net_torque")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The screw, where speed and feed are logged."""
        fed = ctx.has("feeder_rate") or ctx.has("line_rate")
        return ("screw",) if ctx.has("screw_speed") and fed else ()

    def channel(self, subject: str) -> str:
        """The speed."""
        return "screw_speed"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {"most": np.zeros(1), "empty": np.zeros(1, np.int64), "way": np.zeros(1)}

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The time is counted here, by the way the screw has turned empty."""
        return Timing(ctx.step_s, self.off_s)

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        speed, feed, torque = view.get("screw_speed"), view.quantity("total_feed"), view.quantity("net_torque")
        recipe = ctx.recipe.recipe if ctx.recipe else None
        most = np.fmax.accumulate(np.concatenate((state["most"], np.nan_to_num(feed))))
        usual_rate = np.full(view.n, recipe.rate_kg_h) if recipe and recipe.rate_kg_h else most[1:]
        usual_speed = (recipe and recipe.screw_speed_rpm) or ctx.line.drive.rated_speed_rpm or 100.0

        loaded = (torque > self.torque_pct) if load_words(ctx)[1] == "%" else np.zeros(view.n, bool)
        with np.errstate(invalid="ignore"):
            empty = (speed >= self.speed_share * usual_speed) & (feed <= self.fed_share * np.fmax(usual_rate, 1.0))
        armed = ~view.in_phase("purging")
        alone = (empty & ~loaded & armed)[None, :]
        length, after = run_length(state["empty"], alone)
        turned = np.where(alone, speed / usual_speed, 0.0) * ctx.step_s
        way_s, way = accumulate_while(state["way"], turned, alone)
        known = (np.isfinite(speed) & np.isfinite(feed))[None, :]
        level = rule(way_s >= self.on_s, known, armed)
        facts = {"speed": speed, "feed": feed, "torque": torque, "minutes": length[0] * ctx.step_s / 60}
        return {"most": most[-1:].copy(), "empty": after, "way": way}, Judged(level, length.astype(float), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long, how fast."""
        words, unit = load_words(ctx)
        return Explanation(
            f"screw has turned empty at {facts['speed']:.0f} rpm for {facts['minutes']:.0f} min",
            3,
            "high" if facts["torque"] == facts["torque"] else "medium",
            (
                Evidence("screw speed", facts["speed"], "rpm", None, None, "screw_speed"),
                Evidence("feed", facts["feed"], "kg/h", None, None, "total_feed"),
                Evidence(words, facts["torque"], unit, None, None, "net_torque"),
            ),
            (
                Cause("left turning after emptying or rethreading"),
                Cause("feed wanted but switched off"),
                Cause("fed in a way that is not logged", (), ("the screws do no work",)),
            ),
            ("stop the screw or lower its speed", "wear and metal in the first product after it"),
        )
