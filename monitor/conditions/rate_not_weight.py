"""A feeder's reported rate is not what its weight says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import one_side
from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import last_known, run_length
from monitor.levels import levels_above
from monitor.quantities.weight_loss import loss, loss_start
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

STILL_SHARE = 0.4
"""Below this part of the promised loss nothing comes: feeder_weight_still says so."""

FROZEN_S = 120.0


SURE_AFTER_S = 900.0
"""A reported rate is filtered and wanders: over a shorter window it and the weight may differ by more, by the root of
the times. One that stands to the digit does neither. Common practice, no source."""


@dataclass(frozen=True)
class RateNotWeight(FeederRule):
    """The hopper loses another amount than the reported rate adds up to.

    An operator would say: "the rate on the screen is not what goes in": frozen, echoed from the set-point,
    filtered, or scaled wrong on its way to the log. The shortest of 300, 900 and 1800 s is taken in which what
    scale (noise and digit) and sampled rate (scatter) can be wrong by is 1 % of what the rate promises, else the
    longest; off by 5 % (over less than 900 s by the root of the times more) and three times that error it is said,
    level 2 from 15 %. Only whole windows without refill, touched scale or moved set-point count. Below 40 % nothing
    comes: that is feeder_weight_still. Common practice, no source. Look-alikes: refill by mark or weight, catch
    sample, calibration, tare, a hand on the hopper (the weight leaps), extraction pulse (noise grows, and the bar
    with it), coarse scale, a tag that echoes the set-point while the weight falls as it should, a scale wrong in
    span (rate and weight then agree: scale_wrong). Missing readings neither start nor end it. Memory: half an hour
    of weight and of running totals a feeder.
    """

    off_pct: float = setting(5, 1, 50, "% of the promised kilograms")
    far_pct: float = setting(15, 2, 100, "% of the promised kilograms")
    errors: float = setting(3, 1, 10, "times what the scale can be wrong by")
    on_s: float = setting(60, 10, 3600, "s")
    off_s: float = setting(900, 10, 3600, "s")

    name: ClassVar[str] = "rate_not_weight"
    title: ClassVar[str] = "feeder rate is not what its weight says"
    charted: ClassVar[str] = "feeder_weight"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_weight")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_setpoint", "feeder_drive", "feeder_refill")
    quantities: ClassVar[tuple[str, ...]] = ("refilling", "weight_noise")

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count = len(subjects)
        return {
            "loss": loss_start(count, ctx),
            "on": np.zeros((count, 2), bool),
            "side": one_side.start(count),
            "rate": np.full(count, np.nan),
            "frozen": np.zeros(count, np.int64),
            "echoed": np.zeros(count, np.int64),
        }

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A refill leaves nothing to judge for as long as the window needs to fill again."""
        return Timing(self.on_s, self.off_s, SURE_AFTER_S)

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 off, 2 far off."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        used = feeder_signals.in_use(view, wanted)
        calm = used & ~feeder_signals.refilling(view, subjects)
        weight, noise = view.rows("feeder_weight", subjects), feeder_signals.rows_of(view, "weight_noise", subjects)
        found, loss_state = loss(state["loss"], weight, noise, rate, calm, ctx)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = found.lost / found.promised
            off = np.where(share >= STILL_SHARE, 100 * np.abs(share - 1), np.nan)
            slack = 100 * self.errors * found.error / found.promised
        said, said_last = last_known(state["rate"], rate)
        before = np.concatenate((state["rate"][:, None], said), axis=1)[:, :-1]
        frozen, frozen_state = run_length(state["frozen"], rate == before)
        with np.errstate(invalid="ignore", divide="ignore"):
            stands = frozen * ctx.step_s >= found.window_s
            lag = np.where(stands, 1.0, np.sqrt(np.fmax(SURE_AFTER_S / found.window_s, 1.0)))
        near, far = np.fmax(self.off_pct * lag, slack), np.fmax(self.far_pct, slack)
        on, level = levels_above(state["on"], off, (near, far), 0.4 * near, used)
        level[np.isnan(off) & used] = UNKNOWN
        level, side = one_side.one_side(state["side"], level, share - 1, ctx.cells(self.off_s))
        echoed, echoed_state = run_length(state["echoed"], rate == view.rows("feeder_setpoint", subjects))
        facts = {
            "rate": rate,
            "wanted": wanted,
            "flow": rate * share,
            "lost": found.lost,
            "promised": found.promised,
            "error": found.error,
            "window_s": found.window_s,
            "frozen_s": frozen * ctx.step_s,
            "echoed_s": echoed * ctx.step_s,
        }
        after = {
            "loss": loss_state,
            "on": on,
            "side": side,
            "rate": said_last,
            "frozen": frozen_state,
            "echoed": echoed_state,
        }
        return after, Judged(level, off / near, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Both rates, and what the reported one looks like."""
        name = feeder_signals.label(subject, ctx)
        frozen = facts["frozen_s"] >= FROZEN_S
        echoed = facts["echoed_s"] >= FROZEN_S
        less = facts["lost"] < facts["promised"]
        kept = f"rate the same to the digit for {facts['frozen_s'] / 60:.0f} min"
        causes = [
            Cause("reported rate echoed from the set-point", ("it equals the set-point to the digit",), (), ())
            if echoed
            else Cause("reported rate echoed from the set-point", (), ("it is not the set-point",)),
            Cause("reported rate frozen", (kept,)) if frozen else Cause("reported rate frozen", (), ("it moves",)),
            Cause("reported rate filtered, or scaled wrong on its way", (), (kept,) if frozen else ()),
        ]
        causes.sort(key=lambda cause: (-len(cause.speaks_for), len(cause.speaks_against)))
        causes.append(
            Cause("material comes in: refill valve leaking", (), (), ("refill_valve_leaking",))
            if less
            else Cause("material runs through: flushing, or lost beside the feeder", (), (), ("flushing",))
        )
        minutes = facts["window_s"] / 60
        return Explanation(
            f"{name} reports {facts['rate']:.1f} kg/h, its weight says {facts['flow']:.1f}",
            2 if level > 1 else 3,
            "high",
            (
                Evidence(f"weight lost in {minutes:.0f} min", facts["lost"], "kg", facts["promised"], None,
                         self.channel(subject)),
                Evidence("scale and rate can be wrong by", facts["error"], "kg"),
                Evidence(f"{name} reports", facts["rate"], "kg/h", facts["wanted"], None, f"feeder_rate:{subject}"),
            ),
            tuple(causes),
            ("rate on the feeder's own display", "catch sample", "refill valve shut"),
        )  # fmt: skip
