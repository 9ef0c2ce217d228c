"""A feeder delivers more or less a turn than when the recipe began."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import one_side
from monitor.conditions import feeder_signals, more_than_shown
from monitor.conditions.feeder_signals import FeederRule
from monitor.conditions.intake_or_path import AT_FULL_DRIVE_PCT, MOST_FACTOR_DOWN
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Bools, Floats, blank, last_known, run_length, trailing_greatest, with_past
from monitor.levels import levels_above
from monitor.quantities.windows import window_start, window_sums
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

STOPPED_SHARE = 0.6
"""A feeder that gives less than this of its set rate is bridged, empty or tripped: other findings."""

MISSED_SHARE = 0.97
"""Under this part of its set rate a feeder is seen to miss it; one that keeps it by turning faster says nothing of its
scale. The window of `feeder_off_target`."""

UNEVEN = 0.06
"""Relative scatter of the 10 s feed factor over five minutes from which delivery is called uneven."""

REFILLED_S = 360.0
"""A refill so shortly before the mean of five minutes has gone off may have brought what moved it."""

SHARP_S, SHARP_SHARE, TOLD_AFTER_S = 300.0, 0.6, 300.0
"""So much of the way within so long is a step. It is known so long after the mean has gone off."""

STEP_PCT = 15.0
"""A step by so much that no refill has brought makes the product's share as wrong, whatever the scale shows: no note.
Wander of regrind by 10 to 30 % creeps. Common practice, no source."""


@dataclass(frozen=True)
class FeedFactorMoved(FeederRule):
    """A feeder's rate over its drive speed is not what it was at this fill of the hopper when the recipe began.

    An operator would say: "the feeder has to turn faster for the same rate". 5 min mean of rate over drive speed
    against that of the first ten minutes under the recipe at the same quarter of the hopper: 10 % is a note (regrind
    wanders by 10 to 30 %), 30 % a look this shift; the drive near its limit is a finding of its own. A step or a
    drift, and whether it came with a refill, is said. Common practice, no source.
    Where too little of five minutes is fit to be judged, as with a feeder that is often filled by hand, that of half an
    hour stands in. Look-alikes: refill (left out with 30 s after), volumetric mode (left out), head of a full hopper
    (compared at the same fill where weight and hopper size are known), a bridged or stopped feeder (below 60 % of set:
    left out). Missing readings neither start nor end it. Memory: half an hour of running totals a feeder.
    """

    note_pct: float = setting(10, 2, 100, "% of the usual feed factor")
    far_pct: float = setting(30, 5, 200, "% of the usual feed factor")
    on_s: float = setting(300, 30, 7200, "s")
    off_s: float = setting(900, 30, 7200, "s")

    name: ClassVar[str] = "feed_factor_moved"
    title: ClassVar[str] = "feeder delivers another amount a turn"
    charted: ClassVar[str] = "feed_factor"
    blind_s: ClassVar[float] = feeder_signals.UNTIL_KNOWN_AGAIN_S
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_drive")
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_weight", "feeder_refill", "feeder_setpoint")
    quantities: ClassVar[tuple[str, ...]] = ("feed_factor", "usual_feed_factor")

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count, longest = len(subjects), ctx.cells(1800)
        return {
            "mean": window_start(count, longest),
            "square": window_start(count, longest),
            "on": np.zeros((count, 2), bool),
            "side": one_side.start(count),
            "since_refill": np.full(count, 10**6, np.int64),
            "short": blank(count, ctx.cells(SHARP_S)),
            "jumps": blank(count, ctx.cells(600) - 1),
            "length": np.zeros(count, np.int64),
            "stepped": np.full(count, np.nan),
            "refilled": np.full(count, np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 a note, 2 far off."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        factor = feeder_signals.rows_of(view, "feed_factor", subjects)
        usual = feeder_signals.rows_of(view, "usual_feed_factor", subjects)
        used = feeder_signals.in_use(view, wanted)
        with np.errstate(invalid="ignore", divide="ignore"):
            fit = used & (rate >= STOPPED_SHARE * wanted) & (usual > 0)
            off = np.log(np.where(fit, factor / usual, np.nan))
        widths = (ctx.cells(300), ctx.cells(1800), ctx.cells(120))
        totals, counts, mean_state = window_sums(state["mean"], off, widths)
        squares, _, square_state = window_sums(state["square"], off * off, widths)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean, long, short = (
                np.where(c >= w / 2, t / c, np.nan) for t, c, w in zip(totals, counts, widths, strict=True)
            )
            few = np.where(counts[1] >= widths[0] / 2, totals[1] / counts[1], np.nan)
            mean = np.where(np.isnan(mean), few, mean)
            uneven = np.sqrt(np.fmax(squares[0] / counts[0] - np.square(totals[0] / counts[0]), 0.0))
        percent = 100 * np.expm1(mean)
        shape = np.ones_like(percent)
        on, level = levels_above(
            state["on"],
            np.abs(percent),
            (self.note_pct * shape, self.far_pct * shape),
            0.5 * self.note_pct * shape,
            used,
        )
        level, side = one_side.one_side(state["side"], level, percent, ctx.cells(self.off_s))
        since, since_state = run_length(state["since_refill"], ~feeder_signals.refilling(view, subjects))
        begins, kept = self._began(state, short, percent, level > 0, np.asarray(since * ctx.step_s, float), ctx)
        facts = {
            "percent": percent,
            **begins,
            "long_percent": 100 * np.expm1(long),
            "usual": usual,
            "drive": view.rows("feeder_drive", subjects),
            "rate": rate,
            "wanted": wanted,
            "uneven": uneven,
            **more_than_shown.facts(wanted, view, subjects, ctx),
        }
        after = {"mean": mean_state, "square": square_state, "on": on, "side": side, "since_refill": since_state}
        return {**after, **kept}, Judged(level, np.abs(percent), facts)

    @staticmethod
    def _began(
        state: State, short: Floats, percent: Floats, off: Bools, since_refill_s: Floats, ctx: Context
    ) -> tuple[dict[str, Floats], State]:
        """Whether it went off in a step, and whether a refill came shortly before; kept while it stands. NaN before.

        short: mean of two minutes, in ln.
        """
        n, kept = short.shape[1], {}
        ago, kept["short"] = with_past(state["short"], short)
        jump, kept["jumps"] = trailing_greatest(state["jumps"], 100 * np.abs(short - ago[:, :n]))
        length, kept["length"] = run_length(state["length"], off)
        told = length == ctx.cells(TOLD_AFTER_S)
        with np.errstate(invalid="ignore"):
            sharp = np.where(told, jump >= SHARP_SHARE * np.abs(percent), np.nan)
            lately = np.where(length == 1, since_refill_s <= REFILLED_S, np.nan)
        stepped, kept["stepped"] = last_known(state["stepped"], sharp)
        refilled, kept["refilled"] = last_known(state["refilled"], lately)
        known = length >= ctx.cells(TOLD_AFTER_S)
        return {"stepped": np.where(known, stepped, np.nan), "refilled": np.where(off, refilled, np.nan)}, kept

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, step or drift, with a refill or not."""
        name, percent = feeder_signals.label(subject, ctx), facts["percent"]
        stepped = facts["stepped"] == 1
        if facts["stepped"] != facts["stepped"]:
            stepped = abs(facts["long_percent"] - percent) > 0.4 * abs(percent)
        how = "stepped" if stepped else "moved"
        refilled = facts["refilled"] == 1
        after_refill = ("it came with a refill",) if refilled and stepped else ()
        large = stepped and not refilled and abs(percent) >= STEP_PCT
        by_itself = ("it stepped, and no refill brought other material",) if large else ()
        steady = ("delivery is even",) if facts["uneven"] <= UNEVEN else ()
        bursts = (f"delivery a turn scatters by {100 * facts['uneven']:.0f} %",) if facts["uneven"] > UNEVEN else ()
        if percent < 0:
            density = "lower bulk density: another lot, more fluff or regrind"
            empty = facts["drive"] >= AT_FULL_DRIVE_PCT or percent <= 100 * math.expm1(-MOST_FACTOR_DOWN)
            nothing_comes = ("no bulk density falls so far, or asks for all of the drive",) if empty else ()
            bridge = ("feeder_bridged", "feeder_off_target")
            flow = (
                Cause("rat-holing, or a bridge building", (*bursts, *nothing_comes), () if empty else steady, bridge),
            )
            wear = (Cause("feed screw or its tube caked or worn", () if stepped else ("no sudden step",)),)
        else:
            density, nothing_comes = "denser material: another lot, less regrind", ()
            flow = (Cause("powder aerated and flushing", bursts, steady, ("flushing",)),)
            wear = (
                Cause(
                    "another feed screw or gear fitted",
                ),
            )
        causes: tuple[Cause, ...] = (
            Cause(density, (*after_refill, *steady), (*bursts, *nothing_comes)),
            *flow,
            Cause("another material in the hopper", after_refill, (), ("wrong_material",)),
            Cause(
                "scale wrong or supported: rate shown is not the true one",
                by_itself,
                (),
                ("scale_wrong", "scale_jumped"),
            ),
            *wear,
        )
        liquid = ctx.line.feeder_named(subject).kind == "liquid"
        if liquid:
            causes = feeder_signals.liquid_causes(percent, percent < 0)
        ranked = tuple(sorted(causes, key=lambda cause: len(cause.speaks_against) - len(cause.speaks_for)))
        short = facts["rate"] < MISSED_SHARE * facts["wanted"]
        more = percent < 0 and short and not liquid and more_than_shown.told_by(subject, facts, ctx)
        if more:
            ranked = more_than_shown.causes(facts, (f"it delivers {-percent:.0f} % less a turn",))
        return Explanation(
            f"{name} delivers {abs(percent):.0f} % {'less' if percent < 0 else 'more'} a turn than usual: {how}",
            3 if level > 1 or large else 4,
            "high",
            (
                Evidence(
                    "feed factor",
                    facts["usual"] * (1 + percent / 100),
                    "kg/h/%",
                    facts["usual"],
                    None,
                    self.channel(subject),
                ),
                Evidence("feeder drive", facts["drive"], "%", None, None, f"feeder_drive:{subject}"),
                Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, f"feeder_rate:{subject}"),
            ),
            ranked,
            ("tank, filter, pump, nozzle and line", "flow meter or scale of the tank")
            if liquid
            else ("bulk density and lot in the hopper", "hopper: rat-hole, bridge, agitator", "scale free to move"),
            moved=more_than_shown.moved(facts) if more else {},
        )
