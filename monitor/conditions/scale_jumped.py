"""A feeder's scale jumped: its rate left its set-point for a minute and came back, and the load went the other way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import recent_level
from monitor.conditions import another_melt, feeder_signals, right_again, scale_jump_slow, usual_jumps, wall_moved
from monitor.conditions.feeder_signals import FeederRule
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, last_known, trailing_extremes, trailing_greatest
from monitor.levels import rule
from monitor.physics.composition import total_rate_kg_h
from monitor.quantities.windows import window_mean, window_start
from monitor.records import Cause, Evidence
from monitor.view import CoarseView

SHORT_S, MINUTE_S, LOOKS_BACK_S = 30.0, 60.0, 240.0
BACK_S = 50.0
"""A rate that has been back for so long is no hand on the scale that is about to be taken off."""

BEFORE_S, USUAL_S = 300.0, 900.0
"""The load before is that of the two minutes that ended so long ago, ahead of the jump and of what it does, and that of
a quarter of an hour: one that only goes back to what it was has not stepped."""

TRIMMED_SHARE = 0.005
"""A set-point of any feeder, or the sum of all, that moved by more in these minutes was trimmed: load follows it."""

SAME_SHARE = 0.01
"""A rate, of the feeder or of all, that settles further from where it was before was set anew, told or not."""

SURE_SIGMAS = 4.0
ONE_WAY = 0.5
"""What swings back by more than this part of the jump was a loop that hunts, or a hand on the scale."""

LEAST_OF_JUMP, MOST_OF_JUMP = 0.4, 4.0
"""Load against the jump times the feeder's share: a loop corrects a part of the jump before thirty seconds are over, so
that the jump that is seen is the smaller one. Common practice, no source."""

WALLS = 2.0
"""So many times what the zones' own movement in the last half hour may have done to it, the load has to have moved."""

WAYS = 3
"""By a minute of torque, by minutes of torque, by minutes of pressure."""

TOLD = ("jump", "torque", "pressure", "by_pressure", "melt", "again")
"""What is told of a jump, as it was when it was seen."""

FORGOTTEN_SHARE = 0.4
"""Less than this of the step left: the load is back."""


