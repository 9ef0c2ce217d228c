"""The screw stopped under load: what came before, in order."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import Floats, blank, last_known, run_length, two_threshold, with_past
from monitor.levels import rule
from monitor.phases import turning_limit_rpm
from monitor.records import Cause, Evidence, Family
from monitor.view import Readings

LOOK_BACK_S = 60.0
NEVER_S = -1.0
FED_SHARE = 0.2
"""A screw fed less than this share of its usual rate just before is being run empty on purpose."""
SIGNALS = ("speed", "speed_set", "torque", "pressure", "rate", "rate_set")
BEFORE = ("torque_limit", "pressure_limit", "rate_lost", "rate_set_cut", "speed_set_cut", "speed_fell")
"""What may have come first; each fact is how many seconds before the stand-still it was first seen."""


@dataclass(frozen=True)
class StoppedUnderLoad:
    """The screw came to a stop while it was loaded and fed.

    An operator would say: "it tripped". A planned stop runs the feeders out first and slows the screw; here the
    screw went from at least 70 % of its speed to a stand within a few seconds, loaded, with the feed still on just
    before. It is explained by its last 60 s in order: a limit of torque or pressure reached, the feed lost, set-points
    taken back, the speed falling. What lies within one cadence of each other cannot be put in order, and that is said.
    Look-alikes: planned stop (feed off first, slow ramp), emergency stop by hand (looks the same: a note), gap in the
    log (nothing is said), controller restart writing zeros (every signal zero at once: nothing is said).
    A note; a look this shift where a limit was reached first. Missing readings: a stop inside a gap is not seen.
    Memory: 60 s of six signals. Common practice, no source.
    """

    sudden_s: float = setting(6, 2, 60, "s from 70 % of its speed to a stand")
    loaded_share: float = setting(0.6, 0.1, 1.0, "of the load 60 s before")
    torque_pct: float = setting(95, 50, 150, "% of the torque limit")
    pressure_share: float = setting(0.95, 0.5, 1.0, "of the pressure limit")
    said_for_s: float = setting(300, 30, 3600, "s")

    name: ClassVar[str] = "stopped_under_load"
    family: ClassVar[Family] = "drive"
    title: ClassVar[str] = "screw stopped under load"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("screw_speed",)
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "torque|motor_current",
        "melt_pressure",
        "feeder_rate",
        "feeder_setpoint",
    )
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line."""
        return ("line",) if ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """The screw."""
        return "screw_speed"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A stand of three cells or three seconds, whichever is longer: one cell may be a slip of the log."""
        return Timing(max(3.0, 3 * ctx.step_s), 0.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        return {
            "past": blank(len(SIGNALS), ctx.cells(LOOK_BACK_S)),
            "turned": np.zeros(1, np.int64),
            "on": np.zeros(1, bool),
            "held": np.zeros(1, np.int64),
            "facts": np.full(len(BEFORE), np.nan),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line. Only the rare cells in which the screw comes to a stand are looked into."""
        limit, width = turning_limit_rpm(ctx), state["past"].shape[1]
        speed = view.get("screw_speed")
        with np.errstate(invalid="ignore"):
            turning, standing = speed > limit, speed <= limit
        turned, turned_state = run_length(state["turned"], ~standing[None, :])
        joined, past = with_past(state["past"], _signals(view, ctx))
        if not np.count_nonzero(standing) and not state["on"].any():  # it turns on, as nearly always
            level = rule(standing[None, :], np.isfinite(speed)[None, :], np.ones((1, view.n), bool))
            held = np.zeros_like(state["held"]) if view.n else state["held"]
            return {**state, "past": past, "turned": turned_state, "held": held}, no_facts(level[: len(subjects)])
        ran = np.concatenate((state["turned"], turned[0]))[: view.n]
        rises, told = np.zeros((1, view.n), bool), {}
        for cell in np.flatnonzero(standing & (ran >= width)).tolist():
            found = self._before(joined[:, cell : cell + width + 1], ctx, limit)
            if found is not None:
                rises[0, cell] = True
                told[cell] = [NEVER_S if math.isnan(found[name]) else found[name] for name in BEFORE]
        on, on_state = two_threshold(state["on"], rises, turning[None, :])
        held, held_state = run_length(state["held"], on)
        after = {**state, "past": past, "turned": turned_state, "on": on_state, "held": held_state}
        level = rule(on & (held <= ctx.cells(self.said_for_s)), np.isfinite(speed)[None, :], np.ones((1, view.n), bool))
        if not on.any():
            return after, no_facts(level[: len(subjects)])
        fresh = np.full((len(BEFORE), view.n), np.nan)
        for cell, said in told.items():
            fresh[:, cell] = said
        facts, after["facts"] = last_known(state["facts"], fresh)
        return after, Judged(
            level[: len(subjects)],
            np.zeros((len(subjects), view.n)),
            {name: np.where(row == NEVER_S, np.nan, row) for name, row in zip(BEFORE, facts, strict=True)},
        )

    def _before(self, x: Floats, ctx: Context, limit: float) -> dict[str, float] | None:
        """What came before a stand, seconds before it; None where the stop was no sudden one under load.

        x: [signal, past cells and the cell of the stand].
        """
        speed, speed_set, torque, pressure, rate, rate_set = x
        usual = _usual(speed)
        recent = max(2, ctx.cells(self.sudden_s) + 1)
        if not (usual > 2 * limit and np.nanmax(speed[-recent - 1 : -1], initial=0.0) >= 0.7 * usual):
            return None
        fast = -recent - 1
        fed = np.isnan(rate[:fast]).all() or bool(rate[fast] > FED_SHARE * self._usual_rate(rate, ctx))
        loaded = fed and _still_up(torque, fast, self.loaded_share)
        if not loaded or (np.all(np.nan_to_num(x[:, -1]) == 0.0) and np.isfinite(x[2:4, -1]).any()):
            return None
        step = ctx.step_s
        limits = ctx.line.limits
        over_p = pressure >= self.pressure_share * (limits.melt_pressure_bar or math.inf)
        over_t = (
            torque >= self.torque_pct / 100 * ctx.line.drive.torque_limit_pct if ctx.has("torque") else torque > np.inf
        )
        with np.errstate(invalid="ignore"):
            events = {
                "torque_limit": over_t,
                "pressure_limit": over_p,
                "rate_lost": (rate < 0.5 * _usual(rate)) & ~(rate_set < 0.5 * _usual(rate_set)),
                "rate_set_cut": rate_set < 0.5 * _usual(rate_set),
                "speed_set_cut": speed_set < 0.5 * _usual(speed_set),
                "speed_fell": speed < 0.7 * usual,
            }
        last = x.shape[1] - 1
        return {
            name: float((last - np.flatnonzero(held)[0]) * step) if held.any() else math.nan
            for name, held in events.items()
        }

    @staticmethod
    def _usual_rate(rate: Floats, ctx: Context) -> float:
        return ctx.recipe_rate_kg_h or _usual(rate)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """The last 60 s, in order."""
        seen = sorted(((facts[name], name) for name in BEFORE if facts[name] == facts[name]), key=lambda e: -e[0])
        words = {
            "torque_limit": "torque at its limit",
            "pressure_limit": "melt pressure at its limit",
            "rate_lost": "feed lost",
            "rate_set_cut": "feed set-points taken back",
            "speed_set_cut": "speed set-point taken back",
            "speed_fell": "speed falling",
        }
        first = seen[0][1] if seen else "speed_fell"
        limits = [name for name in ("torque_limit", "pressure_limit") if facts[name] == facts[name]]
        story = ", ".join(f"{words[name]} {s:.0f} s before" for s, name in seen)
        close = len(seen) > 1 and seen[0][0] - seen[1][0] <= ctx.step_s
        tied = f"; stamps {ctx.step_s:g} s apart cannot say which of the first two came first" if close else ""
        causes = {
            "torque_limit": Cause("drive trip at its torque limit", (f"{words['torque_limit']} first",)),
            "pressure_limit": Cause("pressure cut-out: screen or die", (f"{words['pressure_limit']} first",)),
            "rate_lost": Cause("feed interlock, or the feeders' supply", (f"{words['rate_lost']} first",)),
        }
        by_hand = Cause("stop or emergency stop by hand", ("set-points taken back",) if "set" in first else ())
        drive = Cause(
            "drive fault, guard or interlock", ("nothing logged moved before the speed did",) * (first == "speed_fell")
        )
        ordered = [causes[name] for _, name in seen if name in causes]
        ranked = [*ordered, *((by_hand, drive) if by_hand.speaks_for else (drive, by_hand))]
        return Explanation(
            f"screw stopped under load{': ' if story else ''}{story}{tied}",
            3 if limits else 4,
            "medium" if limits else "low",
            tuple(Evidence(f"{words[name]}, before the stand", s, "s") for s, name in seen)
            or (Evidence("screw speed", 0.0, "rpm", None, None, "screw_speed"),),
            tuple(ranked),
            ("the drive's own fault memory", "what the operators saw", "material standing hot in the barrel"),
            cautions.MOVING,
        )


