"""A zone or the melt is hotter than its limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import temperature_causes, temperature_limits
from monitor.contract import CLEAR, UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, accumulate_while
from monitor.levels import levels_above
from monitor.phases import RUNNING
from monitor.records import Evidence, Family
from monitor.view import CoarseView


@dataclass(frozen=True)
class OverTemperature:
    """A zone or the melt is hotter than its limit: the recipe's, or one about the set-point where no recipe gives one.

    An operator would say: "zone 5 is running hot". Three levels: inner limit, outer limit, ceiling of the material.
    They count once the temperature has been inside its window, or the line has run for `overdue_s` without it (half of
    that for the outer limit): the outer limit when half of the time to settle is over
    (before that only the ceiling), the inner one when all of it is, both as soon as the zone has settled: arrived and
    stayed. A zone settles since its set-point, the screw, speed or rate moved and since it was far under its target: a
    shallow overshoot that decays in 20 to 40 min is what steel and controllers do (common practice, no source), and
    while it decays it is let for up to two hours. The hot half of a swing that was half a limit too cold within twenty
    minutes is let up to the outer limit: autotune, or hunting, which has its own finding. Until that is over after a
    stop only the ceiling counts, and as long as the line stands with a zone far below the recipe: it is off. The
    ceiling always counts. Dose: standing, degree-minutes over the ceiling (over the
    limit where none is known); running, each kilogram sees only its residence time: excess x residence time, and the
    kilograms that have passed so far. The wall above the ceiling is not yet the melt above it; the finding says which.
    Look-alikes: what passes (a catch sample, a lump, a die that is wiped: out for less than two minutes; waited for
    where load or pressure show that something does),
    shear heat, contactor stuck on, couple open (its jump is taken out before this sees it). An excess that
    comes back within ten minutes is the same one: a zone that hunts is said once. Missing readings neither start nor
    end it. Memory: five switches, three sums, twenty minutes and seven ages a subject.
    """

    inner_c: float = setting(3, 0.5, 30, "C")
    outer_c: float = setting(5, 1, 50, "C")
    deadband_c: float = setting(0.7, 0, 5, "C")
    settling_s: float = setting(2400, 0, 7200, "s")
    overdue_s: float = setting(2400, 600, 14400, "s of running after which what never came inside is judged too")
    on_s: float = setting(120, 10, 3600, "s")
    sure_on_s: float = setting(60, 10, 3600, "s where nothing passes, and above the ceiling")
    off_s: float = setting(1800, 10, 3600, "s")

    role: ClassVar[str] = "zone_temperature"
    name: ClassVar[str] = "zone_over_temperature"
    family: ClassVar[Family] = "over_temperature"
    title: ClassVar[str] = "zone hotter than its limit"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)
    quantities: ClassVar[tuple[str, ...]] = ("residence_time", "total_feed")

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
        """Nothing reached, nothing over."""
        count = len(subjects)
        return {
            **temperature_limits.start_reached(subjects),
            **temperature_limits.start_rest(subjects),
            **temperature_causes.start(subjects),
            **temperature_limits.start_passing(subjects, ctx),
            **temperature_limits.start_ran(),
            "on": np.zeros((count, 3), bool),
            "sums": np.zeros(3 * count),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels as in `temperature_limits`."""
        value = view.rows(self.role, subjects)
        target, inner, outer = temperature_limits.limits(self.role, subjects, 1, self.inner_c, self.outer_c, view, ctx)
        with np.errstate(invalid="ignore"):
            near = value <= inner
            running = np.broadcast_to(view.in_phase(*RUNNING), value.shape)
        reached, reached_state = self._reached(state, view, subjects, value, near, running, ctx)
        age, rest_state = self._age(state, value, target, view, subjects, ctx)
        half_step, step_state = temperature_limits.half_step_c(state, *view.low_high(self.role, subjects))
        ran, ran_state = temperature_limits.ran_s(state, view)
        since = np.where(reached, age, np.minimum(age, ran))
        back, ago = temperature_limits.coming_back(state, value - inner, since, self.settling_s)
        settled_state = {name: state[name] for name in ("lately", "settled")}
        if self.role == "zone_temperature":
            age, settled_state = temperature_limits.settled_s(state, value, near, age, half_step)
        seen, seen_state = temperature_causes.seen(self.role, 1, state, value, target, inner, subjects, view, ctx)
        swings = (seen["swung_s"] <= temperature_limits.SWING_S) & (self.role == "zone_temperature")
        inner_due, outer_due = reached | (ran >= self.overdue_s), reached | (ran >= 0.5 * self.overdue_s)
        settled = inner_due & running & ~back & ~swings & (age >= self.settling_s)
        half_settled = outer_due & ~back & (age >= 0.5 * self.settling_s)
        outer = np.where(np.isnan(outer), inner + 1e9, outer)
        early = np.where(half_settled & (running | (age >= self.settling_s)), 0.0, 1e9)
        # With the screw still, heat that fed the cold pellets goes into the steel: only the ceiling counts at first.
        standing = (
            ~running & ~(age >= self.settling_s) if self.role == "zone_temperature" else np.zeros(value.shape, bool)
        )
        standing |= ~running & temperature_limits.cold_barrel(view, ctx)
        never = np.where(settled, 0.0, 1e9)
        ceiling = ceiling_c(ctx)
        limits = (
            np.fmin(inner + half_step + never, ceiling),
            np.fmin(outer + half_step + early + np.where(outer_due & ~standing, 0.0, 1e9), ceiling),
            np.full((len(subjects), 1), ceiling),
        )
        on, level = levels_above(state["on"], value, limits, np.array(self.deadband_c), np.ones(value.shape, bool))
        level, passing = temperature_limits.for_certain(state, level, near, self.on_s, view, ctx)
        excess = value - inner
        rate, residence = view.quantity("total_feed"), view.quantity("residence_time")
        minute = view.step / 60e9
        over_ceiling = value - (ceiling if ceiling == ceiling else inner)
        stood = np.where(running, 0.0, _positive(over_ceiling)) * minute
        passed = np.where(running & (excess > 0), _positive(rate), 0.0) * minute / 60.0
        sums = np.concatenate((_positive(excess) * minute, stood, passed))
        holds = np.tile((level > CLEAR) | (level == UNKNOWN), (3, 1))
        total, sums_state = accumulate_while(state["sums"], sums, holds)
        dose, stood_c_min, kg = (total[k * len(value) : (k + 1) * len(value)] for k in range(3))
        facts: dict[str, Floats] = {
            "value": value,
            "inner": inner,
            "target": target,
            "dose": dose,
            "stood": stood_c_min,
            "kg": kg,
            "rate": rate,
            "residence": residence,
            "running": running.astype(float),
            "arrived": reached.astype(float),
            **seen,
        }
        after = {
            "reached": reached_state,
            "on": on,
            **ran_state,
            "sums": sums_state,
            **rest_state,
            **ago,
            **settled_state,
            **step_state,
            **passing,
        }
        after |= seen_state
        return after, Judged(level, excess, facts)

    def _reached(self, state, view, subjects, value, near, running, ctx):  # type: ignore[no-untyped-def]
        if self.role == "zone_temperature":
            moved = temperature_limits.zone_ages(view, subjects, ctx) < view.step / 1e9
        else:
            moved = ~running
        return temperature_limits.reached(state["reached"], value, near, moved)

    def _age(
        self, state: State, value: Floats, target: Floats, view: CoarseView, subjects: tuple[str, ...], ctx: Context
    ) -> tuple[Floats, State]:
        """Seconds in which the temperature could settle, [subject, n], and the state."""
        started = np.broadcast_to(view.ages["started"], (len(subjects), view.n))
        if self.role == "zone_temperature":
            return temperature_limits.rested_s(state, value, target, subjects, view, ctx)
        same = {name: state[name] for name in ("rest", "warm", "mains", "asked", "told", "target")}
        return np.where(view.in_phase("steady"), started, 0.0), same

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How hot, for how long, what it did to the melt, why it may be."""
        ceiling, value = ceiling_c(ctx), facts["value"]
        what = "melt temperature" if self.role == "melt_temperature" else "zone"
        burns = level == temperature_limits.CEILING
        outer = level not in (temperature_limits.INNER_PASSING, temperature_limits.INNER)
        limit = ceiling if burns else facts["inner"]
        kind = "the ceiling of the material" if burns else "its limit"
        summary = f"{what} {subject} {value:.1f} °C, {value - limit:.1f} °C above {kind} of {limit:.0f}"
        if not burns:
            summary += temperature_limits.by_words(self.role, subject, ctx) + temperature_limits.never_words(facts)
        if self.role == "zone_temperature" and burns:
            summary += "; the wall, not yet the melt"
        evidence = [Evidence(f"{what} {subject}", value, "C", _known(facts["target"]), None, self.channel(subject))]
        evidence += self._exposure(facts, ceiling)
        priority = 1 if burns and self.role == "melt_temperature" else 2 if outer else 3
        if level in (temperature_limits.INNER_PASSING, temperature_limits.INNER) and temperature_causes.follows_a_trim(
            facts, self.inner_c / 2
        ):
            priority = 4
        return Explanation(
            summary,
            priority,
            "high",
            tuple(evidence),
            temperature_causes.of(self.role, 1, facts),
            ("zone output and cooling now", "the neighbours", "screw speed and rate against the recipe"),
            cautions.HEAT if outer else "",
            temperature_causes.moved(self.role, facts),
        )

    def _exposure(self, facts: dict[str, float], ceiling: float) -> list[Evidence]:
        """What the melt has borne: standing, degree-minutes; running, excess x residence time and kilograms passed."""
        said = []
        if facts["stood"] > 0 or not facts["running"]:
            over = "ceiling" if ceiling == ceiling else "limit"
            said.append(Evidence(f"standing, over the {over}", facts["stood"], "C min"))
        if not facts["running"]:
            return said
        said.append(Evidence("over the limit by then", facts["dose"], "C min"))
        residence, excess = facts["residence"], facts["value"] - facts["inner"]
        if residence == residence and excess > 0:
            said.append(Evidence("each kilogram is exposed for at most", residence, "s"))
            said.append(Evidence("dose of each kilogram, excess x residence time", excess * residence / 60, "C min"))
        if facts["rate"] == facts["rate"]:
            said.append(Evidence("passed by then", facts["kg"], "kg"))
        return said


@dataclass(frozen=True)
class MeltOverTemperature(OverTemperature):
    """The melt is hotter than its limit.

    As for a zone, but limits come from the recipe's window and the material's ceiling only, and settling takes
    10 to 20 minutes after a start (common practice, no source). What passes is washed out sooner: a minute and a half.
    """

    settling_s: float = setting(900, 0, 7200, "s")
    overdue_s: float = setting(1800, 600, 14400, "s of running after which what never came inside is judged too")
    on_s: float = setting(90, 10, 3600, "s")
    sure_on_s: float = setting(30, 10, 3600, "s where nothing passes, and above the ceiling")
    off_s: float = setting(120, 10, 3600, "s")

    role: ClassVar[str] = "melt_temperature"
    name: ClassVar[str] = "melt_over_temperature"
    title: ClassVar[str] = "melt hotter than its limit"
    needs: ClassVar[tuple[str, ...]] = ("melt_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("recipe",)


def ceiling_c(ctx: Context) -> float:
    """Highest temperature the material bears, C: the recipe's word, else the material's; NaN where neither says."""
    if ctx.recipe and ctx.recipe.recipe.ceiling_c is not None:
        return ctx.recipe.recipe.ceiling_c
    return float(ctx.material.ceiling_c) if ctx.material and ctx.material.ceiling_c else np.nan


def _positive(rows: Floats) -> Floats:
    """What is above zero; nothing where it is not known."""
    return np.where(np.isfinite(rows), np.fmax(rows, 0.0), 0.0)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value
