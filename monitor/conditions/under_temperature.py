"""A zone or the melt is colder than its limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor.conditions import temperature_causes, temperature_limits
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.levels import levels_above
from monitor.phases import RUNNING
from monitor.records import Evidence, Family
from monitor.view import CoarseView

NEVER_C = 1e9


@dataclass(frozen=True)
class UnderTemperature:
    """A zone is colder than its limit while product is made: the recipe's, or one about the set-point.

    An operator would say: "zone 3 does not hold its temperature". Levels: inner, outer limit. Counts only in
    running, once the zone has been inside its window or the line has run for `overdue_s` without it (half of that for
    the outer limit, ten minutes below the melting point), and it has had `settling_s` to settle after a start, a new
    set-point, speed or rate, or has settled before: arrived and stayed (for the outer limit half of the time; before
    that cold feed may take tens of degrees from a zone, but not below the melting point, Tg + 50 C where amorphous,
    unless it rises); one that comes back at a loop's pace is let for up to two hours. So is the cold half of a swing
    that was half a limit too hot within twenty minutes, down to the outer limit: autotune, or hunting, which has its
    own finding. A shortfall that comes back within half an hour is the same one. Look-alikes: what passes (a catch
    sample, a stop of two minutes: waited for), heater dead, cooling passing, couple reading low, cold feed after a rate
    rise. Missing readings neither start nor end it. Memory: four switches, twenty minutes and seven ages a subject.
    """

    inner_c: float = setting(3, 0.5, 30, "C")
    outer_c: float = setting(5, 1, 50, "C")
    deadband_c: float = setting(0.7, 0, 5, "C")
    settling_s: float = setting(2400, 0, 7200, "s")
    overdue_s: float = setting(2400, 600, 14400, "s of running after which what never came inside is judged too")
    on_s: float = setting(120, 10, 3600, "s")
    sure_on_s: float = setting(60, 10, 3600, "s where nothing passes")
    off_s: float = setting(1800, 10, 3600, "s")

    role: ClassVar[str] = "zone_temperature"
    name: ClassVar[str] = "zone_under_temperature"
    family: ClassVar[Family] = "under_temperature"
    title: ClassVar[str] = "zone colder than its limit"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every zone or melt probe with a temperature."""
        return ctx.subjects_of(self.role)

    def channel(self, subject: str) -> str:
        """The temperature itself."""
        return channel_key(self.role, subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two minutes in, one where nothing passes that may be over by then; half an hour out. Common practice."""
        return Timing(
            self.on_s, self.off_s, urgent_level=temperature_limits.INNER, urgent_on_s=min(self.on_s, self.sure_on_s)
        )

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing reached, nothing under."""
        return {
            **temperature_limits.start_reached(subjects),
            **temperature_limits.start_rest(subjects),
            **temperature_causes.start(subjects),
            **temperature_limits.start_passing(subjects, ctx),
            **temperature_limits.start_ran(),
            "on": np.zeros((len(subjects), 2), bool),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels as in `temperature_limits`."""
        value = view.rows(self.role, subjects)
        target, inner, outer = temperature_limits.limits(self.role, subjects, -1, self.inner_c, self.outer_c, view, ctx)
        running = np.broadcast_to(view.in_phase(*RUNNING), value.shape)
        if self.role == "zone_temperature":
            moved = temperature_limits.zone_ages(view, subjects, ctx) < view.step / 1e9
            # That it is cold is what is asked here, and no reason to wait.
            age, rest_state = temperature_limits.rested_s(state, value, target, subjects, view, ctx, cold_counts=False)
        else:
            moved, rest_state = (
                ~running,
                {name: state[name] for name in ("rest", "warm", "mains", "asked", "told", "target")},
            )
            age = np.where(view.in_phase("steady"), view.ages["started"], 0.0) + np.zeros(value.shape)
        with np.errstate(invalid="ignore"):
            near = value >= inner
        reached, reached_state = temperature_limits.reached(state["reached"], value, near, moved)
        age = np.minimum(age, view.ages["started"])
        half_step, step_state = temperature_limits.half_step_c(state, *view.low_high(self.role, subjects))
        ran, ran_state = temperature_limits.ran_s(state, view)
        since = np.where(reached, age, np.minimum(age, ran))
        back, ago = temperature_limits.coming_back(state, inner - value, since, self.settling_s)
        settled_state = {name: state[name] for name in ("lately", "settled")}
        if self.role == "zone_temperature":
            age, settled_state = temperature_limits.settled_s(state, value, near, age, half_step)
        inner_due, outer_due = reached | (ran >= self.overdue_s), reached | (ran >= 0.5 * self.overdue_s)
        armed = (reached | (ran >= temperature_limits.STIFF_AFTER_S)) & running
        seen, seen_state = temperature_causes.seen(self.role, -1, state, value, target, inner, subjects, view, ctx)
        swings = (seen["swung_s"] <= temperature_limits.SWING_S) & (self.role == "zone_temperature")
        inner_now = np.where((age >= self.settling_s) & inner_due & ~back & ~swings, inner, -NEVER_C)
        early = (age < 0.5 * self.settling_s) | back | ~outer_due
        stiff = np.minimum(temperature_limits.too_cold_c(target, ctx), outer)
        rising = temperature_limits.rising(state, value) if self.role == "zone_temperature" else np.zeros_like(early)
        outer_now = np.where(early, np.where(np.isnan(stiff) | rising, -NEVER_C, stiff), outer)
        limits = (half_step - inner_now, half_step - outer_now)
        on, level = levels_above(state["on"], -value, limits, np.array(self.deadband_c), armed)
        level, passing = temperature_limits.for_certain(state, level, near | ~running, self.on_s, view, ctx)
        facts = {
            "value": value,
            "inner": inner,
            "target": target,
            "running": running.astype(float),
            "arrived": reached.astype(float),
            **seen,
        }
        after = {"reached": reached_state, "on": on, **rest_state, **ago, **settled_state, **step_state, **passing}
        after |= seen_state | ran_state
        return after, Judged(level, inner - value, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How cold and why it may be."""
        what = "melt temperature" if self.role == "melt_temperature" else "zone"
        value, limit = facts["value"], facts["inner"]
        target = None if np.isnan(facts["target"]) else facts["target"]
        evidence = [Evidence(f"{what} {subject}", value, "C", target, None, self.channel(subject))]
        if facts.get("output", np.nan) == facts.get("output"):
            evidence.append(Evidence("zone output", facts["output"], "%", None, None, f"zone_output:{subject}"))
        inner = level in (temperature_limits.INNER_PASSING, temperature_limits.INNER)
        follows = inner and temperature_causes.follows_a_trim(facts, self.inner_c / 2)
        by = temperature_limits.by_words(self.role, subject, ctx)
        return Explanation(
            f"{what} {subject} {value:.1f} °C, {limit - value:.1f} °C below its limit of {limit:.0f}{by}"
            + temperature_limits.never_words(facts),
            4 if follows else 3 if inner else 2,
            "high",
            tuple(evidence),
            temperature_causes.of(self.role, -1, facts),
            ("zone output and heater current", "set-point against the recipe", "cooling valve of this zone"),
            moved=temperature_causes.moved(self.role, facts),
        )


@dataclass(frozen=True)
class MeltUnderTemperature(UnderTemperature):
    """The melt is colder than its limit; limits come from the recipe's window only."""

    settling_s: float = setting(900, 0, 7200, "s")
    overdue_s: float = setting(1800, 600, 14400, "s of running after which what never came inside is judged too")
    on_s: float = setting(90, 10, 3600, "s")
    sure_on_s: float = setting(60, 10, 3600, "s where nothing passes")
    off_s: float = setting(120, 10, 3600, "s")

    role: ClassVar[str] = "melt_temperature"
    name: ClassVar[str] = "melt_under_temperature"
    title: ClassVar[str] = "melt colder than its limit"
    needs: ClassVar[tuple[str, ...]] = ("melt_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)
