"""What is being made goes to scrap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import last_known, running_total
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class DiverterOnScrap(RuleDefaults):
    """The diverter sends to scrap while the line makes product.

    An operator would say: "it still goes on the floor". The diverter is off product while the line runs, for `on_s`: a
    note with the kilograms, because they are no product and balance and lot must leave them out. Look-alikes: start and
    purge (scrap by intent: not said before it is steady), a diverter that is not wired (never on product: silent).
    Missing readings: the diverter's last word stands for its hold time. Memory: 3 numbers. Common practice, no source.
    """

    on_s: float = setting(300, 10, 7200, "s")
    off_s: float = setting(10, 10, 600, "s")

    name: ClassVar[str] = "diverter_on_scrap"
    family: ClassVar[Family] = "window"
    title: ClassVar[str] = "making scrap"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("diverter_to_product",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate|line_rate",)
    quantities: ClassVar[tuple[str, ...]] = ("total_feed",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The diverter."""
        return ("diverter",) if ctx.has("diverter_to_product") else ()

    def channel(self, subject: str) -> str:
        """Its position."""
        return "diverter_to_product"

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Never seen on product."""
        return {"total": np.zeros(1), "left": np.zeros(1), "wired": np.zeros(1)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row."""
        if not subjects:
            return state, Judged(np.zeros((0, view.n), np.int8), np.zeros((0, view.n)), {})
        position, feed = view.get("diverter_to_product"), view.quantity("total_feed")
        with np.errstate(invalid="ignore"):
            on_product, on_scrap = position > 0.9, position < 0.5
        wired = np.maximum.accumulate(np.concatenate((state["wired"], on_product.astype(float))))
        total = running_total(state["total"], np.nan_to_num(feed)[None, :] * ctx.step_s / 3600)
        left, left_state = last_known(state["left"], np.where(on_product[None, :], total, np.nan))
        kg = total - left
        armed = view.in_phase("steady") & (wired[1:] > 0)
        level = rule(on_scrap[None, :], np.isfinite(position)[None, :], armed)
        facts = {"kg": kg[0], "feed": feed}
        after = {
            "total": total[:, -1].copy() if view.n else state["total"],
            "left": left_state,
            "wired": wired[-1:].copy(),
        }
        return after, Judged(level, kg, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How much."""
        rate = f", {facts['kg']:.0f} kg so far" if facts["feed"] == facts["feed"] else ""
        return Explanation(
            f"diverter on scrap while the line runs{rate}: no product",
            4,
            "high",
            (
                Evidence("to scrap since the diverter left product", facts["kg"], "kg", None, None, "total_feed"),
                Evidence("feed", facts["feed"], "kg/h", None, None, "total_feed"),
            ),
            (
                Cause("product off its window and sent to scrap by intent", shown_by=("recipe_window", "share_wrong")),
                Cause("not switched back after start, sample or cleaning"),
            ),
            ("is it good now? then switch to product", "kilograms in the lot's balance"),
        )
