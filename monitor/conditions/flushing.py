"""Powder runs through a feeder like water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from monitor import cautions
from monitor.conditions import feeder_signals, refill_leap, refill_pulse
from monitor.conditions.feeder_signals import FeederRule, moved
from monitor.conditions.intake_or_path import MOST_PRESSURE_PER_TORQUE
from monitor.conditions.machine_load import gross_torque_pct, load
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.episodes import CAME_BACK
from monitor.exact import Bools, Floats, blank, run_length, trailing_greatest, trailing_least, two_threshold, with_past
from monitor.levels import rule
from monitor.records import Cause, Evidence
from monitor.rule_defaults import COMES_BACK_S
from monitor.view import CoarseView

CELLS = 3
EVERY_CELL = 1.2
LEAST_KG, LEAST_SHARE, NOISES = 0.1, 0.002, 8.0
STILL_DRIVE_PCT = 3.0
BY_DRIVE = 1.3
"""What a turn delivers when powder runs through is more than usual by so much at least; less is the drive's doing. A
usual feed factor is known to some per cent, and goes with the level by a tenth and more (values from memory)."""

MINIMUM_DRIVE = 0.5
"""Part of the drive speed this rate usually asks for."""

LOAD_RISES, PRESSURE_RISES, SIGMAS = 0.10, 0.02, 5.0
"""ln torque and ln pressure over what is usual, and scatters of them, that a refill does not make. As in `flooded`."""

JUST_S, SHARP_S = 20.0, 60.0
"""What a refill lets through arrives within some seconds; the load leaps with it. A load that was high before is of
another making."""

AT_LIMIT = 0.98
"""Of the torque limit. There the drive gives way, speed and feeds are pulled back, and pressure tells nothing."""

NO_DRIVE = 3.0
"""Times the torque limit that no drive gives: a reading that was none. Common practice, no source."""

SWELLS, SWELLS_PRESSURE = 0.03, 0.1
"""ln torque and ln pressure of a melt that gets more filler: it is thicker, the pressure goes further than the load. A
screen or a die that shuts looks the same until the refill is over. Common practice, no source."""


SWINGS_S = 240.0
"""A load that was as high in these minutes before swings anyway, refill or not."""

LIMITED_S = 30.0
"""A drive that has given way is below its limit again at once; what drove it there is said all the same."""

WOUND_S, SHORT_SHARE = 300.0, 0.5
"""So long after its drive ran so far above what its rate asks for, or where no drive is logged after it gave less than
this of what is wanted, a feeder comes down from where a shortage had driven it: what it gives too much is no powder
that runs by itself. Common practice, no source."""

COMES_DOWN_S = 180.0
"""A reported rate, a mean over half a minute and more, has come down behind its set-point after so long."""

STARVED_LN = 0.05
"""ln torque that screws were short of within the minute before: what comes then had stood in the throat, or has been
missing. As in `flooded`."""

SAME_SPEED = 0.02
SHARP_SHARE = 0.6
"""Part of the rise of the load that came since then at least."""


@dataclass(frozen=True)
class Flushing(FeederRule):
    """Aerated powder runs through a feeder, mostly during refill hold, when the reported rate is frozen on set.

    An operator would say: "the powder shoots through". One of six: within five minutes of a refill the weight falls
    steeply, by more than 1.5 times the set rate over 30 s and in each of its cells (the rate shown is held then and
    means nothing); the weight falls so through a feeder whose drive stands; back in gravimetric, the rate is far above
    set with the drive at its minimum; while its refill goes on and no other feeder is refilled the load leaps and the
    pressure with it, but less, at the same speed, all feeders on set, or it leaps to the limit of the drive; or both
    swell, the load first, the pressure further than the load as with a melt that gets more filler, and go back with the
    end of the refill (told then, or, where only a rate that stands marks the refill, the second time; where they did so
    at a refill before, as they come); or after one refill and the next a rate that was held shows half as much again
    for some seconds and the weight falls as steeply, the drive as it was. A rate that stands on its set-point to the
    digit marks a refill where nothing else does. Torque and pressure rise with it where the ingredient raises them.
    Look-alikes: a refill itself (weight goes up), a hopper emptied by hand (no refill before it), a hand lifted off the
    scale (one leap, not a fall over 30 s), a controller that comes down from where a bridge drove it (its drive turns
    as fast as the weight falls, or did within five minutes: said as off its set-point), what had stood in a throat or
    is made up for (the load was short just before), a scale that shakes (its own noise is the bar), an overshoot after
    a refill (8 %, not half as much again), a load that was high or swung before the refill, a die or screen that shuts
    meanwhile (the pressure goes further than the load, and before it, and stays). Missing readings neither start nor
    end it. Memory: 4 cells of weight and ten minutes of rate a feeder, five minutes of load. Common practice, no
    source.
    """

    times_set: float = setting(1.5, 1.1, 10, "times the set rate, by weight")
    rate_above: float = setting(1.2, 1.05, 5, "times the set rate, as reported")
    after_refill_s: float = setting(300, 30, 1800, "s")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "flushing"
    title: ClassVar[str] = "powder flushing through a feeder"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate", "feeder_weight|feeder_drive|feeder_setpoint|melt_pressure")
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "feeder_weight",
        "feeder_drive",
        "feeder_refill",
        "torque|motor_current",
        "melt_pressure",
    )
    again_s: ClassVar[float] = COMES_BACK_S
    quantities: ClassVar[tuple[str, ...]] = (
        "refilling",
        "weight_noise",
        "usual_feed_factor",
        "net_torque",
        "total_feed",
        "total_setpoint",
    )

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders of which more than a rate is logged; all where load and pressure may bear witness."""
        witness = ctx.has("melt_pressure") and any(ctx.has(role) for role in ("torque", "motor_current", "drive_power"))
        more = () if witness else ("feeder_weight|feeder_drive|feeder_setpoint",)
        return feeder_signals.feeders_with(ctx, ("feeder_rate", *more))

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        count = len(subjects)
        return {
            "weight": blank(count, CELLS),
            "on": np.zeros(count, bool),
            "since_refill": np.full(count, 10**6, np.int64),
            "load": blank(3, ctx.cells(SHARP_S) - 1),
            "late": blank(1, ctx.cells(SHARP_S)),
            "before": blank(1, ctx.cells(SWINGS_S) - 1),
            "rate": blank(count, 1),
            "since_held": np.full(count, 10**6, np.int64),
            "steady": blank(1, ctx.cells(JUST_S + 10)),
            "limited": blank(count, ctx.cells(LIMITED_S) - 1),
            "pulse": refill_pulse.start(count, ctx),
            "wound": blank(count, ctx.cells(WOUND_S) - 1),
            "asked": blank(count, ctx.cells(COMES_DOWN_S) - 1),
            "leap": refill_leap.start(count, ctx),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a feeder."""
        rate, wanted = view.rows("feeder_rate", subjects), feeder_signals.wanted_rates(view, subjects, ctx)
        drive, weight = view.rows("feeder_drive", subjects), view.rows("feeder_weight", subjects)
        usual = feeder_signals.rows_of(view, "usual_feed_factor", subjects)
        used, busy = feeder_signals.in_use(view, wanted), feeder_signals.refilling(view, subjects)
        since, since_state = run_length(state["since_refill"], ~busy)
        noise = feeder_signals.rows_of(view, "weight_noise", subjects)
        weights, past = with_past(state["weight"], weight)
        fall = weights[:, :-1] - weights[:, 1:]
        n, fed = view.n, wanted * (ctx.step_s / 3600)
        with np.errstate(invalid="ignore", divide="ignore"):
            own = np.fmax(np.fmax(LEAST_KG, LEAST_SHARE * weight), NOISES * np.nan_to_num(noise))
            steep = weights[:, :n] - weight > np.fmax(self.times_set * CELLS * fed, CELLS * fed + own)
            for offset in range(CELLS):
                steep &= fall[:, offset : offset + n] > EVERY_CELL * fed
            steep &= ~(drive * usual * BY_DRIVE * CELLS * (ctx.step_s / 3600) >= weights[:, :n] - weight)
            lately = since <= ctx.cells(self.after_refill_s)
            minimum = drive <= np.fmax(MINIMUM_DRIVE * wanted / usual, STILL_DRIVE_PCT)
            # A reported rate is a mean over some time: it comes down behind a set-point that is turned down.
            asked, asked_state = trailing_greatest(state["asked"], wanted)
            above = (rate >= self.rate_above * asked) & minimum & ~busy
            least = np.fmax(LEAST_KG, LEAST_SHARE * weight)
            again, leap = refill_leap.again(state["leap"], fall[:, CELLS - 1 :], fed, least, rate / asked, since, ctx)
            again &= ~(drive * usual > BY_DRIVE * asked) & ~above
            rises = used & (again | (steep & (lately | (drive <= STILL_DRIVE_PCT))) | above)
            back = (rate <= (1 + 0.5 * (self.rate_above - 1)) * wanted) | ~minimum
        with np.errstate(invalid="ignore", divide="ignore"):
            by_drive = np.where(usual > 0, drive * usual / wanted, np.nan)
            wound = np.where(np.isnan(by_drive), rate < SHORT_SHARE * wanted, by_drive >= BY_DRIVE)
        wound, wound_state = trailing_greatest(state["wound"], np.where(wanted > 0, wound, 0.0))
        leaps, reached, pulse, kept = self._load_leaps(state, wanted, wound > 0, subjects, view, ctx)
        leaps |= pulse[0]
        limited = np.isfinite(reached)
        rises |= leaps | limited
        used |= limited
        on, on_state = two_threshold(state["on"], rises, (~steep & (back | busy) & ~rises) | ~used)
        torque, _, pressure, _ = feeder_signals.machine(view, ctx)
        flow = (weights[:, :n] - weight) / (CELLS * ctx.step_s) * 3600
        facts = {
            "rate": rate,
            "wanted": wanted,
            "flow": np.where(steep, flow, np.where(above | again, rate, np.nan)),
            "again": again.astype(float),
            "by_weight": steep.astype(float),
            "by_load": ((leaps | limited) & ~steep & ~above).astype(float),
            "limited": limited.astype(float),
            "gross": reached,
            "drive": drive,
            "usual_drive": wanted / np.where(usual > 0, usual, np.nan),
            "torque": np.where(pulse[0], pulse[1], feeder_signals.by_cell(torque, subjects)),
            "pressure": np.where(pulse[0], pulse[2], feeder_signals.by_cell(pressure, subjects)),
            "pulse": pulse[0].astype(float),
            "since_refill_s": since * ctx.step_s,
        }
        known = np.isfinite(weight) | (np.isfinite(rate) & np.isfinite(drive)) | leaps | limited
        known |= np.isfinite(rate) & np.isfinite(view.quantity("net_torque"))
        after = {
            "weight": past,
            "on": on_state,
            "since_refill": since_state,
            "wound": wound_state,
            "asked": asked_state,
            "leap": leap,
            **kept,
        }
        with np.errstate(invalid="ignore", divide="ignore"):
            return after, Judged(rule(on, known, used), facts["flow"] / wanted, facts)

    @staticmethod
    def _load_leaps(
        state: State, wanted: Floats, wound: Bools, subjects: tuple[str, ...], view: CoarseView, ctx: Context
    ) -> tuple[Bools, Floats, tuple[Bools, Floats, Floats], State]:
        """Whether the screws get more than the feeders say while this feeder alone is refilled, and to how much the
        load has just leapt where that is the drive's limit, percent, else NaN, and what `refill_pulse` tells, [feeder,
        n] each."""
        found, gross = load(view, ctx), gross_torque_pct(view, ctx)
        kept: State = {}
        still, kept["rate"] = feeder_signals.held_on_set(
            state["rate"], view.rows("feeder_rate", subjects), view.rows("feeder_setpoint", subjects)
        )
        stands, kept["pulse"] = refill_pulse.held(state["pulse"], view.rows("feeder_rate", subjects), wanted, ctx)
        marked = np.isin(subjects, feeder_signals.feeders_with(ctx, ("feeder_refill|feeder_weight",)))[:, None]
        since, kept["since_held"] = run_length(
            state["since_held"], ~np.where(marked, feeder_signals.refilling(view, subjects), still | stands)
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            both = np.array([found.torque, found.pressure, np.log(np.where(gross > 0, gross, np.nan))])
        low, kept["load"] = trailing_least(state["load"], both)
        late, kept["late"] = with_past(state["late"], both[2:])
        highest, kept["before"] = trailing_greatest(state["before"], late[:, : view.n])
        lately = (wanted > 0) & (since <= ctx.cells(JUST_S))
        with np.errstate(invalid="ignore"):
            short = low[0] <= -np.fmax(STARVED_LN * found.wider, SIGMAS * found.torque_scatter)
        alone = lately & (np.count_nonzero(lately, axis=0) == 1) & ~wound & ~short[None, :]
        with np.errstate(invalid="ignore"):
            torque = found.torque >= np.fmax(LOAD_RISES * found.wider, SIGMAS * found.torque_scatter)
            pressure = found.pressure >= np.fmax(PRESSURE_RISES, SIGMAS * found.pressure_scatter)
            sharp = both - low >= SHARP_SHARE * np.abs(both)
            same_speed = np.abs(moved(view, "screw_speed", view.get("screw_speed"))[0]) <= SAME_SPEED
            at_limit = (gross >= AT_LIMIT * ctx.line.drive.torque_limit_pct) & (both[2] - low[2] >= LOAD_RISES)
            at_limit &= ~(both[2] - highest[0] < LOAD_RISES) & (gross < NO_DRIVE * ctx.line.drive.torque_limit_pct)
            swells = (found.torque >= np.fmax(SWELLS * found.wider, SIGMAS * found.torque_scatter)) & sharp[0]
            swells &= found.pressure >= np.fmax(SWELLS_PRESSURE, SIGMAS * found.pressure_scatter)
            # A screen or die that shuts raises the pressure further than the load.
            pressure &= sharp[1] & (
                found.pressure <= MOST_PRESSURE_PER_TORQUE / np.fmax(found.wider, 1.0) * found.torque
            )
        more = torque & sharp[0] & (pressure | np.isnan(found.pressure)) & same_speed & found.feeds_on_set
        runs = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= SHARP_S) & ctx.starve_fed
        more &= runs
        swells &= sharp[1] & same_speed & found.feeds_on_set & runs
        steady = np.where(view.in_phase("steady") & (view.ages["unchanged"] >= SHARP_S), 1.0, 0.0)[None, :]
        ran, kept["steady"] = trailing_greatest(state["steady"], steady)
        limited = np.where(alone & (at_limit & (ran[0] > 0) & ctx.starve_fed)[None, :], gross[None, :], np.nan)
        limited, kept["limited"] = trailing_greatest(state["limited"], limited)
        used = feeder_signals.in_use(view, wanted)
        pulse, pulses = refill_pulse.advance(
            {**state["pulse"], **kept["pulse"]}, swells, alone & used, since, marked[:, 0], runs & same_speed,
            (found.torque, found.pressure), ctx,
        )  # fmt: skip
        kept["pulse"] = pulses
        return alone & used & more[None, :], limited, pulse, kept

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How much runs through, how it shows."""
        name = feeder_signals.label(subject, ctx)
        lately = facts["since_refill_s"] <= self.after_refill_s
        seen = []
        if facts["by_weight"]:
            seen.append("weight falls faster than the set rate")
        if lately:
            seen.append("it came with a refill")
        if facts["by_load"]:
            seen.append(
                "load leapt to the limit of the drive while it alone was filled"
                if facts["limited"]
                else "load and pressure leapt while it was filled, all feeders on set"
            )
        if facts["again"]:
            seen.append("its rate leapt and its weight fell as steeply after the refill before, too")
        if facts["pulse"]:
            seen.append("they went back with the end of a refill: no screen and no die does")
        evidence = [Evidence(f"{name} reports", facts["rate"], "kg/h", facts["wanted"], None, self.channel(subject))]
        if facts["flow"] == facts["flow"]:
            evidence.append(
                Evidence("runs through", facts["flow"], "kg/h", facts["wanted"], None, f"feeder_weight:{subject}")
            )
        if facts["drive"] == facts["drive"]:
            evidence.append(
                Evidence("feeder drive", facts["drive"], "%", facts["usual_drive"], None, f"feeder_drive:{subject}")
            )
        evidence += feeder_signals.machine_evidence(facts, ctx)
        leak = Cause("hopper drained or leaking beside the feeder", (), ("it came with a refill",) if lately else ())
        if facts["by_load"]:
            how = f"load up {100 * np.expm1(facts['torque']):.0f} % while it is refilled, all feeders on set"
            if facts["limited"]:
                how = f"load leaps to {facts['gross']:.0f} % with its refill"
        elif facts["flow"] == facts["flow"]:
            how = f"about {facts['flow']:.0f} kg/h at {facts['wanted']:.1f} set"
        else:
            how = f"{facts['rate']:.0f} kg/h reported at {facts['wanted']:.1f} set"
        if (times := facts.get(CAME_BACK)) is not None:
            how += f"; it came back {times:.0f} {'time' if times == 1 else 'times'}"
        return Explanation(
            f"{name}: powder runs through, {how}",
            2,
            "high" if lately and not facts["by_load"] and not facts["again"] else "medium",
            tuple(evidence),
            (
                Cause("powder aerated by the refill: flushing", tuple(seen)),
                Cause("refilled too fast, from too high, or hopper run too low before"),
                leak,
                *((Cause("its refill hold ends before the scale is at rest"),) if facts["again"] else ()),
            ),
            ("refill: slower, in smaller portions, vented", "flow stopper or smaller outlet", "product of this time"),
            cautions.MOVING,
        )