@dataclass(frozen=True)
class ScaleJumped(FeederRule):
    """A scale that begins to lie is put right by its own controller, and the screws get the difference.

    An operator would say: "the feeder hiccuped, and the torque has been higher since". From one moment on a load cell
    shows too little of the loss (a hopper that leans on something, a slide that passes material, a changed span): the
    rate shown dips, the controller brings it back by feeding more, and net torque stays up by that much; shown too
    much, the other way. So, without any drive signal: the mean of 30 s was `jump` and four of its scatters off its
    usual place within the last four minutes, on this feeder furthest, further than it goes by itself within an hour,
    and not half as far the other way; the rate is back on set; net torque has stepped since, the way more or less of
    this ingredient moves it, by `torque_moved` and four of its scatters, against the quarter of an hour before as well,
    between 0.4 and 4 times what the jump is of all that is fed, and stays for minutes; pressure not the other way. It
    lasts until the load is back where it was. Where the load had been there within hours and stepped away from it
    unnoticed, the scale is likelier right again: said as that, not for long and not urgent. Look-alikes: feed that
    really dips (load goes with the rate), a hand on the scale or a catch sample (the load comes back, or the rate
    swings to both sides), a refill or a rate held until minutes before, the same untold (its rate comes back as far
    after each), a trimmed rate, zones that cool, heat or were set anew (their part in the load is asked for twice
    over), a new set-point or speed (not judged; an open finding is then given up after ten minutes), another lot (no
    jump; or with one, but the melt gets colder as the load falls, hotter as it rises: left to material_changed).
    Missing readings start nothing. Memory: half an
    hour of running totals and of zones, an hour of scatter and of means, four of load. Common practice, no source.
    """

    jump: float = setting(0.025, 0.01, 0.3, "of the set rate, mean of 30 s")
    on_set: float = setting(0.02, 0.005, 0.1, "of the set rate, means of 30 s, where it is back")
    torque_moved: float = setting(0.03, 0.01, 0.3, "in ln net torque")
    on_s: float = setting(120, 10, 600, "s")
    off_s: float = setting(300, 30, 3600, "s")

    name: ClassVar[str] = "scale_jumped"
    title: ClassVar[str] = "feeder scale jumped"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "torque|motor_current|drive_power")
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "feeder_setpoint", "feeder_refill|feeder_weight", "melt_pressure", "melt_temperature",
    )  # fmt: skip
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "total_setpoint", "refilling")
    by_minutes: ClassVar[bool] = True

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders whose ingredient moves torque, where the load of the line is logged."""
        return feeder_signals.moving_torque(feeder_signals.feeders_with(ctx, self.needs), ctx)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """A change of speed or rate leaves nothing to compare with: given up after ten minutes."""
        return Timing(self.on_s, self.off_s, 600.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count, machine = len(subjects), 2
        back = ctx.cells(LOOKS_BACK_S) - 1
        return {
            "short": window_start(count, ctx.cells(SHORT_S)),
            "scatter": feeder_signals.scatter_start(subjects, ctx, SHORT_S),
            "peaks": blank(count, back),
            "furthest": blank(count, back),
            "asked": blank(count + 1, ctx.cells(BEFORE_S + 2 * MINUTE_S) - 1),
            "lately": blank(count, ctx.cells(BACK_S - SHORT_S)),
            "now": recent_level.start(machine, ctx.cells(MINUTE_S), 0),
            "before": recent_level.start(machine, ctx.cells(2 * MINUTE_S), ctx.cells(BEFORE_S)),
            "usual": recent_level.start(machine, ctx.cells(USUAL_S), ctx.cells(BEFORE_S)),
            "rate_now": recent_level.start(count, ctx.cells(MINUTE_S), 0),
            "rate_before": recent_level.start(count, ctx.cells(2 * MINUTE_S), ctx.cells(BEFORE_S)),
            "load_scatter": feeder_signals.scatter_start(("load",), ctx, MINUTE_S),
            "melt": another_melt.start(ctx, MINUTE_S, 2 * MINUTE_S, BEFORE_S),
            "slow": scale_jump_slow.start(count, ctx),
            "usual_jumps": usual_jumps.start(count, ctx),
            "walls": wall_moved.start(ctx),
            "hours": right_again.start(ctx),
            "again": blank(count, ctx.cells(right_again.TOLD_S) - 1),
            "lasted": blank(count, ctx.cells(2 * right_again.TOLD_S) - 1),
            "told": np.full(len(TOLD) * count, np.nan),
            "on": np.zeros(WAYS * count, bool),
            "rose": np.zeros(WAYS * count, bool),
            "was": np.full(WAYS * count, np.nan),
            "step": np.full(WAYS * count, np.nan),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        wanted = feeder_signals.wanted_rates(view, subjects, ctx)
        used, busy = feeder_signals.in_use(view, wanted), feeder_signals.refilling(view, subjects)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.where(used & ~busy, view.rows("feeder_rate", subjects) / wanted - 1, np.nan)
            share = wanted / view.quantity("total_setpoint")
        short, short_state = window_mean(state["short"], off, ctx.cells(SHORT_S), ctx.cells(SHORT_S / 2))
        scatter, scatter_state = feeder_signals.minute_scatter(state["scatter"], short, ctx)
        low, high, peaks = trailing_extremes(state["peaks"], short)
        lowest, highest, lately = trailing_extremes(state["lately"], short)
        machine = np.array([view.quantity("net_torque"), feeder_signals.highest_pressure(view, ctx)])
        with np.errstate(invalid="ignore", divide="ignore"):
            logs = np.log(np.where(machine > 0, machine, np.nan))
        now_state, now = recent_level.advance(state["now"], logs)
        before_state, before = recent_level.advance(state["before"], logs)
        usual_state, usual = recent_level.advance(state["usual"], logs)
        melt_c, melt_state = another_melt.step_c(state["melt"], view, ctx)
        rate_now_state, rate_now = recent_level.advance(state["rate_now"], off)
        rate_before_state, rate_before = recent_level.advance(state["rate_before"], off)
        load_scatter, load_state = feeder_signals.minute_scatter(state["load_scatter"], now[:1], ctx)
        calm = view.in_phase("steady") & (view.ages["unchanged"] >= BEFORE_S + 2 * MINUTE_S)
        told = np.concatenate((wanted, view.quantity("total_setpoint")[None, :]))
        least_asked, most_asked, asked = trailing_extremes(state["asked"], told)
        # Against where it was before: without a logged set-point a line may run off its recipe's rate for hours.
        low, high, lowest, highest = (rows - rate_before for rows in (low, high, lowest, highest))
        jump = np.where(-low > high, low, high)
        steady = np.where(view.in_phase("steady"), short, np.nan)
        own, own_state = usual_jumps.reach(state["usual_jumps"], steady)
        news = usual_jumps.further(own, rate_before, jump)
        step = now - before
        walls_state, walls = wall_moved.advance(state["walls"], view, ctx)
        own_part = WALLS * walls
        with np.errstate(invalid="ignore"):
            expected = -jump * share * feeder_signals.torque_effects(subjects, ctx)
            far = (np.abs(jump) >= np.fmax(self.jump, SURE_SIGMAS * scatter)) & (scatter > 0) & news
            trimmed = (most_asked - least_asked > TRIMMED_SHARE * most_asked).any(axis=0)
            other = rate_now - rate_before
            in_all = np.abs(total_rate_kg_h(share * np.nan_to_num(other)))
            trimmed = trimmed | (np.abs(other) > np.fmax(SAME_SHARE, scatter)) | (in_all > SAME_SHARE)
            far &= ~trimmed & (np.fmin(np.abs(low), np.abs(high)) <= ONE_WAY * np.abs(jump))
            clear = np.fmax(np.fmax(self.torque_moved, 4 * load_scatter[0]), own_part)
            at_most, highest_jumps = trailing_greatest(state["furthest"], np.abs(expected))
            by_own_c = scale_jump_slow.by_own_c(at_most, share, feeder_signals.torque_effects(subjects, ctx))
            with_melt = another_melt.goes_with_load(step[0], melt_c, by_own_c)
            follows = self._follows(expected, step, now - usual, with_melt, clear)
            on_set = np.fmax(highest, -lowest) <= np.fmax(self.on_set, 2 * scatter)
            furthest = feeder_signals.leading(np.nan_to_num(np.abs(jump * share)), 1.0)
            rises = calm & used & ~busy & far & follows & on_set & furthest
            gone = ~calm & (view.ages["unchanged"] < BEFORE_S) | ~used
        if self.by_minutes:
            slow, slow_state = scale_jump_slow.judge(
                state["slow"], short, scatter, own, off, logs, own_part, view, ctx, subjects
            )
        else:
            slow, slow_state = scale_jump_slow.not_asked(state["slow"], short, view, ctx, subjects)
        rises &= slow.free
        long_steady = view.in_phase("steady") & (view.ages["unchanged"] >= scale_jump_slow.STEADY_S)
        known_hours, hours_state = right_again.advance(state["hours"], slow.now[0], slow.step[0], long_steady)
        again_fast = rises & right_again.back(known_hours, now[0], step[0])
        again_slow = slow.rises[0] & right_again.back(known_hours, slow.now[0], slow.step[0])
        back = again_fast | again_slow
        lately_back, again_state = trailing_greatest(state["again"], back.astype(float))
        rises &= ~(lately_back > 0)
        held = {name: state[name].copy() for name in ("on", "was", "step", "rose")}
        on, seen_at = np.zeros((WAYS, *rises.shape), bool), np.zeros((WAYS, *rises.shape), bool)
        ways = (
            (rises, gone, now[0], before[0]),
            *((slow.rises[k] & ~(lately_back > 0), slow.gone | ~used, slow.now[k], slow.before[k]) for k in range(2)),
        )
        for k, (begins, ends, level_now, level_before) in enumerate(ways):
            for row in range(len(subjects)):
                place = k * len(subjects) + row
                on[k, row], seen_at[k, row] = _follow(held, place, begins[row], ends[row], level_now, level_before)
        any_on = np.logical_or.reduce(on, axis=0)
        # What was told since it began ends now, and is no news.
        lasted, lasted_state = trailing_greatest(state["lasted"], any_on.astype(float))
        back &= ~(lasted > 0)
        any_on |= (lately_back > 0) & ~(lasted > 0)
        fast = seen_at[0] | again_fast | ~(seen_at[1] | seen_at[2] | again_slow)
        known = (np.isfinite(now[0]) & calm) | (on[2] & np.isfinite(slow.now[1])[None, :])
        jump = np.where(fast, jump, slow.jump)
        seen = np.logical_or.reduce(seen_at, axis=0) | back
        by_pressure = (seen_at[2] & ~seen_at[0] & ~seen_at[1]).astype(float)
        its = [np.where(fast, step[row], slow.step[row]) for row in range(2)]
        found = [jump, *its, by_pressure, np.repeat(melt_c[None, :], len(subjects), axis=0), back.astype(float)]
        told, told_state = last_known(state["told"], np.where(seen, np.array(found), np.nan).reshape(-1, view.n))
        facts: dict[str, Floats] = dict(zip(TOLD, told.reshape(len(TOLD), *jump.shape), strict=True))
        after = {
            "short": short_state, "asked": asked, "lately": lately, "scatter": scatter_state, "peaks": peaks,
            "now": now_state, "before": before_state, "rate_now": rate_now_state, "rate_before": rate_before_state,
            "usual": usual_state, "load_scatter": load_state, "slow": slow_state, "told": told_state,
            "walls": walls_state, "usual_jumps": own_state, "melt": melt_state, "furthest": highest_jumps,
            "hours": hours_state, "again": again_state, "lasted": lasted_state, **held,
        }  # fmt: skip
        score = np.where(seen, np.abs(jump), 0.0)
        return after, Judged(rule(any_on, known, used | any_on), score, facts)

    def _follows(self, expected: Floats, step: Floats, longer: Floats, with_melt: Bools, clear: Floats) -> Bools:
        """Where the load went as more or less of the same moves it, [feeder, n]; and not as another melt does.

        step, longer: of ln torque and ln pressure against two minutes and a quarter of an hour, [2, n]; with_melt: the
        melt went with it as no more or less of the same makes it, [feeder, n].
        """
        moved = [np.sign(expected) * gone for gone in (step[0], longer[0])]
        least = np.fmax(LEAST_OF_JUMP * np.abs(expected), clear)
        most = MOST_OF_JUMP * np.abs(expected) + self.torque_moved
        follows = (np.fmin(*moved) >= least) & (moved[0] <= most) & np.isfinite(longer[0])
        follows &= ~with_melt
        return np.asarray(follows & ~(np.sign(expected) * step[1] < -0.01))

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which way the scale lies and what that feeds."""
        name, less = feeder_signals.label(subject, ctx), facts["jump"] < 0
        moved = 100 * np.expm1(facts["torque"])
        what, by = ("pressure", 100 * np.expm1(facts["pressure"])) if facts["by_pressure"] else ("torque", moved)
        went = f"{what} stepped by {by:+.0f} % with it and stays"
        lies, fed = ("too little", "more") if less else ("too much", "less")
        again = facts["again"] == 1
        seen = f"rate {'dipped' if less else 'rose'} by {100 * abs(facts['jump']):.0f} % for a minute while {what} went"
        until_now = Cause(
            "its scale showed wrong until now: the slide is shut again, what leaned or hung on it is gone",
            (f"{what} is back where it stood hours ago, and had stepped the other way since",),
        )
        return Explanation(
            f"{name}: {seen} {by:+.0f} %, back to where it was hours ago: its scale is right again and "
            f"{'less' if less else 'more'} was fed than shown until now, or {fed} is from now on"
            if again
            else f"{name}: {seen} {by:+.0f} % and stayed: its scale shows {lies}, {fed} is fed than shown",
            3 if again else 2,
            "low" if again else "medium",
            (
                Evidence(f"{name}, furthest from set", 100 * facts["jump"], "%", 0.0, None, f"feeder_rate:{subject}"),
                Evidence("net torque since", moved, "%", 0.0, None, "net_torque"),
                *pressure_evidence(facts),
            ),
            (
                *((until_now,) if again else ()),
                Cause(
                    "hopper hung up or supported, refill slide passing" if less else "something hangs on the scale",
                    (went,),
                    (),
                    ("refill_valve_leaking",) if less else (),
                ),
                Cause("span of the load cell, or its wiring", (went,)),
            ),
            (
                "catch sample against the rate shown",
                "scale free: hoses, covers, nothing leaning, refill slide shut",
                "kilograms fed against kilograms packed",
            ),
            moved={"torque": facts["torque"]},
        )


