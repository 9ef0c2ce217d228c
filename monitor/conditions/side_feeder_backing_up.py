"""A side feeder can't get rid of what it is given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import cautions, one_side
from monitor.conditions import feeder_signals
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Floats, last_known, run_length, two_threshold
from monitor.levels import rule
from monitor.quantities.windows import window_start, window_sums
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

ON_SET_SHARE = 0.06

WITNESSES = ("scale_wrong", "rate_not_weight", "feeder_weight_still")

GONE = 0.7
"""A stuffer that needs less than this share of what it needed, with its feeder on set and less torque or pressure at
the extruder, gets nothing: what is fed stands above it. Common practice, no source."""
SLUG = 0.05
"""ln torque above expected from which, with a feeder backed up, the slug is on its way."""
STANDS_S = 30.0
"""Less must have gone in for so long before anything can have gathered that lets go: a stuffer whose load goes up with
the torque is fed more, as by powder that runs through its feeder. Common practice, no source."""


@dataclass(frozen=True)
class SideFeederBackingUp(FeederRule):
    """Material stands in a side feeder: its own drive works harder while its feeder is on set.

    An operator would say: "the side feeder backs up". 30 s mean of the stuffer's load 25 % above its own half hour
    before, for the rate that its feeder is set to now, its feeder within 6 % of set, and torque or pressure of the
    extruder 2 % down (less goes in than is fed), or the load at 85 % whatever they do. Or the stuffer's load down to
    0.7 of it with the same: what is fed stands in the chute above it and does not reach it. Level 2: torque 5 % up
    while it is backed up: the slug lets go. Look-alikes: a higher rate or share (the phase is 'changing', then so much
    more is usual), powder that runs through its feeder (torque comes up with the load, nothing has stood before),
    denser material (torque does not sag), a refill. Missing readings neither start nor end it. Memory: half an hour of
    running totals a feeder. Common practice, no source.
    """

    load_up: float = setting(0.25, 0.05, 3.0, "of the stuffer's load before")
    high_load_pct: float = setting(85, 30, 150, "% stuffer load")
    sag: float = setting(0.02, 0.005, 0.3, "in ln torque or ln pressure")
    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(1200, 10, 3600, "s")

    name: ClassVar[str] = "side_feeder_backing_up"
    title: ClassVar[str] = "side feeder backing up"
    charted: ClassVar[str] = "stuffer_load"
    needs: ClassVar[tuple[str, ...]] = ("stuffer_load",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("feeder_rate", "torque|motor_current|drive_power", "melt_pressure")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count = len(subjects)
        return {
            "load": window_start(2 * count, ctx.cells(1800)),
            "machine": window_start(2, ctx.cells(30)),
            "usual": np.full(2 * count, np.nan),
            "on": np.zeros(count, bool),
            "stands": np.zeros(count, np.int64),
            "low": np.zeros(count, bool),
            "since": np.full(count, one_side.LONG_AGO, np.int64),
            "side": one_side.start(count),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels 1 backing up, 2 the slug lets go."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        used = view.in_phase("steady") & ~(wanted <= 0)
        both = np.where(np.tile(used, (2, 1)), np.concatenate((view.rows("stuffer_load", subjects), wanted)), np.nan)
        widths = (ctx.cells(30), ctx.cells(180), ctx.cells(1800))
        (fast, late, long), (n_fast, n_late, n_long), load_state = window_sums(state["load"], both, widths)
        k = len(subjects)
        with np.errstate(invalid="ignore", divide="ignore"):
            now = np.where(n_fast > 0, fast / n_fast, np.nan)[:k]
            older = n_long - n_late
            befores = np.where(older >= ctx.cells(300), (long - late) / older, np.nan)
            before = befores[:k] * self._asked(wanted, befores[k:])
        torque, _, pressure, _ = feeder_signals.machine(view, ctx)
        both, counts, machine_state = window_sums(state["machine"], np.array([torque, pressure]), (ctx.cells(30),))
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = both[0] / counts[0]
            sags = (mean[0] <= -self.sag) | (mean[1] <= -self.sag)
            # While the extruder gets less than it is fed the stuffer's load is not its usual one, high or low.
            calm = (now < (1 + 0.4 * self.load_up) * before) & ~sags
        usuals, usual_state = last_known(state["usual"], np.where(np.tile(calm, (2, 1)), befores, np.nan))
        usual = usuals[:k] * self._asked(wanted, usuals[k:])
        with np.errstate(invalid="ignore", divide="ignore"):
            on_set = ~(np.abs(rate / wanted - 1) > ON_SET_SHARE)
            up = now >= (1 + self.load_up) * usual
            full = used & up & on_set & (now >= self.high_load_pct)
            sagging = used & up & on_set & sags & ~(mean[0] >= SLUG)
            falls = ~used | (now < (1 + 0.4 * self.load_up) * usual)
            gone = used & (now <= GONE * usual) & on_set & sags
            arrives = ~used | (now > 0.5 * (1 + GONE) * usual)
        stands, stands_state = run_length(state["stands"], sagging)
        stood = full | (stands >= ctx.cells(STANDS_S))
        held, on_state = two_threshold(state["on"], stood, falls & ~stood)
        on = held | sagging
        # A stuffer that has let its slug go is empty for a while: that is the end of backing up.
        since, since_state = run_length(state["since"], ~on)
        gone &= since >= ctx.cells(self.off_s)
        low, low_state = two_threshold(state["low"], gone, (arrives | on) & ~gone)
        level = rule(on | low, np.isfinite(now) & np.isfinite(usual), used)
        with np.errstate(invalid="ignore"):
            level[on & (level == 1) & (torque >= SLUG)] = 2
        level, side = one_side.one_side(state["side"], level, now - usual, ctx.cells(self.off_s))
        facts = {
            "load": now,
            "usual": usual,
            "rate": rate,
            "wanted": wanted,
            "low": (low & ~on).astype(float),
            "torque": feeder_signals.by_cell(torque, subjects),
            "pressure": feeder_signals.by_cell(pressure, subjects),
        }
        after = {"load": load_state, "machine": machine_state, "usual": usual_state, "on": on_state}
        with np.errstate(invalid="ignore", divide="ignore"):
            score = np.where(low & ~on, usual / now, now / usual)
        after["stands"] = stands_state
        return {**after, "low": low_state, "since": since_state, "side": side}, Judged(level, score, facts)

    @staticmethod
    def _asked(wanted: Floats, before: Floats) -> Floats:
        """How many times the material it is to take in now, of what it was; 1 where that is not known."""
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = wanted / before
        return np.where(np.isfinite(ratio) & (ratio > 0), ratio, 1.0)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How hard it works, what the extruder does."""
        name = feeder_signals.label(subject, ctx)
        evidence = [Evidence("side feeder load", facts["load"], "%", facts["usual"], None, self.channel(subject))]
        if facts["rate"] == facts["rate"]:
            evidence.append(Evidence(name, facts["rate"], "kg/h", facts["wanted"], None, f"feeder_rate:{subject}"))
        evidence += feeder_signals.machine_evidence(facts, ctx)
        if facts["low"]:
            return Explanation(
                f"{name}: side feeder load down to {facts['load']:.0f} %, what is fed does not reach it",
                2,
                "high" if facts["torque"] == facts["torque"] else "medium",
                tuple(evidence),
                (
                    Cause("chute between feeder and side feeder blocked", ("its load is down, its feeder on set",)),
                    Cause("side feeder's screws or coupling broken", ("its load is down",)),
                    Cause("feeder's scale or rate wrong: less comes than is shown", (), (), WITNESSES),
                ),
                ("chute above the side feeder", "does the side feeder turn?", "what stands above it comes all at once"),
                cautions.MOVING,
            )
        slug = level > 1
        return Explanation(
            f"{name} backs up: side feeder load {facts['load']:.0f} %"
            + (", the slug lets go: torque up" if slug else ", the extruder gets less than is fed"),
            2,
            "high" if facts["torque"] == facts["torque"] else "medium",
            tuple(evidence),
            (
                Cause("screw too full where it enters: speed too low for this rate, melt standing back", (), (),
                      ("flooded", "screen_blinding", "toward_over_pressure")),
                Cause("air can't get out: side vent or stuffer vent blocked"),
                Cause("side feeder slowed or its flights caked with melt"),
            ),
            ("vent ahead of the side feeder", "screw speed against rate", "stuffer speed, what shows at its window"),
            cautions.MOVING,
        )  # fmt: skip
