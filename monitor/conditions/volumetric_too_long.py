"""A feeder runs by speed instead of by weight for longer than a refill takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key, split_key
from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, accumulate_while, blank, run_length
from monitor.levels import rule
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

EXACT_S = 60.0

MEASURED_CELLS = 60
"""A rate that has moved in so many 10 s of running was measured then."""

TIMES_LONGEST = 10
"""A rounded rate stands still now and then: so many times the longest of these is no such chance."""

BY_HAND_S = 900.0
"""Cleaning, calibration or filling by hand take a feeder out of gravimetric for so long as a matter of course."""


@dataclass(frozen=True)
class VolumetricTooLong(FeederRule):
    """A feeder has been in volumetric mode for five minutes and more outside refills.

    An operator would say: "somebody left it in volumetric". Its rate is then calculated from speed and not weighed,
    good to 1 to 3 % at best, and a bridge is not seen in it. Time during a refill, by hand up to a quarter of an hour,
    does not count. A note until it has lasted a quarter of an hour: so long takes work by hand. Where neither mode nor
    weight is logged: a rate that was measured before has stood on its set-point to the digit for `held_s`, longer than
    any refill, and ten times as long as it ever stood there. Over a weight that stands still that is
    feeder_weight_still, over one that falls as it should only an echo. Common practice, no source. Look-alikes: refill
    hold (left out), a rounded rate that stands there now and then, a copy of the set-point that never was measured
    (actual_is_setpoint), a feeder not in use, start and settling (only steady running counts). Missing readings
    neither start nor end it. Memory: six counts a feeder.
    """

    held_s: float = setting(900, 300, 14400, "s on set to the digit, of what was measured before")
    on_s: float = setting(300, 30, 7200, "s")
    off_s: float = setting(30, 10, 3600, "s")

    name: ClassVar[str] = "volumetric_too_long"
    title: ClassVar[str] = "feeder in volumetric mode"
    charted: ClassVar[str] = "feeder_gravimetric"
    needs: ClassVar[tuple[str, ...]] = ("feeder_gravimetric|feeder_rate", "feeder_gravimetric|feeder_setpoint")
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "feeder_gravimetric",
        "feeder_rate",
        "feeder_setpoint",
        "feeder_weight|feeder_refill",
    )
    quantities: ClassVar[tuple[str, ...]] = ("refilling",)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The mode of each feeder, or its rate where a rate and a set-point are all that is logged of it."""
        told = feeder_signals.feeders_with(ctx, ("feeder_gravimetric",))
        weighed = feeder_signals.feeders_with(ctx, ("feeder_weight",))
        pairs = feeder_signals.feeders_with(ctx, ("feeder_rate", "feeder_setpoint"))
        untold = [name for name in pairs if name not in told and name not in weighed]
        return (
            *(channel_key("feeder_gravimetric", name) for name in told),
            *(channel_key("feeder_rate", name) for name in untold),
        )

    def channel(self, subject: str) -> str:
        """Subjects are channels."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A refill by hand neither ends nor starts it."""
        return Timing(self.on_s, self.off_s, 1200.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """In gravimetric."""
        count = len(subjects)
        return {
            "long": np.zeros(count, np.int64),
            "exact": np.zeros(count, np.int64),
            "rate": blank(count, 1),
            "held": np.zeros(count, np.int64),
            "alone": np.zeros(count),
            "longest": np.zeros(count, np.int64),
            "measured": np.zeros(count, np.int64),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 a note, 2 longer than work by hand takes."""
        names = [split_key(key)[1] for key in subjects]
        by_mode = np.array([key.startswith("feeder_gravimetric") for key in subjects], bool).reshape(-1, 1)
        mode, wanted = view.rows("feeder_gravimetric", names), feeder_signals.wanted_rates(view, names, ctx)
        rate = view.rows("feeder_rate", names)
        armed = view.in_phase("steady") & ~(wanted <= 0)
        held, kept = self._held(state, rate, armed, view.rows("feeder_setpoint", names), ctx)
        with np.errstate(invalid="ignore"):
            volumetric = np.where(by_mode, mode < 0.5, held > 0)
        level = rule(volumetric, np.isfinite(np.where(by_mode, mode, rate)), armed)
        level[feeder_signals.refilling(view, names) & armed] = UNKNOWN
        long, long_state = run_length(state["long"], volumetric)
        lasts = np.where(by_mode, long, held)
        level[(level == 1) & ((lasts * ctx.step_s >= BY_HAND_S) | ~by_mode)] = 2
        exact, exact_state = run_length(state["exact"], rate == view.rows("feeder_setpoint", names))
        facts = {
            "minutes": lasts * ctx.step_s / 60,
            "exact": ((exact * ctx.step_s >= EXACT_S) | ~by_mode).astype(float),
            "rate": rate,
            "wanted": wanted,
            "drive": view.rows("feeder_drive", names),
        }
        return {"long": long_state, "exact": exact_state, **kept}, Judged(level, facts["minutes"], facts)

    def _held(
        self, state: State, rate: Floats, armed: Bools, asked: Floats, ctx: Context
    ) -> tuple[NDArray[np.int64], State]:
        """For how many cells a rate that was measured has stood on its set-point, once that is too long, else 0."""
        after: State = {}
        still, after["rate"] = feeder_signals.held_on_set(state["rate"], rate, asked)
        stands = still & armed
        length, after["held"] = run_length(state["held"], stands)
        # Where none moves nothing is known of any: small rates logged with few digits all stand now and then, and
        # so does a controller. It neither counts nor ends what was counted.
        others = np.ones(still.shape) * (~still.all(axis=0) if len(rate) > 1 else 1.0)
        alone, after["alone"] = accumulate_while(state["alone"], others, stands)
        before = np.concatenate((state["alone"][:, None], alone), axis=1)
        ended = np.where(before[:, 1:] == 0, before[:, :-1], 0).astype(np.int64)
        longest = np.maximum.accumulate(np.concatenate((state["longest"][:, None], ended), axis=1), axis=1)
        counts = np.concatenate((state["measured"][:, None], np.isfinite(rate) & armed & ~still), axis=1)
        measured = np.add.accumulate(counts, axis=1, dtype=np.int64)
        after["longest"], after["measured"] = longest[:, -1].copy(), measured[:, -1].copy()
        least = np.fmax(ctx.cells(self.held_s - self.on_s), TIMES_LONGEST * longest[:, 1:])
        return np.where((alone >= least) & (measured[:, 1:] >= MEASURED_CELLS), length, 0), after

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Since when."""
        name = feeder_signals.label(split_key(subject)[1], ctx)
        exact = ("its rate equals the set-point to the digit: nothing is weighed",) if facts["exact"] else ()
        told = subject.startswith("feeder_gravimetric")
        what = "in volumetric" if told else "on its set-point to the digit"
        evidence = [Evidence(what, facts["minutes"], "min", None, None, self.channel(subject))]
        if facts["rate"] == facts["rate"]:
            evidence.append(Evidence(f"{name} shows", facts["rate"], "kg/h", facts["wanted"]))
        return Explanation(
            f"{name} in volumetric mode: its rate is calculated, not weighed"
            if told
            else f"{name}: its rate was measured and has become its set-point to the digit: volumetric, not weighed",
            3 if level > 1 else 4,
            "high" if told else "medium",
            tuple(evidence),
            (
                Cause("left in volumetric after cleaning, calibration or a fault", exact),
                Cause("controller fell back: scale disturbed or drive at its limit", (), (), ("feeder_weight_still",
                      "feeder_drive_near_limit", "feeder_bridged")),
                Cause("refill not ended: mark or valve stuck"),
            ),
            ("mode on the feeder's controller", "its alarms", "catch sample: is the rate right?"),
        )  # fmt: skip
