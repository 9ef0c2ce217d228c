"""A reading left its recipe window."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import ROLES, split_key
from monitor import cautions, one_side, read_twice
from monitor.conditions import feeder_signals
from monitor.conditions.machine_load import load
from monitor.conditions.window_causes import QUANTITIES, load_causes, pressure_causes, window_facts
from monitor.conditions.window_off_point import OFF_POINT_SHARE, factors, off_point
from monitor.contract import DISARMED, Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import Bools, Floats, blank, run_length, trailing_mean, two_threshold
from monitor.levels import levels_above
from monitor.phases import RUNNING
from monitor.records import Cause, Confidence, Evidence, Family
from monitor.view import CoarseView

JUDGED_ELSEWHERE = (
    "zone_temperature",
    "melt_temperature",
    "zone_setpoint",
    "feeder_refill",
    "feeder_gravimetric",
    "feeder_weight",
    "vacuum",
)

LOADS = ("torque", "motor_current", "drive_power")
"""Roles whose mean over 60 s is held against the window: they scatter from reading to reading."""

PRESSURES = ("melt_pressure",)
"""Roles of which the middle of three cells on end counts: one odd reading is neither out nor the worst."""

RATES = ("feeder_rate", "line_rate")
"""Roles whose mean over 300 s is: after a refill a minute and a half of overshoot is usual. The last minute must be out
too, for longer than its own width, 90 s: a hand on the scale or a refill by hand makes one bump, which a mean holds for
as long as it is wide.
"""

PASSING, PASSES = ("melt_pressure", *LOADS), 3
"""A catch sample, a hand on a hopper, half a screen area during a change lasts a minute at most and is washed out
within a mean residence time more: a pressure or a load must be out for three times as long as another reading, 90 s.
What harms within seconds has conditions of its own (toward_over_pressure, torque_high, burst_disc_or_leak)."""

STARTS_FOR_S = 1200.0
"""A start may dwell at a low speed until melt is through; once the screw has come to its window, or after so long, its
speed is judged. Common practice, no source."""

SAME_RATIO = 0.01
"""Feeder set-points that all stand this near the same ratio to their recipe rates were moved together."""

RATE_DEADBAND_SHARE = 0.015
"""Deadband of a rate in shares of its target: after each refill a feeder reads high for a while."""

CHECKS = {
    "melt_pressure": (
        "melt temperature and rate at the same time",
        "screen and die",
        "pressure sensor at zero",
    ),
    "torque": ("rates of all feeders", "zone temperatures", "screw speed against its set-point"),
    "motor_current": ("rates of all feeders", "zone temperatures", "screw speed against its set-point"),
    "feeder_rate": ("feeder drive and hopper", "feeder set-point against the recipe"),
    "line_rate": ("rates of all feeders", "screw speed"),
    "screw_speed": ("speed set-point against the recipe", "drive limit or trip"),
}


SPEED_SET = ("setpoint_not_recipe", "speed_not_recipe")
"""Findings of a speed that somebody set."""

OTHER_CAUSES: dict[str, tuple[Cause | str, ...]] = {
    "feeder_rate": (
        Cause(
            "feeder: drive, hopper or flow of material",
            shown_by=("feeder_bridged", "feeder_tripped", "feeder_off_target", "flushing", "liquid_prime_lost"),
        ),
        Cause("set-point of this feeder off the recipe", shown_by=("setpoint_not_recipe", "share_wrong")),
    ),
    "line_rate": (
        Cause("a feeder off its rate", shown_by=("feeder_bridged", "feeder_tripped", "feeder_off_target", "starved")),
        Cause("screw or total rate set otherwise", shown_by=(*SPEED_SET, "speed_deviation")),
    ),
    "screw_speed": (
        Cause("speed set-point off the recipe", shown_by=SPEED_SET),
        Cause("drive does not hold its speed", shown_by=("speed_deviation", "torque_high")),
    ),
    "dew_point": ("dryer: regeneration, desiccant or air leak", "dew point sensor"),
}


@dataclass(frozen=True)
class RecipeWindow:
    """A reading left its recipe window.

    An operator would say: "pressure is out of the recipe". Judged on 10 s means (pressures on the middle of three,
    loads on 60 s, rates on 300 s means) in steady running, against the inner and outer limits of the recipe; zone and
    melt temperatures and vacuum are judged by their own conditions. While the wanted speed or rate is more than 5 % off
    the recipe's, windows of loads and pressures go with them as physics has it, as much wider as its exponents are
    uncertain, and confidence is lower; upper outer limits stay where the recipe has them. The window of one feeder
    moves with set-points that all feeders were given in proportion. Look-alikes: a lump that passes and a start that
    dwells at a low speed (waited for); anything else: causes of a pressure or load are ranked by what feed, melt
    temperature, zones, speed, load and pressure do meanwhile, and other findings name them. Missing readings neither
    start nor end it. Memory: two switches a channel, 6 or 30 cells of those that are averaged. Delays: 30 s, feeders,
    loads and pressure 90 s; deadband a tenth of the window, feeders 1.5 % of target (common practice, no source).
    """

    on_s: float = setting(30, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")
    deadband_share: float = setting(0.1, 0, 0.5, "of the window's half width")

    name: ClassVar[str] = "recipe_window"
    family: ClassVar[Family] = "window"
    title: ClassVar[str] = "outside its recipe window"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("recipe",)
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = (*QUANTITIES, "refilling")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every channel that a recipe may have a window for and no other condition judges."""
        relative = ctx.line.relative_channels
        return tuple(
            key
            for key in ctx.line.channels
            if key not in relative
            and split_key(key)[0] not in JUDGED_ELSEWHERE
            and not key.endswith("setpoint")
            and not split_key(key)[0].endswith("setpoint")
        )

    def channel(self, subject: str) -> str:
        """The channel itself."""
        return subject

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Slower for what scatters more, and for what a passing lump of material moves."""
        role = split_key(subject)[0]
        times = PASSES if role in PASSING else 1
        return Timing(ctx.step_s if role in RATES else self.on_s * times, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No limit passed."""
        off = np.zeros((len(subjects), 2), bool)
        return {
            "side": one_side.start(len(subjects)),
            "high": off,
            "low": off,
            "odd": blank(len(self._rows(subjects, PRESSURES)), 2),
            "past": blank(len(self._rows(subjects, LOADS)), ctx.cells(60) - 1),
            "smooth": blank(len(self._rows(subjects, RATES)), ctx.cells(300) - 1),
            "now": blank(len(self._rows(subjects, RATES)), ctx.cells(60) - 1),
            "out": np.zeros((len(self._rows(subjects, RATES)), 2), np.int64),
            "arrived": np.zeros(1, bool),
        }

    @staticmethod
    def _rows(subjects: tuple[str, ...], roles: tuple[str, ...]) -> list[int]:
        return list(_rows_of(subjects, roles))

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Both sides of every window. Most readings have none: all are averaged, those with a window are judged."""
        value, now, means = self._means(state, view, subjects, ctx)
        fixed = ctx.once((self, subjects), lambda: self._limits(subjects, ctx))
        mine = np.flatnonzero(np.isfinite(fixed["low"]) | np.isfinite(fixed["high"]))
        its, all_rates = tuple(subjects[row] for row in mine.tolist()), self._rows(subjects, RATES)
        limit, where = self._here({name: rows[mine] for name, rows in fixed.items()}, its, view, ctx)
        rates, value = self._rows(its, RATES), value[mine]
        of_all = [all_rates.index(int(mine[row])) for row in rates]
        after = {
            "side": {"side": state["side"]["side"].copy(), "clear": state["side"]["clear"] + view.n},
            **{name: np.zeros_like(state[name]) for name in ("high", "low", "out")},
            **means,
        }
        sides = []
        for place, (sign, inner) in enumerate(((1.0, limit["high"]), (-1.0, -limit["low"]))):
            side = sign * value
            with np.errstate(invalid="ignore"):
                out = (side[rates] >= inner[rates]) & (sign * now[of_all] >= inner[rates])
            run, after["out"][of_all, place] = run_length(state["out"][of_all, place], out)
            # Until it has lasted, kept inside the deadband: a bump begins nothing, and a pause ends nothing.
            inside = np.minimum(side[rates], inner[rates] - limit["deadband"][rates] / 2)
            side[rates] = np.where(run >= ctx.cells(PASSES * self.on_s), side[rates], inside)
            sides.append(side)
        after["arrived"] = self._wait_for_speed(state["arrived"], sides[1], limit, its, view)
        steady = view.in_phase("steady")
        high_limits, low_limits = (limit["high"], limit["high_outer"]), (-limit["low"], -limit["low_outer"])
        after["high"][mine], high = levels_above(state["high"][mine], sides[0], high_limits, limit["deadband"], steady)
        after["low"][mine], low = levels_above(state["low"][mine], sides[1], low_limits, limit["deadband"], steady)
        over_or_under = np.where(high >= low, 1.0, -1.0)
        its_level = np.where((high == DISARMED) & (low == DISARMED), np.int8(DISARMED), np.maximum(high, low))
        its_sides = {name: rows[mine] for name, rows in state["side"].items()}
        its_level, its_sides = one_side.one_side(its_sides, its_level, over_or_under, ctx.cells(self.off_s))
        for name, rows in its_sides.items():
            after["side"][name][mine] = rows
        level = np.full((len(subjects), view.n), np.int8(DISARMED))
        level[mine] = its_level
        if not (its_level > 0).any():
            return after, no_facts(level)
        facts = {
            "value": value,
            "low": limit["low"],
            "high": limit["high"],
            "side": over_or_under,
            "target": limit["target"],
            **where,
            **window_facts(load(view, ctx), view, ctx),
        }
        score = np.fmax(value - limit["high"], limit["low"] - value) / limit["half"]
        spread = {name: _among_all(rows, mine, len(subjects)) for name, rows in facts.items()}
        return after, Judged(level, _among_all(score, mine, len(subjects)), spread)

    @staticmethod
    def _wait_for_speed(
        arrived: Bools, low_side: Floats, limit: dict[str, Floats], subjects: tuple[str, ...], view: CoarseView
    ) -> Bools:
        """Takes a speed that has not come to its window since the start as inside it; the state. low_side: changed."""
        running = view.in_phase(*RUNNING)[None, :]
        speed = view.get("screw_speed")
        rows = [row for row, key in enumerate(subjects) if key == "screw_speed"]
        least = limit["low"][rows[0]] if rows else np.full(view.n, np.nan)
        with np.errstate(invalid="ignore"):
            inside = (speed >= least)[None, :]
        there, after = two_threshold(arrived, inside & running, ~running & np.isfinite(speed)[None, :])
        waits = ~there[0] & (view.ages["started"] < STARTS_FOR_S)
        for row in rows:
            low_side[row] = np.where(waits, -least - 2 * limit["deadband"][row], low_side[row])
        return after

    def _means(
        self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context
    ) -> tuple[Floats, Floats, State]:
        """Readings of steady running, loads and rates averaged, [subject, n]; rates averaged shorter; the state."""
        logged = np.array([view.get(key) for key in subjects]).reshape(len(subjects), view.n)
        logged = np.where(view.in_phase("steady"), logged, np.nan)
        fed = self._rows(subjects, ("feeder_rate",))
        # Nothing is weighed during a refill: the rate is held, or what a controller makes of a rising weight.
        names = [split_key(subjects[row])[1] for row in fed]
        unweighed = feeder_signals.refilling(view, names) | feeder_signals.filled_by_hand(view, names)
        logged[fed] = np.where(unweighed, np.nan, logged[fed])
        logged[fed] /= self._together(view, ctx)
        rates, loads = self._rows(subjects, RATES), self._rows(subjects, LOADS)
        value, pressures = logged.copy(), self._rows(subjects, PRESSURES)
        value[pressures], odd = read_twice.middle(state["odd"], logged[pressures])
        value[loads], past = trailing_mean(state["past"], logged[loads], ctx.cells(40))
        value[rates], smooth_past = trailing_mean(state["smooth"], logged[rates], ctx.cells(180))
        now, now_past = trailing_mean(state["now"], logged[rates], ctx.cells(40))
        return value, now, {"odd": odd, "past": past, "smooth": smooth_past, "now": now_past}

    @staticmethod
    def _here(
        fixed: dict[str, Floats], subjects: tuple[str, ...], view: CoarseView, ctx: Context
    ) -> tuple[dict[str, Floats], dict[str, Floats]]:
        """The limits at the speed and rate wanted now, [subject, n], and the facts of where that is."""
        point = off_point(view, ctx)
        least, most = factors(subjects, point, ctx)
        here = {name: np.broadcast_to(value, least.shape) for name, value in fixed.items()}
        facts = {"speed_ratio": point.speed, "rate_ratio": point.rate, "scaled": (least != 1.0) | (most != 1.0)}
        if point.off.any():
            unknown = facts["scaled"] & point.far
            outer_low, outer_high = here["low_outer"] * np.fmin(least, 1.0), here["high_outer"]
            # An outer limit that stands alone is one of line or product, and above an outer limit is above the window.
            low = np.where(here["low"] == here["low_outer"], outer_low, here["low"] * least)
            high = np.where(here["high"] == outer_high, outer_high, np.fmin(here["high"] * most, outer_high))
            here["low"], here["low_outer"] = np.where(unknown, np.nan, low), np.where(unknown, np.nan, outer_low)
            here["high"] = np.where(unknown, outer_high, high)
            here["target"] = np.where(unknown, np.nan, here["target"] * (least + most) / 2)
        return here, {name: value.astype(np.float64) for name, value in facts.items()}

    @staticmethod
    def _together(view: CoarseView, ctx: Context) -> Floats:
        """Ratio of all feeder set-points to the targets of their windows where it is the same for all, else 1, [n].

        Ratio control, a limiter or an operator that moves all feeders in proportion leaves the composition, which is
        what the window of one feeder is for; the total has a window of its own.
        """
        windows = ctx.recipe.window if ctx.recipe else ()
        wanted = {w.at: w.target for w in windows if w.role == "feeder_rate" and w.target}
        used = {name for name, share in ctx.recipe.shares.items() if share > 0} if ctx.recipe else set()
        if len(wanted) < 2 or not used <= wanted.keys():
            return np.ones(view.n)
        ratios = view.rows("feeder_setpoint", tuple(wanted)) / np.array(list(wanted.values()))[:, None]
        least, most = ratios.min(axis=0), ratios.max(axis=0)
        same = (least > 0) & (most - least <= 2 * SAME_RATIO * least)
        return np.where(same, (least + most) / 2, 1.0)

    def _limits(self, subjects: tuple[str, ...], ctx: Context) -> dict[str, Floats]:
        names = ("low_outer", "low", "target", "high", "high_outer")
        table = np.full((len(subjects), len(names)), np.nan)
        for row, key in enumerate(subjects):
            window = ctx.recipe.window_of(key) if ctx.recipe else None
            if window is not None:
                said = [getattr(window, name) for name in names]
                table[row] = [np.nan if value is None else value for value in said]
        out = {name: table[:, [place]] for place, name in enumerate(names)}
        out["low"] = np.where(np.isnan(out["low"]), out["low_outer"], out["low"])
        out["high"] = np.where(np.isnan(out["high"]), out["high_outer"], out["high"])
        half = (out["high"] - out["low"]) / 2
        out["half"] = np.where(np.isnan(half), np.fmax(np.abs(np.fmax(out["high"], out["low"])) * 0.1, 1e-9), half)
        rate = np.array([split_key(key)[0] in RATES for key in subjects], bool).reshape(-1, 1)
        of_target = np.where(rate, RATE_DEADBAND_SHARE * np.abs(out["target"]), np.nan)
        out["deadband"] = np.fmax(self.deadband_share * out["half"], np.fmin(of_target, 0.5 * out["half"]))
        return out

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which side, how far, by how much."""
        role, at = split_key(subject)
        unit, label = ROLES[role].unit, f"{role.replace('_', ' ')} {at}".strip()
        over = facts["side"] > 0
        limit = facts["high"] if over else facts["low"]
        word = "above" if over else "below"
        target = facts["target"]
        evidence = Evidence(label, facts["value"], unit, None if np.isnan(target) else target, channel=subject)
        moved = "pressure" if role == "melt_pressure" else "torque" if role in LOADS and facts["scaled"] else ""
        compared = moved and target > 0 and facts["value"] > 0
        confidence, says, at_point = self._off_point(subject, level, over, facts, ctx)
        return Explanation(
            f"{label} {facts['value']:.3g} {unit}, {word} its {says or f'recipe limit of {limit:.4g}'}",
            priority=2 if level > 1 else 3,
            confidence=confidence,
            evidence=(evidence, *at_point),
            causes=self._causes(role, over, facts),
            checks=CHECKS.get(role, ("the sensor and its set-point",)),
            caution=cautions.PRESSURE if role == "melt_pressure" and over else "",
            moved={
                **({moved: float(np.log(facts["value"] / target))} if compared else {}),
                **({"wall_c": facts["cold_wall_c" if over else "hot_wall_c"]} if moved == "pressure" else {}),
            },
        )

    @staticmethod
    def _off_point(
        subject: str, level: int, over: bool, facts: dict[str, float], ctx: Context
    ) -> tuple[Confidence, str, tuple[Evidence, ...]]:
        """How sure, what the limit is at the recipe's own point, and where the line runs instead."""
        window = ctx.recipe.window_of(subject) if ctx.recipe else None
        if not facts["scaled"] or window is None or ctx.recipe is None:
            return "high", "", ()
        own, used = (window.high, facts["high"]) if over else (window.low, facts["low"])
        if level > 1 and over and window.high_outer is not None:
            says = f"outer recipe limit of {window.high_outer:.4g}"
        elif own is None:
            says = f"outer recipe limit, which is {used:.3g} at this speed and rate"
        else:
            says = f"recipe limit of {used:.3g} at this speed and rate ({own:.4g} at the recipe's own)"
        recipe = ctx.recipe.recipe
        points = (
            ("screw speed wanted", "speed_ratio", recipe.screw_speed_rpm, "rpm"),
            ("rate wanted", "rate_ratio", recipe.rate_kg_h, "kg/h"),
        )
        evidence = tuple(
            Evidence(what, facts[name] * target, unit, target)
            for what, name, target, unit in points
            if target and abs(facts[name] - 1) > OFF_POINT_SHARE
        )
        return "medium" if level > 1 else "low", says, evidence

    @staticmethod
    def _causes(role: str, over: bool, facts: dict[str, float]) -> tuple[Cause | str, ...]:
        """The likeliest first, by what the other channels do."""
        if role == "melt_pressure":
            return pressure_causes(over, facts)
        if role in LOADS:
            return load_causes(over, facts)
        return OTHER_CAUSES.get(role, ("process changed", "sensor or its wiring"))


@functools.lru_cache(maxsize=256)
def _rows_of(subjects: tuple[str, ...], roles: tuple[str, ...]) -> tuple[int, ...]:
    """Rows of the subjects of some roles: asked for in every 10 s cell several times."""
    return tuple(row for row, key in enumerate(subjects) if split_key(key)[0] in roles)


def _among_all(rows: Floats, places: np.ndarray, count: int) -> Floats:
    """Rows of some subjects in their places among those of all, NaN elsewhere; what is one for all stays as it is."""
    if rows.ndim == 1:
        return rows
    out = np.full((count, rows.shape[1]), np.nan)
    out[places] = rows
    return out
