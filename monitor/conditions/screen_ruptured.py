"""The screen has let go: pressure steps below what a clean one gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, fixed_base, onset, pressure_path, recent_level
from monitor.conditions import screen_let_go, wall_off
from monitor.conditions.screen_blinding import creep_rows
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import last_known, run_length, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

SPIKE, SPIKE_S, AFTER_SPIKE_S = math.log(1.12), 120.0, 600.0
"""Rise within so many seconds, so lately before a fall, that shows a screen changer at work: half the area shut is +27
to 41 %. A screen that fills rises as much in half an hour, and may tear."""

MORE_LOAD, MORE_LOAD_SHARE = 0.06, 0.35
"""A torn screen takes back pressure and a little torque away, or lets a flood-fed screw pump more: torque that rose by
more than the greater of this and this share of the fall, in logarithms, is another matter, as a melt that grows hot
and thin by its own work. Common practice, no source."""

FEED_FAILS = (
    "side_feeder_backing_up", "rate_not_weight", "feed_factor_moved", "feeder_weight_still", "actual_is_setpoint",
)  # fmt: skip
"""Findings that bear witness for an ingredient that does not come although its rate says so."""

LEAVES = 0.25
"""Of the clean base: a torn screen leaves the pressure of the die. Less of it, in any reading, is melt that leaves
elsewhere or a gauge that is dead. Common practice, no source."""

MOST_OF_A_SCREEN = 0.5
"""Of the pressure ahead of it: more than that no clean screen takes, and a torn one gives no more back. Common
practice, no source."""

NOISES = 3.0
"""The step is larger than so many times the scatter of the reading."""

WALL_S = 300.0
"""What a wall has gained since so long before the step is what it may have done: one that stands makes no step."""

LESS_LOAD = -0.04
"""A leak behind the screws takes no load off them worth the name (logarithm). Common practice, no source."""

SETTLED_S = 300.0
"""Unchanged for so long before a fall is taken for a screen without a base."""

NO_LOAD = -5.0
"""Stands for the logarithm of a torque that has gone to nothing."""


@dataclass(frozen=True)
class ScreenRuptured(RuleDefaults):
    """Pressure ahead of the screen steps below the clean base, or the screen's drop is lost, within seconds.

    An operator would say: "pressure dropped and there is dirt in the strands". Within half a minute pressure, and
    pressure corrected for rate and melt temperature, falls by `step_pct` and ends `below_pct` under the base, which
    is the median of the first quarter hour of steady running after a stop; net torque falls less than half as much,
    and it stays so. The step is most of the fall, and clear of the scatter. Without a base yet a fall by a fifth will
    do; with a pressure behind the screen a drop over it that falls clearly below the clean one, or by most of itself.
    A fall that takes its time (`screen_let_go`) is no screen: an ingredient that fails or another melt is smeared over
    the residence time. Look-alikes: a screen change (pressure goes back to the base and not below it; with a bolt or
    slide changer it first rises by 12 % and more: silent; after a stop: a new base), loss of feed (torque falls first
    and more; where pressure behind the screen is logged, that falls with it), burst disc or leak (to nearly zero), a
    new lot (a small shift, slowly), rate change, a die or adapter that has just become hotter (it takes pressure by
    itself: its finding explains this one). Where the log begins with a used screen, a change without any rise looks
    the same: said as a cause; so does a leak that leaves some pressure, which is named first where more is gone than a
    screen takes, or the pressure behind it has gone too. Missing readings do not start it. Memory: a base, 4 min of a
    pressure, 6 min of the walls. Numbers are common practice, no source.
    """

    step_pct: float = setting(6, 2, 50, "% within half a minute")
    below_pct: float = setting(8, 2, 60, "% below the clean base")
    on_s: float = setting(120, 30, 1800, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "screen_ruptured"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "screen torn or blown through"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("melt_temperature", "torque|motor_current", "feeder_rate|line_rate")
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "net_torque")

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure ahead of the screen."""
        return tuple(pressure_path.groups(ctx, pressure_path.ahead_of_screen(ctx)))

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No base, nothing recent."""
        k = len(subjects)
        return {
            "base": fixed_base.start(5 * k + 1),
            "before": recent_level.start(3 * k + 1, ctx.cells(60), ctx.cells(40)),
            "now": recent_level.start(3 * k + 1, ctx.cells(30), 0),
            "older": recent_level.start(3 * k, ctx.cells(60), ctx.cells(SPIKE_S)),
            "walls": recent_level.start(len(wall_off.bodies(ctx)), ctx.cells(60), ctx.cells(WALL_S)),
            "then": np.full(len(wall_off.bodies(ctx)), np.nan),
            "calm": onset.start(k),
            "idle": onset.start(k),
            "on": np.zeros(k, bool),
            "go": screen_let_go.start(k, ctx),
            "went": np.zeros(k, bool),
            "quiet": onset.start(k),
            "from": np.full(k, np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a pressure."""
        k = len(subjects)
        of = pressure_path.groups(ctx, pressure_path.ahead_of_screen(ctx))
        bar = pressure_path.pressures(view, of)
        rows = np.array([creep_rows(view, one, one, 0.35, 20.0, ctx) for one in bar]).reshape(k, 5, view.n)
        torque = view.quantity("net_torque")
        with np.errstate(invalid="ignore", divide="ignore"):
            load = np.where(torque <= 0, NO_LOAD, rows[:, 3])
            plain = np.log(np.where(bar > 0, bar, np.nan))
        behind_ln = self._behind(view, ctx)
        both = np.concatenate((rows[:, 0], load, plain, behind_ln), axis=0)
        drop = bar - np.exp(behind_ln)
        calm, forget = fixed_base.long_steady(view, 300.0), view.ages["still"] > 0
        base_state, base = fixed_base.advance(
            state["base"], np.concatenate((both, bar, drop), axis=0), calm, forget, ctx.cells(900)
        )
        before_state, before = recent_level.advance(state["before"], both)
        now_state, now = recent_level.advance(state["now"], both)
        older_state, older = recent_level.advance(state["older"], both[: 3 * k])
        walls = view.rows("zone_temperature", wall_off.bodies(ctx))
        walls_state, walls_ago = recent_level.advance(state["walls"], walls)
        with np.errstate(invalid="ignore"):
            rises = both[:k] > older[:k] + SPIKE
            since_spike, calm_state = run_length(state["calm"], ~rises)
            # What a start does to the pressure is no changer at work.
            since_work, idle_state = run_length(state["idle"], ~(rises & (view.ages["unchanged"] >= SETTLED_S)))
        step, below = now[:k] - before[:k], now[:k] - base[:k]
        load_below = now[k : 2 * k] - base[k : 2 * k]
        plain_step = now[2 * k : 3 * k] - before[2 * k : 3 * k]
        # Less flow takes the pressure behind the screen with it, a torn screen leaves it. Where no load is logged that
        # may be a feed that failed; with the load as it was, melt leaks out ahead of the die.
        behind_step, behind = now[3 * k :] - before[3 * k :], now[3 * k :] - base[3 * k : 3 * k + 1]
        calm_here = view.in_phase("steady") & (view.ages["unchanged"] >= 120.0)
        load_step = now[k : 2 * k] - before[k : 2 * k]
        least = math.log(1 - self.step_pct / 100)
        base_bar = base[3 * k + 1 : 4 * k + 1]
        # A load that went before the pressure did is in the mean before already.
        led = np.fmin(load_step, now[k : 2 * k] - older[k : 2 * k])
        whole = now[2 * k : 3 * k] - older[2 * k :]
        go_state, go = screen_let_go.advance(
            state["go"], plain, (plain_step, whole, led, behind_step), drop, base[4 * k + 1 :], least
        )
        noise = np.array([pressure_path.scatter_share(view, one) for one in of]).reshape(k, view.n)
        with np.errstate(invalid="ignore"):
            falls = (step <= least) & ~go.smeared & (below <= math.log(1 - self.below_pct / 100))
            falls &= (
                (plain_step <= 0.7 * step)
                & (step <= screen_let_go.MOST_OF_IT * below)
                & (plain_step <= -NOISES * noise)
                & ~((behind_step <= 0.6 * plain_step) & np.isnan(load_below))
                & ~(load_below <= 0.5 * below)
                & ~(load_step >= np.maximum(MORE_LOAD, -MORE_LOAD_SHARE * step))
                & (since_spike >= ctx.cells(AFTER_SPIKE_S))
                & (below > math.log(LEAVES))
            )
            back = ~(below < math.log(1 - self.below_pct / 200))
            # What comes back every minute, if for a moment, is a surge: a torn screen stays torn.
            back |= both[:k] - base[:k] > math.log(1 - self.below_pct / 400)
            back |= load_below >= np.maximum(MORE_LOAD, -MORE_LOAD_SHARE * below)
            back |= ~view.in_phase("steady", "settling")
            nothing = bar <= LEAVES * base_bar
            # What is deep, or takes the drop over the screen, shows by the minutes before it alone.
            settled = (view.ages["unchanged"] >= SETTLED_S) & (since_spike >= ctx.cells(AFTER_SPIKE_S))
            goes = (go.deep & np.isnan(base_bar) & settled) | (go.drop & (since_work >= ctx.cells(AFTER_SPIKE_S)))
            goes &= (step <= least) & (plain_step <= 0.7 * step) & (plain_step <= -NOISES * noise)
            goes &= (step > math.log(LEAVES)) & calm_here & ~nothing
            goes &= ~(load_step >= np.maximum(MORE_LOAD, -MORE_LOAD_SHARE * step))
        first, quiet_state = onset.onsets(state["quiet"], goes, ctx.cells(120))
        level_before, from_state = last_known(state["from"], np.where(first, before[:k], np.nan))
        with np.errstate(invalid="ignore"):
            since_then = now[:k] - level_before
            again = ~(since_then < math.log(1 - self.step_pct / 200)) | nothing | go.smeared
            again |= ~view.in_phase("steady", "settling")
        by_base, on_state = two_threshold(state["on"], falls & calm_here & ~nothing, back | nothing | go.smeared)
        went, went_state = two_threshold(state["went"], goes, again & ~goes)
        on = by_base | went
        begins = on & ~np.concatenate(((state["on"] | state["went"])[:, None], on), axis=1)[:, :-1]
        then, then_state = last_known(state["then"], np.where(begins.any(axis=0), walls_ago, np.nan))
        wall_c = np.broadcast_to(np.fmax.reduce(walls - then, axis=0, initial=0.0), below.shape)
        level = rule(on, np.isfinite(both[:k]), calm_here & (np.isfinite(base[:k]) | went))
        alone = went & ~by_base
        below = np.where(alone, since_then, below)
        with np.errstate(invalid="ignore"):
            base_bar = np.where(alone, bar * np.exp(-since_then), base_bar)
        facts = {"below": below, "bar": bar, "base_bar": base_bar, "load_below": load_below, "alone": alone}
        facts |= {"behind": np.broadcast_to(behind, below.shape), "wall_c": wall_c}
        after = {"base": base_state, "before": before_state, "now": now_state, "older": older_state}
        after |= {"walls": walls_state, "then": then_state, "calm": np.minimum(calm_state, onset.LONG), "on": on_state}
        after |= {"go": go_state, "went": went_state, "quiet": quiet_state, "from": from_state}
        after["idle"] = np.minimum(idle_state, onset.LONG)
        return after, Judged(level, -below, facts)

    @staticmethod
    def _behind(view: CoarseView, ctx: Context) -> np.ndarray:
        """Logarithm of the pressure behind the screen, [1, n]; NaN where none is logged."""
        groups = list(pressure_path.groups(ctx, "after_screen").values())[:1]
        bar = pressure_path.pressure(view, groups[0]) if groups else np.full(view.n, np.nan)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.log(np.where(bar > 0, bar, np.nan))[None, :]

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far below."""
        below = -100 * math.expm1(facts["below"])
        with_it = facts["behind"] <= 0.6 * facts["below"]
        # Nobody knows what the die needs; a screen seldom takes as much as that.
        unknown = not pressure_path.groups(ctx, "after_screen")
        most = unknown and facts["below"] <= math.log(1 - MOST_OF_A_SCREEN)
        leaks = with_it or most
        why = "pressure behind the screen fell with it" if with_it else f"{below:.0f} % is more than a screen takes"
        leak = Cause("leak ahead of the die", (why,) if leaks else ())
        missing = ()
        if with_it and facts["load_below"] <= LESS_LOAD and len(ctx.line.feeder) > 1:
            seen = ("pressure behind the screen fell with it", "the load of the screws fell too")
            missing = (Cause("filler or another ingredient missing: less and thinner melt", seen, (), FEED_FAILS),)
        if facts["alone"]:
            said = f"melt pressure {subject} fell by {below:.0f} % within seconds and stays there, at the same rate"
        else:
            said = (
                f"melt pressure {subject} stepped to {below:.0f} % below the clean screen, corrected for rate and melt "
                "temperature"
            )
        came = "a fall within seconds" if facts["alone"] else "a step below the clean base"
        return Explanation(
            said,
            2,
            "medium",
            (
                Evidence(f"pressure {subject}", facts["bar"], "bar", facts["base_bar"], None, self.channel(subject)),
                Evidence("torque against then", 100 * math.expm1(facts["load_below"]), "%", None, None, "net_torque"),
            ),
            (
                *missing,
                *((leak,) if leaks else ()),
                Cause("screen torn, blown through or pushed out of its seat", (came,)),
                Cause("screen changed for a clean or coarser one while running", (), ("no rise before it",)),
                *(() if leaks else (leak,)),
                Cause("thinner melt: another lot, wrong material", (), ("it came within half a minute",)),
            ),
            ("strands and pellets for dirt and gels", "screen changer for a leak", "product since then: set aside"),
            cautions.PRESSURE if leaks else "",
            moved={"pressure": facts["below"], "torque": facts["load_below"], "wall_c": facts["wall_c"]},
        )  # fmt: skip
