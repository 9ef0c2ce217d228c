"""A hopper fills slowly by itself: its refill valve passes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import blank, two_threshold, with_past
from monitor.levels import rule
from monitor.quantities.windows import window_start, window_sums
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

WINDOW_S = 600.0
HOPPER_KG = 50.0
SLOWEST_FILL_S = 5400.0
"""Nobody takes longer to fill a hopper; what comes faster than that is taken for filling."""

STILL_DRIVE_PCT = 3.0


@dataclass(frozen=True)
class RefillValveLeaking(FeederRule):
    """A weight creeps up though no refill was called: material leaks into the hopper.

    An operator would say: "the refill valve passes". Over ten minutes without refill mark the weight rises by 0.5 %
    of itself and 0.2 kg at least, in each third of them, and slower than would fill the hopper in an hour and a
    half. While the feeder stands the rise is the leak; while it feeds, the leak is the rise and what it feeds, and
    a smaller leak hides in the rate: then scale_wrong is what shows. Common practice, no source. Look-alikes:
    refill by mark or by weight, filling by hand (faster), a hand on the hopper and blanket gas (one leap), warming
    of the load cell (smaller). Missing readings neither start nor end it. Memory: ten minutes of weight and of
    refill marks a feeder.
    """

    rise_share: float = setting(0.005, 0.001, 0.2, "of the weight in ten minutes")
    rise_kg: float = setting(0.2, 0.01, 50, "kg in ten minutes")
    on_s: float = setting(60, 10, 3600, "s")
    off_s: float = setting(300, 10, 7200, "s")

    name: ClassVar[str] = "refill_valve_leaking"
    title: ClassVar[str] = "refill valve leaking"
    charted: ClassVar[str] = "feeder_weight"
    needs: ClassVar[tuple[str, ...]] = ("feeder_weight",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_refill", "feeder_rate", "feeder_drive")
    quantities: ClassVar[tuple[str, ...]] = ("refilling",)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Seen in the minutes between refills, also while the line stands."""
        return Timing(self.on_s, self.off_s, 900.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count, width = len(subjects), ctx.cells(WINDOW_S)
        return {
            "weight": blank(count, width),
            "calm": window_start(count, width),
            "fed": window_start(count, width),
            "on": np.zeros(count, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        weight, n, width = view.rows("feeder_weight", subjects), view.n, ctx.cells(WINDOW_S)
        calm = np.isfinite(weight) & ~feeder_signals.refilling(view, subjects)
        weights, past = with_past(state["weight"], weight)
        _, (kept,), calm_state = window_sums(state["calm"], np.where(calm, 1.0, np.nan), (width,))
        rate = view.rows("feeder_rate", subjects)
        (fed,), _, fed_state = window_sums(state["fed"], rate * (ctx.step_s / 3600), (width,))
        third = width // 3
        first, second, start = (weights[:, width - k : width - k + n] for k in (third, 2 * third, width))
        with np.errstate(invalid="ignore"):
            rise = weight - start
            least = np.fmax(self.rise_share * weight, self.rise_kg)
            each = np.minimum(np.minimum(weight - first, first - second), second - start)
            sizes = np.array([[ctx.line.feeder_named(name).hopper_kg or HOPPER_KG] for name in subjects]).reshape(-1, 1)
            slow = rise <= sizes * WINDOW_S / SLOWEST_FILL_S
            whole = kept == width
            rises = whole & (rise >= least) & (each >= rise / 6) & slow
            falls = whole & (rise < 0.3 * least)
        on, on_state = two_threshold(state["on"], rises, falls)
        level = rule(on, whole, np.ones((len(subjects), n), bool))
        facts = {
            "weight": weight,
            "rise": rise,
            "leak": (rise + np.nan_to_num(fed)) * 3600 / WINDOW_S,
            "rate": rate,
            "drive": view.rows("feeder_drive", subjects),
        }
        return {"weight": past, "calm": calm_state, "fed": fed_state, "on": on_state}, Judged(level, rise, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How fast it fills."""
        name = feeder_signals.label(subject, ctx)
        stands = facts["drive"] <= STILL_DRIVE_PCT or facts["rate"] <= 0
        own = ("the feeder stands",) if stands else ()
        return Explanation(
            f"{name}: weight creeps up {facts['rise']:.2f} kg in ten minutes without a refill",
            3,
            "high" if stands else "medium",
            (
                Evidence("weight rose in ten minutes", facts["rise"], "kg", 0.0, None, self.channel(subject)),
                Evidence("comes in", facts["leak"], "kg/h"),
            ),
            (
                Cause("refill valve or slide passes", own),
                Cause("scale drifts: temperature, something settling on the hopper", (), ()),
                Cause("filled slowly by hand or by a trickling loader"),
            ),
            ("refill valve: seat, air, lump in it", "scale zero and anything touching the hopper"),
        )