def _signals(view: Readings, ctx: Context) -> Floats:
    """The six signals, [signal, n]."""
    torque = view.get("torque") if ctx.has("torque") else view.get("motor_current")
    return np.array(
        [
            view.get("screw_speed"),
            view.get("screw_speed_setpoint"),
            torque,
            _highest(view.rows("melt_pressure", ctx.subjects_of("melt_pressure"))),
            _total(view.rows("feeder_rate", ctx.subjects_of("feeder_rate"))),
            _total(view.rows("feeder_setpoint", ctx.subjects_of("feeder_setpoint"))),
        ]
    )


def _highest(rows: Floats) -> Floats:
    out = np.full(rows.shape[1], np.nan)
    for row in rows:
        out = np.fmax(out, row)
    return out


def _total(rows: Floats) -> Floats:
    out = np.full(rows.shape[1], np.nan)
    for row in rows:
        out = np.where(np.isnan(out), row, np.where(np.isnan(row), out, out + row))
    return out


def _usual(x: Floats) -> float:
    """The middle of the first half of the look-back; NaN where nothing is known."""
    half = x[: len(x) // 2]
    known = half[np.isfinite(half)]
    return float(np.sort(known)[len(known) // 2]) if len(known) else math.nan


def _still_up(x: Floats, cell: int, share: float) -> bool:
    """Whether a signal was still near its usual level just before the fall; an unknown one rules nothing out."""
    usual, seen = _usual(x), x[cell:-1]
    known = seen[np.isfinite(seen)]
    return usual != usual or usual <= 0 or not len(known) or float(known[0]) >= share * usual
