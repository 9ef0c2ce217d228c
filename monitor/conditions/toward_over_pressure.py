"""Melt pressure is near the machine's limit or will be there in seconds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, pressure_path, read_twice
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import Bools, Floats, blank, run_length, trailing_slope, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.view import Readings

OVER_FED = ("flushing", "flooded", "feeder_in_bursts")
"""Findings that bear witness for too much feed: a feeder off its set-point, or a scale, may give too little."""

COLD = ("cold_start", "heater_dead", "melt_under_temperature")
"""Findings that bear witness for cold melt: a zone some degrees under its limit may be so for the pressure's sake."""

AGAIN_S = 600.0
"""A pressure that leaps up again so soon finds the same people at the line: one call that stays, not twenty. Common
practice, no source."""

SLOWED = 0.8
"""Share of the speed a reading before under which the screw slows down."""


def _settles_at(now: Floats, ago: Floats, long_ago: Floats) -> Floats:
    """Where a rise that slows down comes to rest, bar; endless where it does not slow down.

    From three readings equally far apart, as a first-order approach does: each step is the same share of the one before
    (Aitken's delta-squared). A restarted line fills its die in such a curve; a blocked one is fed at a constant rate
    and does not slow down, or comes to rest above the limit. NaN where a reading is missing.
    """
    late, early = now - ago, ago - long_ago
    with np.errstate(invalid="ignore", divide="ignore"):
        end = now + late * late / (early - late)
    return np.where((late < early) | np.isnan(early), end, np.inf)


