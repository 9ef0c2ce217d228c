"""A zone calls for all the heat there is and does not get it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import heater_dead_stands, leaps, lost_together, mirrored_zones, no_current, standing_faults
from monitor.conditions.zone_minutes import others_median
from monitor.conditions.zone_signals import output_limits
from monitor.contract import UNKNOWN, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, run_length, trailing_extremes, trailing_slope, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

ALL = "all zones"
SEVERAL = 3

AMBIENT_C, DEAD_SHARE = 25.0, 0.6
"""Neighbours that couple by 0.1 to 0.3 hold a dead zone at 0.17 to 0.38 of the way from the hall to their own heat
(values from memory); the rest is margin."""

LEAST_PACE_C_MIN = 1.0
"""The other zones heat at least so fast before one that lags stands out; usual are 3 to 10, value from memory."""


RESTS_C_MIN, RESTS_S, LEAST_LIFT_C_PCT = 0.05, 600.0, 0.25
"""A zone at full heat that has come to rest so little under its set-point gets heat: without any it would lie lower by
what its usual output lifts it, 1 C for 1 % at least, of which neighbours and melt carry three quarters at most. Values
from memory."""

LIKELY_LIFT_C_PCT = 1.0
"""No further under than this, for each percent it usually takes, part of its bands may still heat it: by where it lies
the two cannot be told apart."""

NEAR_END_PCT, LEAST_FALL_C_PCT, LEAST_PACE_C_MIN_PCT = 60.0, 0.15, 0.005
"""Of a zone that usually takes so much heat: what it loses at least, for each percent of it, when it gets none: in all
and, to begin with, a minute. One at the end of what its heater gives sags less, and slower, when shear lessens. 1 C for
1 % and 45 min of time constant, with neighbours and melt carrying most of it; values from memory."""

MOST_FALL_C_PCT = 2.5
"""What a zone loses at most, for each percent of heat it usually takes, while melt passes that carries it: one that
lies lower is cooled. Full heat would otherwise lift it by more than 250 C above what melt and neighbours hold: bands
that bring an empty barrel to 300 or 400 C lift one full of cold granules by less. Value from memory."""

HEATS_PCT = 2.0
"""An output that stays above this and below its limit, at set, is a controller that heats."""

DRAWS_SHARE, LEAST_A, TOLD_BY_PCT = 0.8, 0.5, 20.0
"""Part of the most current a heater drew before, for its output, above which it is whole; current and output that tell
at all. Common practice, no source."""


@dataclass(frozen=True)
class HeaterDead:
    """A zone calls for all the heat there is and does not get it.

    An operator would say: "zone 4 has lost its heater". For 5 min the output stands at the zone's own limit (from
    the line file, or flat at 55 % and more) with the temperature more than 2 C under set and not rising: said at
    once where it is 5 C under or falling, else after 15 min, for a heater at its limit under load looks the same.
    With the screw still nothing but the heater carries a zone: a dead one falls by `standing_falls_c_min` (45 min
    of time constant toward 130 C, which its neighbours may hold, are 2 C/min) or does not rise and has less than 0.6
    of the way from the hall to its set-point; one that holds nearer is limited or weak (`heater_partial`), not dead;
    nor is it for that in the first 5 min of the screw's turning, whose window still looks at the stand.
    Heating up, it gains less than `lag_share` of what the other zones at full output gain, for 5 min, 30 C and
    more under set (healthy zones differ threefold at most: all are hot in 30 to 90 min). That, a stop and low rate are
    the only times a zone that shear carries shows its dead heater.
    Where current is logged and it runs, one that draws none for a minute is dead as soon as it cools (`no_current`).
    When three zones and more do it at once, or all of one electrical phase that ask for heat (every third zone where
    the line file names none), it is the supply or a phase, for heaters do not die together: one finding (where others
    of its phase keep part of their heat, they are told with the dead one, `lost_together`); on a standing line it may
    just as well be switched off, and is no more than a look this shift. Look-alikes: heat-up (rising), zone in manual
    (flat below its limit: said as a cause), cooling passing, couple loose or shorted (its jump is told apart), part of
    the bands dead (holds, with a higher duty; heats up at more than half the pace). Once found it
    stands, over stops too, until the zone is seen to be heated (`heater_dead_stands`). Missing readings neither start
    nor end it.
    Memory: 30 cells of output and temperature a zone. Common practice, no source; rates as barrel zones of
    10 to 45 min time constant give them.
    """

    under_c: float = setting(2, 0.5, 30, "C under set")
    rising_c_min: float = setting(0.05, 0, 5, "C/min that counts as rising")
    far_under_c: float = setting(5, 1, 50, "C under set that needs no further proof")
    falling_c_min: float = setting(0.1, 0, 5, "C/min that counts as falling")
    doubtful_s: float = setting(900, 0, 7200, "s of proof where it is neither far under nor falling")
    standing_falls_c_min: float = setting(1.5, 0.1, 10, "C/min, screw still")
    lag_share: float = setting(0.2, 0.02, 0.5, "of the other zones' heat-up rate")
    window_s: float = setting(300, 60, 1800, "s")
    flat_output_pct: float = setting(55, 20, 100, "% output, flat")
    on_s: float = setting(30, 10, 1800, "s")
    off_s: float = setting(1800, 10, 3600, "s")

    name: ClassVar[str] = "heater_dead"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "full heat called for, no heat"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_setpoint", "zone_current")
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Zones with temperature and output, and all of them together."""
        outputs = ctx.subjects_of("zone_output")
        zones = tuple(name for name in ctx.subjects_of("zone_temperature") if name in outputs)
        return (*zones, ALL) if zones else ()

    def channel(self, subject: str) -> str:
        """The output, which stands at its limit."""
        return "zone_output" if subject == ALL else channel_key("zone_output", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the 5 min the rule itself looks back."""
        return Timing(self.on_s, self.off_s, blind_s=standing_faults.UNSEEN_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen."""
        zones, width = max(len(subjects) - 1, 0), ctx.cells(self.window_s) - 1
        return {
            "output": blank(zones, width),
            "temperature": blank(zones, width),
            "proof": np.zeros(zones, np.int64),
            "lag": np.zeros(zones, np.int64),
            "lagging": np.zeros(zones, bool),
            "rest": np.zeros(zones, np.int64),
            "most_a": np.zeros(zones),
            "no_current": no_current.start(zones),
            "leaps": leaps.start(zones),
            "together": lost_together.start(zones),
            "stands": heater_dead_stands.start(zones),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a zone, one for all together."""
        zones = subjects[:-1]
        value, output = view.rows("zone_temperature", zones), view.rows("zone_output", zones)
        wanted = view.rows("zone_setpoint", zones)
        recipe = np.array([np.nan if ctx.recipe is None else ctx.recipe.zones.get(z, np.nan) for z in zones])
        wanted = np.where(np.isnan(wanted), recipe.reshape(-1, 1), wanted)
        low, high, output_past = trailing_extremes(state["output"], output)
        slope, value_past = trailing_slope(state["temperature"], value)
        slope_c_min = slope * 60e9 / view.step
        limit = output_limits(zones, ctx)
        usual = np.array([view.expectation(channel_key("zone_output", zone))[0] for zone in zones])
        usual = usual.reshape(value.shape)
        current = view.rows("zone_current", zones)
        draws, most_a, drew = self._draws(state["most_a"], current, output)
        no_current_state, drawn = no_current.advance(state["no_current"], current, output, drew, ctx)
        with np.errstate(invalid="ignore"):
            # Whose usual output is all there is has never shown what it can hold.
            gave = np.where((usual >= NEAR_END_PCT) & (usual < limit - 2.0), usual, 0.0)
            full = (low >= limit - 2.0) | ((low >= self.flat_output_pct) & (high - low <= 0.5))
            short = full & ~draws & (slope_c_min <= self.rising_c_min)
            under = wanted - value
            loses = under > LEAST_FALL_C_PCT * gave
            # A reading that fell faster than steel is no wall: what came after that tells, and it is not yet in.
            leapt, _, leaps_state = leaps.advance(state["leaps"], -value, leaps.without_heat_c(usual), under < 0.0)
            short &= leapt > ctx.cells(self.window_s) + leaps.MINUTE
            short &= (under > self.under_c) & (loses | (slope_c_min <= -LEAST_PACE_C_MIN_PCT * gave))
            clear = (under > self.far_under_c) | (slope_c_min <= -self.falling_c_min)
            falls = (value - AMBIENT_C < DEAD_SHARE * (wanted - AMBIENT_C)) | (
                slope_c_min <= -self.standing_falls_c_min
            )
            lags, gains = self._lags(full & (value < wanted - 30.0) & view.in_phase("heating"), slope_c_min)
        # Until the window lies behind the start, what it shows is the stand, in which no melt brought its heat.
        still = (view.ages["still"] > 0) | (view.ages["turning"] < self.window_s)
        proof, proof_state = run_length(state["proof"], short)
        run, lag_state = run_length(state["lag"], lags)
        with np.errstate(invalid="ignore"):
            over = ~full | (value > wanted - 30.0) | gains
        with np.errstate(invalid="ignore"):
            rest, rest_state = run_length(state["rest"], full & (np.abs(slope_c_min) <= RESTS_C_MIN))
        lag, lagging = two_threshold(state["lagging"], run >= ctx.cells(300), np.isfinite(slope) & over)
        dead = short & np.where(still, falls, clear | (proof >= ctx.cells(self.doubtful_s)))
        dead |= lag
        past = state["temperature"].shape[1]
        was = np.concatenate((state["temperature"], value), axis=1)[:, past - min(ctx.cells(no_current.FELL_S), past) :]
        empty = no_current.dead(drawn, under, was[:, : view.n] - value, view.ages["still"] == 0, ctx)
        dead, short = dead | empty, short | empty
        known = np.isfinite(slope) & np.isfinite(output) & np.isfinite(wanted)
        with np.errstate(invalid="ignore"):
            driven = (low > HEATS_PCT) & (high < limit - 2.0) & (np.abs(under) <= self.under_c)
            at_set = ~full & (under <= self.under_c)
        asks = full & ~draws & (under > self.under_c)
        signs = heater_dead_stands.Signs(dead, asks, short, draws | gains | driven, at_set, wanted)
        walk = heater_dead_stands.Walk(state["stands"], signs, self.off_s, ctx)
        count = np.count_nonzero(walk.missing(), axis=0)
        supply = count >= min(SEVERAL, max(2, len(zones)))
        phase = np.zeros(view.n, bool)
        for members in lost_together.phases(zones, ctx):
            # A zone that takes no heat shows nothing of a lost one.
            asked = short[members] | (output[members] > no_current.ASKS_PCT)
            phase |= (
                (short[members] | ~asked).all(axis=0)
                & (short[members].sum(axis=0) >= 2)
                & dead[members].any(axis=0)
                & ~short[~members].any(axis=0)
            )
        count = np.where(phase, (short | dead).sum(axis=0), count)
        supply |= phase
        stands_state, stands, supply = walk.with_supply(supply)
        level = rule(dead, known, np.ones(view.n, bool))
        level, shared = heater_dead_stands.levels(level, stands, signs, supply)
        shared = np.where(known.any(axis=0), shared, np.int8(UNKNOWN)).astype(np.int8)
        level = np.concatenate((level, shared)) if zones else np.zeros((0, view.n), np.int8)

        together, lost_with = lost_together.beside(state["together"], under, output, usual, zones, ctx)

        def with_all(rows: np.ndarray) -> np.ndarray:
            return np.concatenate((rows, np.full((1, view.n), np.nan))) if zones else rows

        facts = {
            "value": with_all(value),
            "wanted": with_all(wanted),
            "output": with_all(output),
            "slope": with_all(slope_c_min),
            "count": count.astype(float),
            "phase": phase.astype(float),
            "lags": with_all(lag.astype(float)),
            "empty": with_all(drawn.lately.astype(float)),
            "part_a": with_all(drawn.share),
            "rests": with_all((rest >= ctx.cells(RESTS_S)).astype(float)),
            "usual": with_all(usual),
            "with": with_all(lost_with),
            "standing": (view.ages["still"] > 0).astype(float),
            "running": view.in_phase("steady").astype(float),
            **dict.fromkeys(("hot_c", "hot_at"), with_all(np.full(value.shape, np.nan))),
        }
        if (level > 0).any():
            hot_c, hot_at = mirrored_zones.opposite(value, wanted, output, limit, low=False)
            facts |= {"hot_c": with_all(hot_c), "hot_at": with_all(hot_at)}
        # What rests is told as it rests, and not as it was when it fell.
        told = under + (rest >= ctx.cells(RESTS_S))
        score = np.concatenate((told, count[None, :].astype(float))) if zones else told
        after = {
            "output": output_past,
            "temperature": value_past,
            "proof": proof_state,
            "lag": lag_state,
            "lagging": lagging,
            "rest": rest_state,
            "most_a": most_a,
            "no_current": no_current_state,
            "leaps": leaps_state,
            "together": together,
            "stands": stands_state,
        }
        return after, Judged(level, score, facts)

    @staticmethod
    def _draws(most_before: Floats, current: Floats, output: Floats) -> tuple[Bools, Floats, Floats]:
        """Whether a heater at its output draws what it has drawn before at such output, [zone, n], and the most current
        it drew for its output, A at 100 %, in all [zone] and before each cell [zone, n]."""
        with np.errstate(invalid="ignore", divide="ignore"):
            for_output = np.where(output >= TOLD_BY_PCT, 100.0 * current / output, np.nan)
        most = np.fmax.accumulate(np.concatenate((most_before[:, None], for_output), axis=1), axis=1)
        with np.errstate(invalid="ignore"):
            draws = (for_output >= DRAWS_SHARE * most[:, :-1]) & (most[:, :-1] >= LEAST_A)
        return draws, most[:, -1].copy(), most[:, :-1]

    def _lags(self, full: Bools, slope_c_min: Floats) -> tuple[Bools, Bools]:
        """Zones far under set that hardly gain at full output while the others at full output do, and zones that
        gain half as fast as the others and more, [zone, n] each."""
        if not full.any():
            return full, full
        gains = np.where(full, slope_c_min, np.nan)
        others = others_median(gains)
        lively = others >= LEAST_PACE_C_MIN
        # One other zone may be as weak: that proves nothing.
        several = np.count_nonzero(np.isfinite(gains), axis=0) >= SEVERAL
        return lively & (gains < self.lag_share * others), lively & several & (gains >= 0.5 * others)

    @staticmethod
    def _below_limit(subject: str, facts: dict[str, float], ctx: Context) -> bool:
        """Whether the output stands flat where the line file knows of no limit."""
        return facts["output"] < ctx.line.zone_named(subject).output_limit_pct - 2.0

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """One zone, or the supply."""
        if subject == ALL:
            standing = facts["standing"] > 0
            return Explanation(
                f"{facts['count']:.0f} zones call for heat and get none: "
                + ("they hang on one phase" if facts["phase"] > 0 else "heating supply or a phase")
                + (", or heating is switched off while the line stands" if standing else ""),
                3 if standing else 2,
                "medium" if standing else "high",
                (Evidence("zones that call for heat and do not rise", facts["count"], ""),),
                (
                    *(("heating switched off at its main switch",) if standing else ()),
                    *(("one phase lost",) if facts["phase"] > 0 else ()),
                    "heating supply, main contactor or fuse",
                    *(() if facts["phase"] > 0 else ("one phase lost",)),
                ),
                ("heating supply and fuses", "which zones share a phase"),
                cautions.ELECTRICAL,
            )
        beside = lost_together.named(facts["with"], self.subjects(ctx))
        return Explanation(
            f"zone {subject} calls for {'' if facts['empty'] > 0 else 'full '}heat, "
            f"{facts['wanted'] - facts['value']:.1f} °C under set and "
            + (
                "its heater draws no current"
                if facts["empty"] > 0
                else "the other zones heat up, it does not"
                if facts["lags"] > 0
                else "falling"
                if facts["slope"] <= -self.falling_c_min
                else "not rising"
            )
            + (f"; {' and '.join(beside)} lost heat with it" if beside else ""),
            2,
            "high",
            (
                Evidence(
                    f"zone {subject}",
                    facts["value"],
                    "C",
                    facts["wanted"],
                    None,
                    channel_key("zone_temperature", subject),
                ),
                Evidence("zone output", facts["output"], "%", None, None, self.channel(subject)),
                Evidence("temperature moves", facts["slope"], "C/min"),
            ),
            self._causes(subject, facts, ctx),
            ("heater current of this zone", "fuse and contactor", "couple seated, cooling valve closed"),
            cautions.ELECTRICAL,
            {"off_c": facts["value"] - facts["wanted"], "with": facts["with"]},
        )

    def _causes(self, subject: str, facts: dict[str, float], ctx: Context) -> tuple[Cause, ...]:
        """The zone's own; before them the one that another zone, far too hot without heat, tells of."""
        own = self._own_causes(subject, facts, ctx)
        beside = lost_together.named(facts["with"], self.subjects(ctx))
        if beside:
            left = (
                f"{' and '.join(beside)} left {'its' if len(beside) == 1 else 'their'} set-point in the same minutes",
            )
            own = (Cause("one phase lost, or the fuse or contactor of a group of zones", left), *own)
        if not facts["hot_c"] > 0:
            return own
        hot = self.subjects(ctx)[int(facts["hot_at"])]
        said = f"zone {hot} is {facts['hot_c']:.0f} °C over set without heat"
        far = facts["hot_c"] >= mirrored_zones.FAR_C
        other = Cause(f"couples, or heaters, of this zone and zone {hot} exchanged", (said,), (), ("couples_swapped",))
        return (other, *own) if far else (*own[:1], other, *own[1:])

    def _own_causes(self, subject: str, facts: dict[str, float], ctx: Context) -> tuple[Cause, ...]:
        if facts["empty"] > 0:
            none = ("its heater draws no current",)
            transducer = Cause("current transducer of this zone dead", (), ("the zone cools",))
            return (Cause("heater, fuse or contactor of this zone dead", none), transducer)
        if facts["part_a"] > 0:
            some = (f"it draws {100 * facts['part_a']:.0f} % of the current that is due",)
            bands = Cause("part of the heater bands of this zone dead", some, (), ("heater_partial",))
            return (bands, Cause("heater, fuse or contactor of this zone dead", (), some))
        under = facts["wanted"] - facts["value"]
        cooled = ctx.line.zone_named(subject).cooled
        if cooled and facts["running"] > 0 and under > MOST_FALL_C_PCT * facts["usual"]:
            far = f"{under:.0f} °C under set at full heat, with melt passing: a zone that is not heated lies higher"
            return (
                Cause("cooling valve stuck open", (far,), (), ("cooling_passing",)),
                Cause("heater, fuse or contactor of this zone dead, and its cooling open"),
                Cause("couple loose or pulled back: then the wall is hotter than it reads"),
            )
        holds = facts["rests"] > 0 and under <= LEAST_LIFT_C_PCT * facts["usual"]
        lower = (f"it holds {under:.0f} °C under set at full heat: without any it would lie lower",) if holds else ()
        dead = Cause("heater, fuse or contactor of this zone dead", (), lower)
        manual = Cause("zone in manual: its output stands below its limit")
        valve = Cause("cooling valve stuck open", lower if cooled else (), (), ("cooling_passing",))
        part = Cause("part of the heater bands of this zone dead", lower)
        couple = Cause(
            "couple loose or pulled back: then the wall is hotter than it reads", shown_by=("melt_over_temperature",)
        )
        frozen = Cause(
            "couple or its input frozen: then the wall is hotter than it reads",
            ("its reading does not move at full heat",),
            (),
            ("thermocouple_frozen",),
        )
        by_hand = (manual,) if self._below_limit(subject, facts, ctx) else ()
        if not holds:
            likely = not facts["lags"] > 0 and under <= LIKELY_LIFT_C_PCT * facts["usual"]
            some = (Cause(part.text, (f"no more than {under:.0f} °C under set so far",)),) if likely else ()
            still = (frozen,) if abs(facts["slope"]) <= RESTS_C_MIN else ()
            return (dead, *still, *some, *by_hand, valve, couple)
        rest = (part, frozen, *by_hand, dead, couple)
        return (valve, *rest) if cooled else rest
