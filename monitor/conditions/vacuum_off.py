"""The vacuum at a vent is not what it should be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import fixed_base, recent_level
from monitor.conditions.machine_load import load
from monitor.conditions.window_causes import QUANTITIES
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, run_length, two_threshold, with_past
from monitor.levels import rule
from monitor.phases import RUNNING
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

WINDOW_DEADBAND = 0.1
"""Share of the way from wanted to limit by which the limit must be passed."""

LEAST_OFF_MBAR = 5.0
"""Nearer to what is wanted a gauge says nothing, however narrow a window is drawn."""

FORGOTTEN_S = 1800.0
"""So long after a start a vacuum that was never there is missing and no longer to come."""

RESTS_S, RESTS_SHARE = 300.0, 0.1
"""A pump that has moved its gauge by no more than this share of what is missing in so long has drawn what it can: a
dome is drawn down in a minute or two. Common practice, no source."""

PULLED = 0.2
"""Share of what is missing that came back within a minute and a half: it is being pulled down, not lost."""

MOVES, MOVES_MBAR, MOVES_S = 0.05, 15.0, 10.0
"""Share of what is missing, and so much at least, by which the dome still fills or empties within so long: where it
comes to rest is not known yet. A dome with its hose fills through an opening as a vessel does, in tens of seconds,
through a leak in the same curve: only the end of it tells a vent opened to be cleaned, which ends at the air's
pressure, from a leak, which ends below. Common practice, no source."""

RUN_EMPTY = 0.6
"""Share of net torque or feed below which the vent has no melt to seal it; common practice, no source."""

CAME_S = 120.0
"""What is lost within so long of its beginning came at once; common practice, no source."""

OPEN_SHARE, AIR_MBAR = 0.7, 1000.0
"""A vent that is opened while its pump runs loses so much of its vacuum at once; with the gauge beside the pump, or on
a mountain, it does not show the air's whole pressure. Common practice, no source."""

NO_VACUUM_MBAR = 900.0
"""Above this the pump is off or the vent open: a base learned there is none."""


