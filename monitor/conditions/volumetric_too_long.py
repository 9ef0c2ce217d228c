"""A feeder runs by speed instead of by weight for longer than a refill takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import run_length
from monitor.levels import rule
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

EXACT_S = 60.0

BY_HAND_S = 900.0
"""Cleaning, calibration or filling by hand take a feeder out of gravimetric for so long as a matter of course."""


@dataclass(frozen=True)
class VolumetricTooLong(FeederRule):
    """A feeder has been in volumetric mode for five minutes and more outside refills.

    An operator would say: "somebody left it in volumetric". Its rate is then calculated from speed and not weighed,
    good to 1 to 3 % at best, and a bridge is not seen in it. Time during a refill, by hand up to a quarter of an hour,
    does not count. A note until it has lasted a quarter of an hour: so long takes work by hand. Where the mode is not
    logged: a rate that equals its set-point to the digit over a weight that stands still is feeder_weight_still, over
    one that falls as it should only an echo. Common practice, no source. Look-alikes: refill hold (left out), a
    feeder not in use, start and settling (only steady running counts). Missing readings neither start nor end it.
    Memory: two counts a feeder.
    """

    on_s: float = setting(300, 30, 7200, "s")
    off_s: float = setting(30, 10, 3600, "s")

    name: ClassVar[str] = "volumetric_too_long"
    title: ClassVar[str] = "feeder in volumetric mode"
    charted: ClassVar[str] = "feeder_gravimetric"
    needs: ClassVar[tuple[str, ...]] = ("feeder_gravimetric",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_setpoint", "feeder_weight|feeder_refill")
    quantities: ClassVar[tuple[str, ...]] = ("refilling",)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A refill by hand neither ends nor starts it."""
        return Timing(self.on_s, self.off_s, 1200.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """In gravimetric."""
        count = len(subjects)
        return {"long": np.zeros(count, np.int64), "exact": np.zeros(count, np.int64)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 a note, 2 longer than work by hand takes."""
        mode, wanted = view.rows("feeder_gravimetric", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        rate = view.rows("feeder_rate", subjects)
        armed = view.in_phase("steady") & ~(wanted <= 0)
        with np.errstate(invalid="ignore"):
            volumetric = mode < 0.5
        level = rule(volumetric, np.isfinite(mode), armed)
        level[feeder_signals.refilling(view, subjects) & armed] = UNKNOWN
        long, long_state = run_length(state["long"], volumetric)
        level[(level == 1) & (long * ctx.step_s >= BY_HAND_S)] = 2
        exact, exact_state = run_length(state["exact"], rate == view.rows("feeder_setpoint", subjects))
        facts = {
            "minutes": long * ctx.step_s / 60,
            "exact": (exact * ctx.step_s >= EXACT_S).astype(float),
            "rate": rate,
            "wanted": wanted,
            "drive": view.rows("feeder_drive", subjects),
        }
        return {"long": long_state, "exact": exact_state}, Judged(level, facts["minutes"], facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Since when."""
        name = feeder_signals.label(subject, ctx)
        exact = ("its rate equals the set-point to the digit: nothing is weighed",) if facts["exact"] else ()
        evidence = [Evidence("in volumetric", facts["minutes"], "min", None, None, self.channel(subject))]
        if facts["rate"] == facts["rate"]:
            evidence.append(Evidence(f"{name} shows", facts["rate"], "kg/h", facts["wanted"]))
        return Explanation(
            f"{name} in volumetric mode: its rate is calculated, not weighed",
            3 if level > 1 else 4,
            "high",
            tuple(evidence),
            (
                Cause("left in volumetric after cleaning, calibration or a fault", exact),
                Cause("controller fell back: scale disturbed or drive at its limit", (), (), ("feeder_weight_still",
                      "feeder_drive_near_limit", "feeder_bridged")),
                Cause("refill not ended: mark or valve stuck"),
            ),
            ("mode on the feeder's controller", "its alarms", "catch sample: is the rate right?"),
        )  # fmt: skip
