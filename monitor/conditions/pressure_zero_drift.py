"""A pressure sensor does not show zero on a standing, drained line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from ingest.units import to_unit
from monitor import cautions, recent_level
from monitor.conditions import pressures_apart, stop_before, temperature_limits
from monitor.contract import UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import blank, last_known, with_past
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

FINE_MOVES = 3
REMEMBERED_S = 86_400.0
"""A zero found off is taken as off for a day of running: it is said once, not at every stop of a shift."""

SOON_S = 420.0
"""In a stop of ten minutes: what fell within two minutes and whose minute means then lie within `steady_bar` of each
other, four minutes apart, drains no more."""

ALIKE_BAR = 1.0
"""Two sensors that read the same in the same melt, neither drawn to zero, see a pressure that is there."""

ENDS_SHARE = 0.8
"""Below this part of what is allowed it is over: what stands at the limit must not be said anew at each stop."""

COARSE_S, COARSE_STEADY = 1200.0, 2.0
"""A reading that moves less often is looked at over so long, and may fall by so many times `steady_bar`: a step."""


@dataclass(frozen=True)
class PressureZeroDrift(RuleDefaults):
    """A melt pressure reads neither zero nor falling, long after the stop, or reads below zero.

    An operator would say: "it shows 8 bar and nothing runs". Checked at every stop, from `after_s` on (a hot line
    drains within minutes, and two means of five minutes must be alike after it; twenty minutes apart, where the
    reading moves less than three times in five minutes; from seven minutes on, where it then lay still for five:
    between two steps of a coarse reading or a logger's deadband nobody sees it fall; from six minutes on, where it
    came to zero at a stop before in half the time or less, and now lies still for four): off zero by `off_bar` or
    `off_range_pct` of the sensor's range, whichever is more, and not falling. 1 to 3 bar is thermal shift and no
    fault. A line that still drains tells too, where two pressures of it fall and stay as far apart (`pressures_apart`).
    Under zero it is the zero for certain, running or not. Over zero a closed valve or a frozen die may hold
    real pressure; that is said, with the caution. Look-alikes: pressure still draining (it falls), a line set back
    or cooling (a zone far under the recipe: its melt drains in hours, or holds what shrinks in it: over zero
    is not judged), pressure held at a large share of what it was (its own finding), an absolute gauge (1 bar). It
    lasts until a stop shows the zero well, for a day at most. Missing readings do not start it. Memory: three means,
    two of a minute, the stop before. Numbers are common practice, no source.
    """

    after_s: float = setting(660, 300, 14400, "s after the stop")
    off_bar: float = setting(5, 1, 50, "bar from zero")
    off_range_pct: float = setting(1.0, 0.2, 10, "% of the sensor's range from zero")
    held_share: float = setting(0.4, 0.1, 0.95, "of the pressure before the stop, above which it counts as held")
    steady_bar: float = setting(0.5, 0.1, 5, "bar it may fall in five minutes")
    on_s: float = setting(120, 10, 3600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "pressure_zero_drift"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "pressure sensor off its zero"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure", "screw_speed")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every melt pressure in a known unit: each sensor has its own zero."""
        known = [s for s in ctx.subjects_of("melt_pressure") if f"melt_pressure:{s}" not in ctx.line.relative_channels]
        return tuple(known) if ctx.has("screw_speed") else ()

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two minutes in, one out; seen at stops only."""
        return Timing(self.on_s, self.off_s, REMEMBERED_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No stop seen."""
        k = len(subjects)
        return {
            "now": recent_level.start(k, ctx.cells(300), 0),
            "ago": recent_level.start(k, ctx.cells(300), ctx.cells(300)),
            "long_ago": recent_level.start(k, ctx.cells(300), ctx.cells(COARSE_S)),
            "last": blank(k, 1),
            "minute": recent_level.start(k, ctx.cells(60), 0),
            "minute_ago": recent_level.start(k, ctx.cells(60), ctx.cells(240)),
            "moves": recent_level.start(k, ctx.cells(300), 0),
            "was": np.full(k, np.nan),
            "before": stop_before.start(k),
        }

    def _allowed(self, subject: str, ctx: Context) -> float:
        sensor = next(s for s in ctx.line.sensor if s.role == "melt_pressure" and s.at == subject)
        span = sensor.range[1] - sensor.range[0] if sensor.range else 0.0
        span_bar = to_unit(sensor.unit or "bar", "bar").apply_to_difference(span)
        return max(self.off_bar, self.off_range_pct / 100 * span_bar)

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 off zero."""
        bar = view.rows("melt_pressure", subjects)
        now_state, now = recent_level.advance(state["now"], bar)
        ago_state, ago = recent_level.advance(state["ago"], bar)
        long_state, long_ago = recent_level.advance(state["long_ago"], bar)
        joined, last = with_past(state["last"], bar)
        with np.errstate(invalid="ignore"):
            differs = (joined[:, 1:] != joined[:, : view.n]).astype(float)
        moves_state, moves = recent_level.advance(state["moves"], differs)
        minute_state, minute = recent_level.advance(state["minute"], bar)
        minute_ago_state, minute_ago = recent_level.advance(state["minute_ago"], bar)
        still = view.ages["still"]
        was, was_state = last_known(state["was"], np.where((still == 0) & (view.ages["turning"] >= 600), now, np.nan))
        allowed = np.array([self._allowed(subject, ctx) for subject in subjects]).reshape(-1, 1)
        with np.errstate(invalid="ignore"):
            fine = moves * ctx.cells(300) >= FINE_MOVES
            lies = np.abs(minute - minute_ago) <= self.steady_bar
            hot = ~temperature_limits.cold_barrel(view, ctx)
            before, not_yet, came = stop_before.advance(
                state["before"], minute, stop_before.NEAR_SHARE * allowed, still, hot & np.isfinite(was)
            )
            early = ((still >= SOON_S) & fine & lies) | (not_yet & lies & (minute >= allowed))
        stands = (still >= self.after_s) | early
        with np.errstate(invalid="ignore"):
            # What drains falls; what creeps up on a standing line is no flow.
            flat = early | np.where(
                fine, ago - now <= self.steady_bar, long_ago - now <= COARSE_STEADY * self.steady_bar
            )
            high = stands & hot & (now >= allowed) & flat & ~(now >= self.held_share * was)
            over, beside = pressures_apart.apart(minute, minute_ago, subjects, ctx)
            over[:, still < SOON_S] = np.nan
            over[(over < allowed) | (now >= self.held_share * was)] = np.nan
            high |= (over >= allowed) & hot
            under = (now <= -0.6 * allowed) & (bar < 0)
        level = rule(high | under, np.isfinite(bar), np.ones(view.n, bool))
        # Between two stops nobody sees the zero: what was found off stays off until a stop shows it well.
        with np.errstate(invalid="ignore"):
            well = (stands | ((still >= stop_before.AFTER_S) & lies)) & (np.abs(now) < ENDS_SHARE * allowed)
        level[~well & (level == 0)] = UNKNOWN
        with np.errstate(invalid="ignore"):
            alike = [np.count_nonzero(np.abs(now - own) <= ALIKE_BAR, axis=0) - 1 for own in now]
        facts = {
            "alike": np.array(alike, float).reshape(bar.shape),
            "bar": now,
            "came": came,
            "over": over,
            "beside": beside,
            "hours": np.broadcast_to(np.fmin(still, 1e6) / 3600, bar.shape),
        }
        after = {"now": now_state, "ago": ago_state, "long_ago": long_state, "last": last, "moves": moves_state}
        return {
            **after,
            "before": before,
            "was": was_state,
            "minute": minute_state,
            "minute_ago": minute_ago_state,
        }, Judged(level, np.abs(now), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far off; what else it can be."""
        value = facts["bar"]
        evidence = (Evidence(f"melt pressure {subject}", value, "bar", 0.0, None, self.channel(subject)),)
        checks = ("zero and span of the sensor", "when it was last set to zero, hot or cold", "wiring and supply")
        if value < 0:
            return Explanation(
                f"melt pressure {subject} reads {value:.1f} bar, below zero", 3, "high", evidence,
                (
                    Cause("zero of the sensor drifted", ("a melt pressure cannot be below zero",)),
                    Cause("zeroed while there was pressure on it"),
                ),
                checks,
            )  # fmt: skip
        if facts["over"] > 0:
            other = self.subjects(ctx)[int(facts["beside"])]
            return self._apart(subject, other, facts, (*evidence, *self._other(other, facts)), checks)
        drained = f"at the stop before it was down within {max(facts['came'], 60) / 60:.0f} min"
        drifted = Cause(
            "zero of the sensor drifted", ("it does not fall", *((drained,) if facts["came"] == facts["came"] else ()))
        )
        others = facts["alike"] >= 1
        trapped = Cause(
            "pressure trapped: a closed valve, a pump that stands, a frozen die",
            ("another pressure reads the same",) if others else (),
        )
        return Explanation(
            f"melt pressure {subject} reads {value:.1f} bar on a line that stands: "
            + ("pressure trapped, another reads the same" if others else "zero off, or pressure trapped"),
            4 if others else 3,
            "medium",
            evidence,
            (
                *((trapped, drifted) if others else (drifted, trapped)),
                Cause("membrane pulled or pushed by melt gone solid on it"),
            ),
            ("open nothing before the pressure is known to be gone", *checks),
            cautions.PRESSURE,
        )

    @staticmethod
    def _other(other: str, facts: dict[str, float]) -> tuple[Evidence, ...]:
        key = channel_key("melt_pressure", other)
        return (Evidence(f"melt pressure {other} less", facts["over"], "bar", 0.0, None, key),)

    @staticmethod
    def _apart(
        subject: str, other: str, facts: dict[str, float], evidence: tuple[Evidence, ...], checks: tuple[str, ...]
    ) -> Explanation:
        """Two that drain and stay apart."""
        stays = ("both fall and stay as far apart, which no flow makes",)
        return Explanation(
            f"melt pressure {subject} reads {facts['over']:.1f} bar more than {other} on a line that stands and drains",
            3,
            "medium",
            evidence,
            (
                Cause(f"zero of the sensor {subject} drifted", stays),
                Cause(f"zero of the sensor {other} drifted, downward", stays),
                Cause("pressure trapped: a closed valve or melt gone solid between the two", (), ("both fall",)),
            ),
            ("open nothing before the pressure is known to be gone", *checks),
            cautions.PRESSURE,
        )