@dataclass(frozen=True)
class TowardOverPressure:
    """Melt pressure is near the machine's limit or heads for it within a minute.

    An operator would say: "pressure is going up, fast". At 90 % of the machine's limit, or above 60 % of it and rising
    for 3 s so that it would be there within 30 s. Where the line file gives no limit, the recipe's outer limit plus a
    quarter stands for it, and that is said. On-delay 2 s. Of one reading alone nobody knows whether it was a slip
    between the sensor and its log, and one step is no pace yet: where the log is slower than the on-delay, in cells as
    long or held over shorter ones, a second one has to follow, or the screw to slow down with it (what trips on
    pressure leaves no second reading). A blocked die
    makes 5 to 50 bar/s, so the time left is told only where it is more than a few seconds. Look-alikes: one-sample
    spike, a step that has flattened out (half the screen area shut in a change), a restart that overshoots once,
    screen blinding (hours). Two sensors at one place are one pressure, judged by the higher. Priority 1; one that leaps
    up again within ten minutes is the same, open until it has been away for as long. Missing readings neither start nor
    end it. Memory: 8 samples a sensor. The tool is late for this by nature: burst disc and pressure
    cut-out protect, not this.
    """

    near_share: float = setting(0.9, 0.5, 1.0, "of the limit")
    clear_share: float = setting(0.85, 0.4, 1.0, "of the limit")
    rising_share: float = setting(0.6, 0.2, 1.0, "of the limit, rising")
    soon_s: float = setting(30, 2, 600, "s to the limit")
    rising_s: float = setting(3, 1, 30, "s of rising before it counts")
    on_s: float = setting(2, 1, 10, "s")
    off_s: float = setting(10, 1, 600, "s")

    name: ClassVar[str] = "toward_over_pressure"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "heading for over-pressure"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Physical pressures in a known unit: two sensors at one place make one finding."""
        return tuple(pressure_path.groups(ctx))

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """At most 2 s; a slow log is waited for in the rule."""
        return Timing(self.on_s, self.off_s, again_s=AGAIN_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count = len(subjects)
        width = max(2, ctx.cells(5))
        return {
            "past": blank(count, width),
            "recent": blank(count, 2 * ctx.cells(2)),
            "was": blank(count, 1),
            "speed": blank(1, 1),
            "on": np.zeros(count, bool),
            "heads": np.zeros(count, np.int64),
            "twice": read_twice.start(count),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 heading there, 2 near the limit."""
        value = pressure_path.pressures(view, pressure_path.groups(ctx))
        limit = ctx.once((self, subjects), lambda: self._limits(subjects, ctx))
        armed, rising = np.isfinite(limit), self.rising_share * limit
        with np.errstate(invalid="ignore"):
            high = np.count_nonzero(value >= rising) or np.count_nonzero(state["was"] >= rising)
        if not high and not np.count_nonzero(state["on"]):
            return self._far_below(state, view, value, limit, armed)
        slope, past = trailing_slope(state["past"], value)
        joined, recent = with_past(state["recent"], value)
        lag = ctx.cells(2)
        ago, long_ago = joined[:, lag : lag + view.n], joined[:, : view.n]
        still_bar_s = (value - ago) / (lag * ctx.step_s)
        bar_s = slope / ctx.step_s
        with np.errstate(invalid="ignore", divide="ignore"):
            left_s = np.where(bar_s > 0, (limit - value) / bar_s, np.inf)
            heads = (value >= self.rising_share * limit) & (left_s <= self.soon_s) & (bar_s * ctx.step_s > 0)
            steep = bar_s * ctx.cells(5) * ctx.step_s >= 0.05 * limit
            steep &= still_bar_s >= 0.5 * bar_s
            steep &= ~(_settles_at(value, ago, long_ago) < limit)
        near, near_state = two_threshold(
            state["on"], value >= self.near_share * limit, value < self.clear_share * limit
        )
        length, heads_state = run_length(state["heads"], heads & steep)
        heading = length >= ctx.cells(self.rising_s)
        before, was = with_past(state["was"], value)
        speeds, speed = with_past(state["speed"], view.get("screw_speed")[None, :])
        shown, holds = value, near | heading
        twice, waits = read_twice.advance(state["twice"], holds, self._came(view, subjects, ctx), ctx)
        with np.errstate(invalid="ignore"):
            slows = speeds[:, 1:] < SLOWED * speeds[:, : view.n]
        if ctx.cells(self.on_s) < 2:
            with np.errstate(invalid="ignore"):
                above = before[:, : view.n] >= self.near_share * limit
                risen = before[:, : view.n] >= self.rising_share * limit
                near &= slows | (before[:, : view.n] >= self.clear_share * limit)
                headed = np.concatenate((state["heads"][:, None], length), axis=1)[:, : view.n]
                headed = headed >= ctx.cells(self.rising_s)
                heading &= risen | slows
            # It tripped: the reading before was the pressure.
            near |= above & slows
            heading |= headed & slows
            shown = np.where((above | headed) & slows, np.fmax(before[:, : view.n], value), value)
        else:
            # Of a reading that is held over these cells the same.
            waited = np.concatenate((read_twice.waiting(state["twice"], ctx), waits), axis=1)[:, : view.n]
            near |= waited & slows
            shown = np.where(waited & slows, np.fmax(before[:, : view.n], value), value)
        level = rule(near | heading, np.isfinite(value) & ~(waits & ~slows), armed)
        level[(level == 1) & near] = 2
        facts = {
            "value": shown,
            "limit": np.broadcast_to(limit, value.shape),
            "bar_s": bar_s,
            "left_s": left_s,
        }
        after = {"past": past, "recent": recent, "was": was, "speed": speed, "on": near_state, "heads": heads_state}
        after["twice"] = twice
        return after, Judged(level, shown / limit, facts)

    @staticmethod
    def _came(view: Readings, subjects: tuple[str, ...], ctx: Context) -> Bools:
        """Cells in which a reading of any sensor of each pressure came, [pressure, n]."""
        members = pressure_path.groups(ctx)
        came = [read_twice.arrived(view, [channel_key("melt_pressure", m) for m in members[s]]) for s in subjects]
        return np.array(came).reshape(len(subjects), view.n)

    @staticmethod
    def _far_below(state: State, view: Readings, value: Floats, limit: Floats, armed: Bools) -> tuple[State, Judged]:
        """Nothing to work out, as nearly always: only what is remembered moves on."""
        after = {
            "past": with_past(state["past"], value)[1],
            "recent": with_past(state["recent"], value)[1],
            "was": with_past(state["was"], value)[1],
            "speed": with_past(state["speed"], view.get("screw_speed")[None, :])[1],
            "on": state["on"],
            "heads": np.zeros_like(state["heads"]) if value.shape[1] else state["heads"],
            "twice": read_twice.start(len(value)) if value.shape[1] else state["twice"],
        }
        level = rule(np.zeros(value.shape, bool), np.isfinite(value), armed)
        return after, no_facts(level)

    def _limits(self, subjects: tuple[str, ...], ctx: Context) -> Floats:
        """The limit of each pressure, bar, [pressure, 1]."""
        return np.array([self.limit_bar(subject, ctx)[0] for subject in subjects]).reshape(-1, 1)

    def limit_bar(self, subject: str, ctx: Context) -> tuple[float, bool]:
        """The limit and whether it is the machine's own; NaN where there is none."""
        if ctx.line.limits.melt_pressure_bar is not None:
            return ctx.line.limits.melt_pressure_bar, True
        window = ctx.recipe.window_of(channel_key("melt_pressure", subject)) if ctx.recipe else None
        outer = (window.high_outer or window.high) if window else None
        return (1.25 * outer if outer else np.nan), False

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How near, how fast, how long."""
        own = self.limit_bar(subject, ctx)[1]
        value, limit, rate, left = facts["value"], facts["limit"], facts["bar_s"], facts["left_s"]
        whose = "the machine's limit" if own else "a limit taken from the recipe"
        summary = f"melt pressure {subject} {value:.0f} bar, {100 * value / limit:.0f} % of {whose} of {limit:.0f}"
        evidence = [Evidence(f"melt pressure {subject}", value, "bar", None, None, self.channel(subject))]
        if rate == rate and rate > 0.1:
            summary += f", rising {rate:.1f} bar/s"
            evidence.append(Evidence("rising", rate, "bar/s"))
            if 5 < left < 600:
                evidence.append(Evidence("time left at this rate", left, "s"))
        return Explanation(
            summary,
            1,
            "high" if own else "medium",
            tuple(evidence),
            (
                "die or screen blocked",
                Cause("melt too cold", shown_by=COLD),
                Cause("more comes in than is set: powder flushing, bursts, a scale that lies", (), (), OVER_FED),
                "screen changer between positions",
                "rate or speed raised",
            ),
            (
                "stop the feed and lower the speed, by site procedure",
                "stand clear of die and burst disc",
                "melt and die temperature",
            ),
            cautions.PRESSURE,
        )
