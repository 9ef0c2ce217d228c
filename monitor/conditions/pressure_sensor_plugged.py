"""A pressure loses its ripple, or stays up after the stop: a plugged port, or a closed way out with real pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, fixed_base, pressure_path, recent_level
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Bools, Floats, blank, last_known, run_length, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView


@dataclass(frozen=True)
class PressureSensorPlugged(RuleDefaults):
    """A melt pressure has become sluggish, or keeps more than `held_share` of what it was after the screw has stopped.

    An operator would say: "the screw stands and it still shows 40 bar". Melt under pressure drains through an open
    die in seconds to a few minutes. So either the port is plugged and the sensor shows old pressure, or the way out
    is shut - valve, die, screen changer between positions, frozen melt - and the pressure is real. From the log
    alone the two are told apart only by a second sensor beside it, on the same side of a melt pump, that has fallen:
    two minutes are enough then. It is to be taken as real until shown otherwise: priority 2 with the caution. Between
    screws and a pump that stand melt is shut in, and that is said. Running, a plug shows before: the
    ripple inside 10 s, mean of ten minutes, is under `ripple_share` of the ripple of the first half hour at this
    speed and rate, of as much less as the pressure is lower, and the reading still moves; in a log with one reading
    in 10 s or fewer, what it moves from one to the next. A ripple of less than two steps of the reading (its last
    digit, or the deadband of its logger; the smallest move seen) is no measure: it hangs on where between two steps
    the mean happens to lie; nor is that of a reading that moves in less than half of its cells, written on change.
    Look-alikes: melt shut in between the flights of a standing screw (sensors in the barrel are judged running
    only), a stop of less than `after_s`, a sensor zero of a few bar (its own finding), thick melt at low
    temperature draining slowly (at its pace it is under `held_share` in another `after_s`: not said while that is
    so; a plugged port lets go over a quarter of an hour and more). Missing readings do not start it. Memory: ten
    minutes of means and a base. Numbers are common practice, no source.
    """

    after_s: float = setting(300, 60, 3600, "s after the stop")
    held_share: float = setting(0.4, 0.1, 0.95, "of the pressure before the stop")
    least_bar: float = setting(10, 2, 200, "bar held")
    falling_bar_min: float = setting(0.5, 0.05, 20, "bar/min above which it may be draining")
    ripple_share: float = setting(0.25, 0.05, 0.8, "of the ripple at first")
    on_s: float = setting(30, 10, 3600, "s")
    off_s: float = setting(30, 10, 3600, "s")

    name: ClassVar[str] = "pressure_sensor_plugged"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "pressure does not go down after the stop"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure", "screw_speed")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every physical pressure."""
        return tuple(pressure_path.groups(ctx)) if ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No stop seen."""
        k = len(subjects)
        return {
            "running": recent_level.start(k, ctx.cells(60), ctx.cells(30)),
            "was": np.full(k, np.nan),
            "earlier": recent_level.start(k, ctx.cells(60), ctx.cells(RUN_OUT_S)),
            "fed": np.full(k, np.nan),
            "ago": recent_level.start(k, ctx.cells(60), ctx.cells(60)),
            "now": recent_level.start(k, ctx.cells(60), 0),
            "ripple": recent_level.start(k, ctx.cells(600), 0),
            "base": fixed_base.start(k),
            "level": recent_level.start(k, ctx.cells(600), 0),
            "levels": fixed_base.start(k),
            "moving": recent_level.start(k, ctx.cells(600), 0),
            "moved": fixed_base.start(k),
            "step": np.full(k, np.inf),
            "last": blank(k, 1),
            "stood": np.zeros(k, np.int64),
            "sluggish": np.zeros(k, bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a pressure."""
        of = pressure_path.groups(ctx)
        bar = pressure_path.pressures(view, {s: of[s] for s in subjects})
        running_state, running = recent_level.advance(state["running"], bar)
        ago_state, ago = recent_level.advance(state["ago"], bar)
        now_state, now = recent_level.advance(state["now"], bar)
        still = view.ages["still"]
        earlier_state, earlier = recent_level.advance(state["earlier"], bar)
        turning = (still == 0) & (view.ages["turning"] >= 120)
        was, was_state = last_known(state["was"], np.where(turning, running, np.nan))
        fed, fed_state = last_known(state["fed"], np.where(turning, np.fmax(running, earlier), np.nan))
        with np.errstate(invalid="ignore", divide="ignore"):
            beyond = [pressure_path.place(subject, ctx) in BEYOND_PUMP for subject in subjects]
            others = [self._other_fell(row, now, fed, beyond) for row in range(len(subjects))]
            others = np.array(others).reshape(now.shape)
            stands = (still >= np.where(others > 0, np.fmin(self.after_s, BESIDE_S), self.after_s)) & (still < _LONG_S)
            holds = (now >= self.held_share * was) & (now >= self.least_bar)
            falls = np.fmax(ago - now, 0.0)
            soon_gone = now - falls * self.after_s / 60 < self.held_share * was
            holds &= ((falls <= self.falling_bar_min) | ~soon_gone) & ~self._between_flights(subjects, ctx)
        ripple, base, sluggish, after = self._sluggish(state, view, subjects, of, now, ctx)
        held = rule(holds, np.isfinite(bar) & np.isfinite(was), stands, level=2)
        slow = rule(sluggish, np.isfinite(bar), view.in_phase("steady") & np.isfinite(base))
        facts = {
            "bar": now, "was": was, "minutes": np.broadcast_to(still / 60, bar.shape), "other_fell": others,
            "ripple": ripple, "base": base,
        }  # fmt: skip
        after |= {"running": running_state, "was": was_state, "ago": ago_state, "now": now_state}
        after |= {"earlier": earlier_state, "fed": fed_state}
        with np.errstate(invalid="ignore", divide="ignore"):
            return after, Judged(np.where(stands, held, slow).astype(np.int8), now / was, facts)

    def _sluggish(
        self,
        state: State,
        view: CoarseView,
        subjects: tuple[str, ...],
        of: dict[str, tuple[str, ...]],
        now: Floats,
        ctx: Context,
    ) -> tuple[Floats, Floats, Bools, State]:
        """Ripple inside the cells, mean of ten minutes, its base, and whether it has gone."""
        low, high = view.low_high("melt_pressure", [of[subject][0] for subject in subjects])
        joined, last = with_past(state["last"], high)
        if ctx.line.line.cadence_s >= ctx.step_s:
            before = joined[:, : view.n]
            low, high = np.minimum(low, before), np.maximum(high, before)
        with np.errstate(invalid="ignore"):
            moves = np.where(high - low > 0, high - low, np.inf)
        steps = np.minimum.accumulate(np.concatenate((state["step"][:, None], moves), axis=1), axis=1)
        stood, stood_state = run_length(state["stood"], high == low)
        steady = view.in_phase("steady") & (view.ages["unchanged"] >= 300)
        ripple_state, ripple = recent_level.advance(state["ripple"], np.where(steady, high - low, np.nan))
        forget = (view.ages["unchanged"] < 60) | (view.ages["still"] > 0)
        learn = steady & (view.ages["unchanged"] >= 900) & (view.ages["started"] >= 1800)
        cells = round(1800e9 / view.step)
        base_state, base = fixed_base.advance(state["base"], ripple, learn, forget, cells)
        level_state, level = recent_level.advance(state["level"], np.where(steady, (low + high) / 2, np.nan))
        levels_state, levels = fixed_base.advance(state["levels"], level, learn, forget, cells)
        with np.errstate(invalid="ignore", divide="ignore"):
            # What swings in feed and melt is a share of the pressure: of a lower one there is less.
            base = base * np.where(levels > 0, np.clip(level / levels, 0.0, 1.0), 1.0)
        moving_state, moving = recent_level.advance(
            state["moving"], np.where(steady & np.isfinite(high - low), high > low, np.nan)
        )
        moved_state, moved = fixed_base.advance(state["moved"], moving, learn, forget, cells)
        with np.errstate(invalid="ignore"):
            # A stretch without melt has no ripple to lose: what moves there is the last digit.
            quiet = (stood < ctx.cells(STOOD_S)) & (ripple <= self.ripple_share * base) & (now >= self.least_bar)
            quiet &= (base >= STEPS * steps[:, 1:]) & (moved >= MOVES_SHARE)
            back = ~(ripple <= 2 * self.ripple_share * base) | ~steady
        on, on_state = two_threshold(state["sluggish"], quiet & steady, back)
        after = {"ripple": ripple_state, "base": base_state, "sluggish": on_state, "last": last}
        after |= {"moving": moving_state, "moved": moved_state, "level": level_state, "levels": levels_state}
        after |= {"step": steps[:, -1].copy(), "stood": stood_state}
        return ripple, base, on, after

    @staticmethod
    def _between_flights(subjects: tuple[str, ...], ctx: Context) -> Bools:
        """Sensors in the barrel, [k, 1]: melt shut in by the flights of a standing screw keeps its pressure there."""
        inside = pressure_path.groups(ctx, "barrel")
        return np.array([subject in inside for subject in subjects], bool).reshape(-1, 1)

    def _other_fell(self, row: int, now: np.ndarray, was: np.ndarray, beyond: list[bool]) -> np.ndarray:
        """1 where another pressure on the same side of a melt pump has gone down as it should."""
        rest = [other for other in range(len(now)) if other != row and beyond[other] == beyond[row]]
        fell = (now[rest] < 0.5 * self.held_share * was[rest]) & (was[rest] >= self.least_bar)
        return np.logical_or.reduce(fell, axis=0).astype(float) if rest else np.zeros(now.shape[1])

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What is held, and what that can be."""
        if level == 1:
            return self._sluggish_words(subject, facts)
        fell = facts["other_fell"] > 0
        shut_in = ctx.has("melt_pump_speed") and pressure_path.place(subject, ctx) == "pump_suction"
        plugged = Cause(
            "sensor port plugged: it shows old pressure", ("another pressure has gone down",) if fell else ()
        )
        real = Cause(
            "melt shut in between the screws and a melt pump that stands: the pressure is real"
            if shut_in
            else "way out shut with real pressure behind it: valve, frozen die, screen changer between positions",
            () if fell else ("no other pressure says otherwise",),
            ("another pressure has gone down; it may stand beyond the closed place",) if fell else (),
        )
        return Explanation(
            f"melt pressure {subject} still {facts['bar']:.0f} bar {facts['minutes']:.0f} min after the stop "
            f"({facts['was']:.0f} before): take it as real until shown otherwise",
            2,
            "medium",
            (
                Evidence(f"melt pressure {subject}", facts["bar"], "bar", None, None, self.channel(subject)),
                Evidence("before the stop", facts["was"], "bar"),
            ),
            (plugged, real) if fell else (real, plugged),
            (
                "open nothing before the pressure is known to be gone",
                "valve, diverter and screen changer position; die temperature",
                "sensor port at the next clean-out",
            ),
            cautions.PRESSURE,
        )

    def _sluggish_words(self, subject: str, facts: dict[str, float]) -> Explanation:
        return Explanation(
            f"melt pressure {subject} has lost its ripple: {facts['ripple']:.2f} bar, {facts['base']:.2f} at first",
            3,
            "low",
            (
                Evidence("ripple inside 10 s", facts["ripple"], "bar", facts["base"], None, self.channel(subject)),
                Evidence(f"melt pressure {subject}", facts["bar"], "bar"),
            ),
            (
                Cause("sensor port plugging with cold or charred melt"),
                Cause("filter of sensor, card or logger changed"),
                Cause("feeding has become smoother"),
            ),
            ("does it follow the next change of speed?", "does it go down at the next stop?", "sensor port"),
        )


RUN_OUT_S = 300.0
"""Within so long before a planned stop the screws are run empty, and the pressures with them."""

BEYOND_PUMP = ("pump_discharge",)
"""Where melt runs out by the die though a melt pump stands: what falls there says nothing of what is shut in ahead."""

BESIDE_S = 120.0
"""After so long a sensor that holds beside one that has gone down is told from it. Melt under pressure gives way by a
thousandth of its volume for each 10 bar: a few grams in a die head, which an open die lets go in seconds."""

STOOD_S = 300.0
"""A reading that has not moved for so long is no sluggish one but stands (`pressure_sensor_frozen`)."""

STEPS = 2.0
"""Steps of the reading in a ripple that is one. Rounded noise is told in full from one step of its sigma on (value from
memory, after Widrow's quantisation theorem), and five readings of it then range over 2.3 (tables of the range)."""

MOVES_SHARE = 0.5
"""Where a reading moves in fewer of its cells, at first, it is written on change: what is seen of its ripple is how
often it happens to pass the deadband, and that wanders by itself. Common practice, no source."""

_LONG_S = 5e8
"""A line that stood when its log began has no stop that was seen."""