@dataclass(frozen=True)
class VacuumOff(RuleDefaults):
    """Absolute pressure at a vent is more than `off_mbar` off what is wanted, or outside its recipe window.

    An operator would say: "the vacuum is gone". The recipe's window of a vacuum is judged here and nowhere else, so
    that its causes are those of a vacuum. Wanted is the logged set-point, else the recipe's target or upper limit,
    else the median of the first twenty minutes of steady running. Up: vacuum lost. Down and the line file puts the
    gauge at the pump: the pipe between gauge and vent is closing, by melt or condensate. Judged while product is
    made, five minutes after a start, once the pressure has come to rest. Look-alikes: vent cleaning (open to the
    air for less than `cleaning_s`, and the minute or so in which the dome fills and is pumped down again), start
    after the vent was at the air (not judged until the vacuum has been there or the pump draws no further, half an
    hour at most), being pulled down again (it falls), screws run empty (no melt seals the vent), a slow rise in
    which the seal water warms too (season: priority 4), pot filling (slow rise, then a drop: the cause says so).
    Missing readings do not start it. Memory: ten minutes and a base a vent. 30 mbar is common practice, no source.
    """

    off_mbar: float = setting(30, 3, 500, "mbar from what is wanted")
    cleaning_s: float = setting(300, 10, 1800, "s that a vent may stand open")
    on_s: float = setting(30, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "vacuum_off"
    family: ClassVar[Family] = "vacuum"
    title: ClassVar[str] = "vacuum off"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("vacuum",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "vacuum_setpoint",
        "recipe",
        "cooling_water_temperature",
        "torque|motor_current|drive_power|feeder_rate",
    )
    quantities: ClassVar[tuple[str, ...]] = QUANTITIES

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Vents with a gauge in a known unit."""
        return tuple(s for s in ctx.subjects_of("vacuum") if channel_key("vacuum", s) not in ctx.line.relative_channels)

    def channel(self, subject: str) -> str:
        """The gauge."""
        return channel_key("vacuum", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The rule has its own on-delay."""
        return Timing(ctx.step_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base."""
        k = len(subjects)
        return {
            "base": fixed_base.start(k + 1),
            "ago": recent_level.start(k, ctx.cells(60), ctx.cells(600)),
            "fed": recent_level.start(1, ctx.cells(60), ctx.cells(300)),
            "just": recent_level.start(k, ctx.cells(30), ctx.cells(60)),
            "rest": recent_level.start(k, ctx.cells(60), ctx.cells(RESTS_S) - ctx.cells(60)),
            "beyond": np.zeros(k, np.int64),
            "then": blank(k, ctx.cells(MOVES_S)),
            "open": np.zeros(k, np.int64),
            "on": np.zeros(k, bool),
            "for": np.zeros(k, np.int64),
            "fast": np.zeros(k, bool),
            "reached": np.zeros(k, bool),
        }

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until it has been off for the on-delay, which is counted here; see `resting`."""
        return 1 if state["on"].any() else ctx.cells(self.on_s) - int(state["beyond"].max(initial=0))

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a vent."""
        value = view.rows("vacuum", subjects)
        water = view.get("cooling_water_temperature")
        running = view.in_phase(*RUNNING) & (view.ages["started"] >= 300)
        with np.errstate(invalid="ignore"):
            learnable = np.where(value < NO_VACUUM_MBAR, value, np.nan)
        base_state, base = fixed_base.advance(
            state["base"],
            np.concatenate((learnable, water[None, :]), axis=0),
            view.in_phase("steady") & (view.ages["started"] >= 900),
            view.ages["still"] > 600,
            ctx.cells(1200),
        )
        ago_state, ago = recent_level.advance(state["ago"], value)
        just_state, just = recent_level.advance(state["just"], value)
        rest_state, rest = recent_level.advance(state["rest"], value)
        joined, then_state = with_past(state["then"], value)
        wanted = self._wanted(view, subjects, base[:-1], ctx)
        low, high = ctx.once((self, subjects), lambda: self._window(subjects, ctx))
        off = value - wanted
        emptied, fed_state = self._emptied(state, view, ctx)
        with np.errstate(invalid="ignore"):
            at_air = value >= np.fmin(NO_VACUUM_MBAR, wanted + OPEN_SHARE * (AIR_MBAR - wanted))
            rests = ~at_air & (np.abs(value - rest) <= RESTS_SHARE * np.abs(off))
        reached, reached_state = self._reached(state, view, off, rests & running, at_air)
        running = running & (reached | (view.ages["started"] >= FORGOTTEN_S))
        # Whichever is narrower, the recipe's window or what is usually let pass.
        with np.errstate(invalid="ignore"):
            room = np.where(off > 0, high - wanted, wanted - low) * (1 + WINDOW_DEADBAND)
            allowed = np.fmax(np.fmin(self.off_mbar, room), LEAST_OFF_MBAR)
            open_for, open_state = run_length(state["open"], at_air)
            pulled = (off > 0) & (value <= just - PULLED * off)
            cleaning = (open_for > 0) & (open_for < ctx.cells(self.cleaning_s))
            moved_mbar = np.abs(value - joined[:, : view.n])
            moves = (off > 0) & (moved_mbar >= np.fmax(MOVES * off, MOVES_MBAR))
            passes = cleaning | moves | pulled
            # One cell of noise must not close a switch that opens well below the limit.
            beyond_for, beyond_state = run_length(
                state["beyond"], (np.abs(off) > allowed) & running & ~passes & ~emptied
            )
            rises = beyond_for >= ctx.cells(self.on_s)
            on, after = two_threshold(state["on"], rises, (np.abs(off) < 0.7 * allowed) | ~running | emptied | passes)
        length, for_state = run_length(state["for"], on)
        # How it came is told by its first minutes; later the minutes before are bad as well.
        with np.errstate(invalid="ignore"):
            at_once = on & (length <= ctx.cells(CAME_S)) & (np.abs(value - just) >= 0.5 * np.abs(off))
        fast, fast_state = two_threshold(state["fast"], at_once, ~on)
        level = rule(on, np.isfinite(value) & np.isfinite(wanted), running & np.isfinite(wanted))
        facts = {
            "value": value, "wanted": wanted, "slow": value - ago, "fast": fast.astype(float),
            "all": np.broadcast_to(np.count_nonzero(on, axis=0).astype(float), value.shape),
            "warmer": np.broadcast_to(water - base[-1], value.shape),
        }  # fmt: skip
        kept = {"base": base_state, "ago": ago_state, "just": just_state, "open": open_state, "on": after}
        kept |= {
            "beyond": beyond_state,
            "then": then_state,
            "for": for_state,
            "fast": fast_state,
            "reached": reached_state,
            "fed": fed_state,
            "rest": rest_state,
        }
        return kept, Judged(level, np.abs(off), facts)

    @staticmethod
    def _emptied(state: State, view: CoarseView, ctx: Context) -> tuple[Bools, State]:
        """Where the screws have run or are running empty, [n]: no melt seals the vent then, and none is wanted."""
        feed = view.quantity("total_feed")
        fed_state, before = recent_level.advance(state["fed"], feed[None, :])
        with np.errstate(invalid="ignore"):
            return (load(view, ctx).torque <= np.log(RUN_EMPTY)) | (feed < RUN_EMPTY * before[0]), fed_state

    def _reached(self, state: State, view: CoarseView, off: Floats, rests: Bools, at_air: Bools) -> tuple[Bools, Bools]:
        """Whether a vacuum has been there, or all that comes of it, since the vent was last at the air on a standing
        screw: before, nobody has lost one. One that was drawn through a stop has not gone in it."""
        with np.errstate(invalid="ignore"):
            there = (np.abs(off) <= self.off_mbar) | rests
        gone = (view.ages["still"] > 0) & (at_air | np.isnan(off))
        return two_threshold(state["reached"], there, gone)

    @staticmethod
    def _window(subjects: tuple[str, ...], ctx: Context) -> tuple[Floats, Floats]:
        """Inner limits of the recipe, [vent, 1], NaN where it gives none."""
        table = np.full((2, len(subjects), 1), np.nan)
        for row, subject in enumerate(subjects):
            window = ctx.recipe.window_of(channel_key("vacuum", subject)) if ctx.recipe else None
            if window is not None:
                table[0, row] = window.low or window.low_outer or np.nan
                table[1, row] = window.high or window.high_outer or np.nan
        return table[0], table[1]

    def _wanted(self, view: CoarseView, subjects: tuple[str, ...], base: Floats, ctx: Context) -> Floats:
        wanted = view.rows("vacuum_setpoint", subjects).copy()
        for row, subject in enumerate(subjects):
            window = ctx.recipe.window_of(channel_key("vacuum", subject)) if ctx.recipe else None
            said = (window.target or window.high or window.high_outer) if window else None
            wanted[row] = np.where(np.isnan(wanted[row]), base[row] if said is None else said, wanted[row])
        return wanted

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which way, how fast, alone or with the others."""
        value, wanted = facts["value"], facts["wanted"]
        lost = value > wanted
        off, vents = abs(value - wanted), len(ctx.subjects_of("vacuum"))
        season = lost and facts["warmer"] >= 3 and abs(facts["slow"]) < 0.3 * off
        summary = (
            f"vacuum at {subject} {value:.0f} mbar absolute, {off:.0f} {'worse' if lost else 'deeper'} than the "
            f"{wanted:.0f} wanted"
        )
        causes = self._lost(facts, vents, off, season) if lost else self._deeper(subject, ctx)
        return Explanation(
            summary,
            4 if season else 2 if lost and off >= 100 else 3,
            "high" if lost else "medium",
            (
                Evidence(f"vacuum {subject}", value, "mbar", wanted, None, self.channel(subject)),
                Evidence("change in ten minutes", facts["slow"], "mbar"),
                Evidence(
                    "seal or cooling water warmer by", facts["warmer"], "C", None, None, "cooling_water_temperature"
                ),
            ),
            causes,
            ("sight glass and vent dome", "condensate pot, filter, pump seal water", "hose and dome seal"),
        )

    @staticmethod
    def _lost(facts: dict[str, float], vents: int, off: float, season: bool) -> tuple[Cause, ...]:
        slow = facts["fast"] == 0
        all_of = ("all vents together",) if vents > 1 and facts["all"] >= vents else ()
        one_of = ("only this vent",) if vents > 1 and facts["all"] < vents else ()
        leak = Cause("dome seal, hose or valve leaking", one_of, all_of)
        melt = Cause("melt in the vent", one_of, all_of, ("vent_flooded", "flooded"))
        pump = Cause("pump or its seal water", all_of, one_of)
        pot = Cause(
            "condensate pot or filter full", ("it rose slowly",) if slow else (), () if slow else ("it came fast",)
        )
        warm = Cause(
            "seal water warmer, season", (f"water {facts['warmer']:.0f} °C warmer than at first",) if season else ()
        )
        seal = Cause("melt seal ahead of the vent lost: rate or fill lower", shown_by=("starved",))
        if season:
            return (warm, pump, pot)
        return (
            (pot, pump, leak, melt, seal) if slow else (pump, leak, melt, seal) if all_of else (leak, melt, pump, seal)
        )

    @staticmethod
    def _deeper(subject: str, ctx: Context) -> tuple[Cause, ...]:
        vent = next((v for v in ctx.line.vent if v.name == subject), None)
        at_pump = vent is not None and vent.gauge == "pump"
        why = ("the gauge sits at the pump",) if at_pump else ()
        not_why = () if at_pump else ("the gauge sits at the dome",)
        return (
            Cause(
                "pipe between vent and gauge closing: melt or condensate; the vent itself has no vacuum", why, not_why
            ),
            Cause("less vapour or air comes: feed drier, seal better", not_why),
            Cause("pump valve or set-point changed"),
        )