def pressure_evidence(facts: dict[str, float]) -> tuple[Evidence, ...]:
    """What the pressure did, where one is logged."""
    if not np.isfinite(facts["pressure"]):
        return ()
    return (Evidence("melt pressure since", 100 * np.expm1(facts["pressure"]), "%", 0.0, None, ""),)


def _follow(held: State, row: int, rises: Bools, gone: Bools, now: Floats, before: Floats) -> tuple[Bools, Bools]:
    """Whether a feeder's jump lasts, and where it is seen to happen, both [n]; `held` is taken along.

    A jump to the load that was before the last one is its end and no jump of its own.
    """
    on, own = np.zeros(len(rises), bool), np.zeros(len(rises), bool)
    begins = np.flatnonzero(rises & ~np.concatenate(([held["rose"][row]], rises[:-1]))).tolist()
    for first, last in zip([0, *begins], [*begins, len(rises)], strict=True):
        if first in begins:
            stepped, step = now[first] - before[first], held["step"][row]
            back = abs(now[first] - held["was"][row]) < FORGOTTEN_SHARE * abs(step)
            back |= held["on"][row] and stepped * step < 0 and abs(stepped) > (1 - FORGOTTEN_SHARE) * abs(step)
            held["on"][row] = not back
            if not back:
                held["was"][row], held["step"][row] = before[first], stepped
        if held["on"][row] and last > first:
            with np.errstate(invalid="ignore"):
                left = (now[first:last] - held["was"][row]) / held["step"][row]
                ends = np.flatnonzero((left < FORGOTTEN_SHARE) | gone[first:last])
            until = first + int(ends[0]) if ends.size else last
            on[first:until] = True
            with np.errstate(invalid="ignore"):
                same_way = (now[first:until] - before[first:until]) * held["step"][row] > 0
            own[first:until] = rises[first:until] & same_way
            held["on"][row] = not ends.size
        if gone[first:last].any():
            held["was"][row] = np.nan
    if len(rises):
        held["rose"][row] = rises[-1]
    return on, own
