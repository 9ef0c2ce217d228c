"""Part of a zone's heater bands is dead: it needs more duty, or heats more slowly, than it used to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import (
    current_for_output,
    current_tells,
    duty_before_stop,
    heat_lacks,
    heat_short,
    heat_up_rates,
    standing_faults,
)
from monitor.conditions import duty_against_reference as reference
from monitor.conditions.heater_dead import ALL, AMBIENT_C, DEAD_SHARE
from monitor.conditions.thermocouple_loose import JUMPY_PCT, LOOK_BACK, needs_more, neighbours_fell
from monitor.conditions.zone_minutes import ALL_OF_IT, Levels, Minutes, ZoneMinutes, left_right, others_median
from monitor.conditions.zone_signals import output_limits, with_cooling, zones_with_temperature
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, last_known
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

MANY_DEAD = 3.0
"""Times its usual heat from which a zone with water on it is likelier cooled than heated by less than a third of its
bands. Common practice, no source."""
BY_DUTY, BY_HEAT_UP, BY_STOP, AT_LIMIT, BY_CURRENT, FOR_OUTPUT, FALLS = 1, 2, 3, 4, 5, 6, 7
"""How it was seen: duty against usual; heat-up rate; duty against before the stop; full output that does not do; less
current than usual under set; less current for its output; a fall in spite of more heat."""

DEAD_BANDS = "part of the heater bands of this zone dead, or a bad connection"
CREEPS_C_MIN = 0.3
"""What climbs faster for 20 min comes back from a fault or a stop: its output is not what it needs. Common practice, no
source."""

AT_SET_C, UNDER_SET_C = 1.5, 3.0
USUAL_MIN, USUAL_AGO_MIN, LEAST_A = 15, 5, 1.0
"""Current is usual over so many minutes at set, so long ago that a fault is not yet in them; less tells nothing. The
usual tolerance of a zone. Common practice, no source."""


@dataclass(frozen=True)
class HeaterPartial(ZoneMinutes):
    """Part of a zone's heater bands is dead, or its connections are bad.

    An operator would say: "zone 3 works harder than it used to". Running: for 30 min its duty is `duty_ratio` and
    `duty_pct` above what it learned to need here, held against the median of the other zones, which mains voltage and
    ambient move alike (mains down 5 % is 11 % more duty everywhere); one of three bands dead is 1.5 times, one of four
    1.33. The zone holds its set-point, or stands or creeps up below it with heat in hand; no neighbour is cold, none
    has fallen (that would be `thermocouple_loose`). Sooner, within some 10 min: it is under set and goes on falling
    though it gets more heat than held it there (`heat_lacks`).
    Heating up at full output, screw still: it heats `slow_share` more slowly than in its own earlier heat-ups at the
    same temperatures, again against the other zones. Since a stop: it needs as much more than before it at the same
    speed, rate and set-points, its neighbours what they needed. Standing: at full output for half an hour it holds
    `weak_under_c` and more under set. Needs a reference, an earlier heat-up or running before a stop in the same log.
    Where current is logged it draws `less_current` less for its output than it did (`current_for_output`). Where
    currents are logged and outputs are not: its heater draws `less_current` less than it did at set while it is
    3 C under and does not rise; a controller that still has its heater calls for more, never for less.
    Look-alikes: mains sag, ambient, load or rate changed, set-points moved, cooling passing (said as a cause), a zone
    that shear heats (duty below 8 %: shows only at heat-up). Missing readings are not judged. Once found it stands
    (`standing_faults`). Where four zones and more need much more, all alike, it is their supply: one finding
    (`heat_short`). Memory: an hour of 10
    signals and the usual rates by 20 C steps a zone. Common practice, no source.
    """

    duty_ratio: float = setting(1.25, 1.05, 3, "of usual duty, other zones taken out")
    duty_pct: float = setting(5, 1, 50, "% output above usual")
    slow_share: float = setting(0.25, 0.1, 0.8, "slower than its own earlier heat-ups")
    weak_under_c: float = setting(10, 3, 100, "C under set at full output, holding, screw still")
    less_current: float = setting(0.2, 0.05, 0.9, "less current for its output, or than at set")
    settling_s: float = setting(2400, 0, 7200, "s after a change of speed, rate or set-point")
    on_s: float = setting(120, 10, 3600, "s")
    off_s: float = setting(600, 10, 3600, "s")

    name: ClassVar[str] = "heater_partial"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "part of the heater bands dead"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output|zone_current")
    sharpened_by: ClassVar[tuple[str, ...]] = ("reference", "zone_current", "mains_voltage", "zone_setpoint")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)
    zone_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_ROWS, "current", "pauses")
    line_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_LINE, "heating", "still_s", "speed", "rate")
    past_minutes: ClassVar[int] = LOOK_BACK + 10
    extra_subjects: ClassVar[tuple[str, ...]] = (ALL,)
    said: ClassVar[tuple[str, ...]] = (
        "value", "wanted", "output", "expected", "ratio", "others", "by", "times", "was", "current", "usual", "count",
        "falls", "draws", "common", "zones",
    )  # fmt: skip

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Zones with a temperature and an output or a heater current."""
        there = {*ctx.subjects_of("zone_output"), *ctx.subjects_of("zone_current")}
        return tuple(name for name in zones_with_temperature(ctx) if name in there)

    def channel(self, subject: str) -> str:
        """The output."""
        return "zone_output" if subject == ALL else channel_key("zone_output", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the 30 min the rule looks back."""
        return Timing(self.on_s, self.off_s, blind_s=standing_faults.UNSEEN_S)

    def begin(self, zones: int, ctx: Context) -> State:
        """No heat-up seen, no reference."""
        loose = np.zeros(zones, bool)
        return {
            **reference.start(zones),
            "rates": heat_up_rates.start(zones),
            "loose": loose,
            "usual": np.full(zones, np.nan),
            "drew": np.full(zones, np.nan),
            "draws": current_tells.start(zones),
            "stop": duty_before_stop.start(zones),
            "standing": standing_faults.start(zones),
        }

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone takes more than usual or before, and the line neither stands nor heats up."""
        heats = (x.line["heating"] > 0).any() or own["rates"]["minutes"].any()
        if heats or (x.line_now("still_s") >= 1800.0).any() or not standing_faults.idle(own["standing"]):
            return None
        if (reference.most_above(x, 30) >= min(self.duty_pct / 1.5, 3.0)).any():
            return None
        stop, since = duty_before_stop.since_stop(own["stop"], x, self.settling_s)
        less, told, usual = self._less_current(own["usual"], x, ctx)
        drew, low, _, _ = current_for_output.advance(own["drew"], x, self.less_current)
        if (since.off >= 0.6 * self.duty_pct).any() or less.any() or low.any():
            return None
        calm = reference.calm_line(x, 30, self.settling_s)
        known = (np.isfinite(x.now("output")) & np.isfinite(x.now("expected"))) | told
        level = rule(np.zeros(known.shape, bool), known, (calm | since.armed)[None, :])
        level = np.concatenate(
            (level, rule(np.zeros((1, x.m), bool), np.logical_or.reduce(known, axis=0, keepdims=True), calm[None, :]))
        )
        loose, draws = np.zeros(len(x.zones), bool), own["draws"]
        if np.isfinite(x.zone["current"]).any():
            draws = current_tells.share(draws, x, reference.duty(own, x, 30, self.settling_s)[1], ctx)[1]
        kept = {
            "draws": draws,
            "rates": own["rates"],
            "loose": loose,
            "stop": stop,
            "standing": own["standing"],
            "usual": usual[:, -1].copy(),
            "drew": drew,
        }
        return {**reference.learned_at(own, x), **kept}, level

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        kept, duty = reference.duty(own, x, 30, self.settling_s)
        value, wanted = x.now("temperature"), x.now("wanted")
        loose, _, _, loose_after = neighbours_fell(x, needs_more(x, duty, self.duty_pct), own["loose"], 1.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            heated = duty.valid & (duty.expected >= reference.LEAST_DUTY_PCT)
            ratio = np.where(heated, duty.mean / duty.expected, np.nan)
            others = others_median(ratio)
            extra = duty.mean - duty.expected * np.fmax(others, 1.0)
            least, most = x.extremes(x.zone["output"], 30)
            more = (ratio / np.fmax(others, 1.0) >= self.duty_ratio) & (extra >= np.fmax(self.duty_pct, duty.slack))
            more &= (least >= 1.05 * duty.expected) & (most - least <= JUMPY_PCT)
            limit = output_limits(x.zones, ctx)
            climbs = x.slope_c_min(x.zone["temperature"], 20)
            weak = (climbs >= -0.1) & (climbs <= CREEPS_C_MIN) & (duty.mean <= limit - 5.0)
            holds = ((value >= wanted - 5.0) | weak) & (value <= wanted + 3.0)
            left, right = left_right(value - wanted)
            cold_beside = (left < -3.0) | (right < -3.0)
            by_duty = more & holds & ~cold_beside & ~loose
        share_a, draws = current_tells.share(own["draws"], x, duty, ctx)
        cooled = with_cooling(x.zones, ctx)
        with np.errstate(invalid="ignore"):
            # Bands that draw what they drew are not dead: where there is water, `cooling_passing` says so.
            whole = (share_a >= current_tells.WHOLE) & cooled
        rates, share, times, full = self._heat_up(own["rates"], x, ctx)
        usual = others_median(np.where(full, share, np.nan))
        with np.errstate(invalid="ignore"):
            by_heat_up = share / np.where(np.isnan(usual), 1.0, usual) <= 1.0 - self.slow_share
            by_heat_up &= full & ~(share > 1.0 - 0.5 * self.slow_share)
        stop, since = duty_before_stop.since_stop(own["stop"], x, self.settling_s)
        by_stop = self._since_stop(since)
        at_limit = self._at_limit(x, ctx)
        less, told, usual_a = self._less_current(own["usual"], x, ctx)
        drew, low, draws_a, drew_a = current_for_output.advance(own["drew"], x, self.less_current)
        common, middle, counted = heat_short.common(duty)
        by_duty = by_duty & ~common
        by_duty, falls = by_duty & ~whole, heat_lacks.lacks(x, duty, limit) & ~whole
        given, pace = heat_lacks.given(x)
        by = np.select(
            [low, by_heat_up, by_duty, by_stop, at_limit, less & duty.calm[None, :], falls],
            [FOR_OUTPUT, BY_HEAT_UP, BY_DUTY, BY_STOP, AT_LIMIT, BY_CURRENT, FALLS],
            0,
        )
        known = np.isfinite(x.now("output")) & (np.isfinite(duty.expected) | np.isfinite(share) | at_limit)
        known |= told | low
        level = rule(by > 0, known, duty.calm[None, :] | full | since.armed[None, :] | at_limit | low)
        facts = {
            "value": value,
            "wanted": wanted,
            "output": np.where(by == FALLS, given, duty.mean),
            "expected": duty.expected,
            "falls": pace,
            "draws": share_a,
            "common": np.broadcast_to(middle, value.shape),
            "zones": np.broadcast_to(counted, value.shape),
            "ratio": np.where(by_heat_up, share, ratio),
            "others": np.where(by_heat_up, usual, others),
            "by": by.astype(float),
            "times": times,
            "was": since.was,
            "current": np.where(low, draws_a, x.mean(x.zone["current"], 2)),
            "usual": np.where(low, drew_a, usual_a),
            "count": np.broadcast_to(np.count_nonzero(by == BY_CURRENT, axis=0).astype(float), value.shape),
        }
        score = np.where(by_heat_up, 1.0 - share, np.where(by_duty, ratio - 1.0, 0.0))
        base = np.where((by == BY_DUTY) | (by == FALLS), duty.expected, np.where(by == BY_STOP, since.was, np.nan))
        usual_here = duty.calm[None, :] & (x.now("set_age_s") >= self.settling_s)
        stood, judged = standing_faults.stand(
            own["standing"], x, Judged(level, score, facts), duty.mean, base, usual_here, (self.on_s, self.off_s)
        )
        after = {
            **kept,
            "rates": rates,
            "loose": loose_after,
            "stop": stop,
            "usual": usual_a[:, -1].copy(),
            "drew": drew,
            "draws": draws,
        }
        together = rule(common[None, :], np.logical_or.reduce(known, axis=0, keepdims=True), duty.calm[None, :])
        level = np.concatenate((judged.level, together))
        score = np.concatenate((judged.score, middle[None, :]))
        # Of all together the last row of each fact is told.
        facts = {name: np.concatenate((part, part[-1:])) for name, part in judged.facts.items()}
        return {**after, "standing": stood}, Judged(level, score, facts)

    def _less_current(self, before: Floats, x: Minutes, ctx: Context) -> tuple[Bools, Bools, Floats]:
        """Zones without an output that fall under set and draw less than they did at set; those of which it can be
        told; what they drew, A. [zone, m] each. before: what they drew, [zone]."""
        without = np.array([zone not in ctx.subjects_of("zone_output") for zone in x.zones], bool)[:, None]
        if not without.any():
            nothing = np.zeros(x.now("current").shape, bool)
            return nothing, nothing, np.full(nothing.shape, np.nan)
        current, value, wanted = x.zone["current"], x.zone["temperature"], x.zone["wanted"]
        rested = (x.line["steady"] >= ALL_OF_IT)[None, :] & (np.abs(value - wanted) <= AT_SET_C)
        at_set = x.held(rested, USUAL_MIN + USUAL_AGO_MIN)
        drew = np.where(at_set, x.mean(x.ago_rows(current, USUAL_AGO_MIN), USUAL_MIN), np.nan)
        usual = last_known(before, drew)[0]
        now = x.mean(current, 2)
        with np.errstate(invalid="ignore"):
            told = without & np.isfinite(now) & (usual >= LEAST_A)
            falls = x.held(value < wanted - UNDER_SET_C, 2) & (x.now("temperature") <= x.ago(value, 3))
            less = told & falls & (now <= (1.0 - self.less_current) * usual)
            less &= x.now("set_age_s") >= self.settling_s
        return less, told, usual

    def _since_stop(self, since: duty_before_stop.SinceStop) -> Bools:
        """Zones that need more than before the stop while their neighbours need what they did, [zone, m]."""
        left, right = left_right(since.own_off)
        with np.errstate(invalid="ignore", divide="ignore"):
            more = (since.own_off >= self.duty_pct) & (since.own_off >= (self.duty_ratio - 1.0) * since.was)
            more &= (since.was >= reference.LEAST_DUTY_PCT) & (since.off >= 0.6 * since.own_off)
            return more & ~(np.abs(left) > 2.0) & ~(np.abs(right) > 2.0) & ~duty_before_stop.answered(since, 1.0)[0]

    def _at_limit(self, x: Minutes, ctx: Context) -> Bools:
        """Zones that hold far under set at full output for half an hour, the screw still, [zone, m]."""
        limit = output_limits(x.zones, ctx)
        least, _ = x.extremes(x.zone["output"], 30)
        with np.errstate(invalid="ignore"):
            holds = np.abs(x.slope_c_min(x.zone["temperature"], 20)) <= 0.1
            under = x.held(x.zone["temperature"] < x.zone["wanted"] - self.weak_under_c, 20)
            under &= x.now("temperature") - AMBIENT_C > DEAD_SHARE * (x.now("wanted") - AMBIENT_C)
            return (least >= limit - 2.0) & holds & under & (x.line_now("still_s") >= 1800.0)

    def _heat_up(self, rates: State, x: Minutes, ctx: Context) -> tuple[State, np.ndarray, np.ndarray, np.ndarray]:
        """The heat-up under way: state, share of usual rates, heat-ups before, zones at full output."""
        limit = output_limits(x.zones, ctx)
        heating = (x.line["heating"] >= ALL_OF_IT) & x.still()
        low, high = x.extremes(x.zone["output"], 6)
        with np.errstate(invalid="ignore"):
            full = (low >= limit - 2.0) | ((low >= 55.0) & (high - low <= 0.5))
        full &= x.held(heating[None, :], 6)
        slope = x.slope_c_min(x.zone["temperature"], 5)
        ended = ~heating[len(heating) - x.m :]
        state, share, times = heat_up_rates.advance(rates, x.now("temperature"), slope, full, ended)
        return state, share, times, full

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """More duty, or a slower heat-up."""
        if subject == ALL:
            return heat_short.explain(facts["common"], facts["zones"])
        ratio, others = facts["ratio"], facts["others"]
        same = ("the other zones are as they were",) if others == others else ()
        bands = Cause(DEAD_BANDS, same)
        here = Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, f"zone_temperature:{subject}")
        if facts["by"] in (BY_CURRENT, FOR_OUTPUT):
            return current_for_output.explain(subject, facts, facts["by"] == FOR_OUTPUT, DEAD_BANDS)
        if facts["by"] == FALLS:
            return heat_lacks.explain(subject, facts, ctx)
        if facts["by"] == BY_HEAT_UP:
            first = facts["times"] < 2
            return Explanation(
                f"zone {subject} heats up at {100 * ratio:.0f} % of its own earlier rate at full output",
                3,
                "low" if first else "medium",
                (
                    Evidence(
                        "heat-up rate", 100 * ratio, "% of its own earlier ones", None, None, self.channel(subject)
                    ),
                    Evidence("the other zones", 100 * others, "% of theirs"),
                    Evidence("earlier heat-ups seen", facts["times"], ""),
                ),
                (
                    bands,
                    Cause("cooling of this zone passes", shown_by=("cooling_passing",)),
                    Cause("couple changed for another type, or loose", shown_by=("wrong_couple_type",)),
                ),
                ("heater current of each band at full output", "terminals and fuses", "cooling valve closed"),
                cautions.ELECTRICAL,
            )
        if facts["by"] == AT_LIMIT:
            return Explanation(
                f"zone {subject} holds {facts['wanted'] - facts['value']:.0f} °C under set at full output: too "
                "little heat",
                3,
                "low",
                (
                    here,
                    Evidence("zone output", facts["output"], "%", None, None, self.channel(subject)),
                ),
                (bands, "output limit of this zone too low for the set-point", "cooling of this zone passes"),
                ("heater current of each band", "output limit in the controller", "cooling valve closed and cold"),
                cautions.ELECTRICAL,
            )
        if facts["by"] == BY_STOP:
            return Explanation(
                f"since the stop zone {subject} needs {facts['output']:.0f} % where it took {facts['was']:.0f} %",
                3,
                "medium",
                (
                    Evidence(
                        "zone output (expected: before the stop)",
                        facts["output"],
                        "%",
                        facts["was"],
                        None,
                        self.channel(subject),
                    ),
                    here,
                ),
                (
                    Cause(bands.text, ("its neighbours need what they needed before",)),
                    Cause("cooling of this zone passes", shown_by=("cooling_passing",)),
                    "cover or insulation of this zone not put back",
                ),
                ("heater current of each band", "what was done on this zone in the stop", "cooling valve closed"),
                cautions.ELECTRICAL,
            )
        passes = Cause("cooling of this zone passes", shown_by=("cooling_passing",))
        bare = "insulation or cover off this zone, draught on it"
        likeliest, rest = (bands, passes), (bare,)
        if ctx.line.zone_named(subject).cooled and ratio >= MANY_DEAD * (1.0 if others != others else max(others, 1.0)):
            most = f"it takes {ratio:.1f} times its heat: only {100 / ratio:.0f} % of its bands would have to live"
            likeliest = (Cause(passes.text, (most,), (), passes.shown_by), Cause(bands.text, bands.speaks_for))
        if facts["draws"] >= current_tells.WHOLE:
            drawn = f"its heater draws {100 * facts['draws']:.0f} % of what it drew for its output"
            likeliest, rest = (Cause(bare, (drawn,)), Cause(bands.text, bands.speaks_for, (drawn,))), ()
        took = f"{facts['output']:.0f} % where it took {facts['expected']:.0f} %, at the same"
        under, does, same = facts["wanted"] - facts["value"], "needs", "speed, load and temperature"
        if under >= UNDER_SET_C:
            does, same = "gets", f"speed and load, and is {under:.0f} °C under set"
        return Explanation(
            f"zone {subject} {does} {took} {same}",
            3,
            "medium",
            (
                Evidence("zone output", facts["output"], "%", facts["expected"], None, self.channel(subject)),
                Evidence("duty against usual", ratio, "times", others),
                here,
            ),
            (
                *likeliest,
                Cause("couple loose", (), ("then the neighbours would need less heat",)),
                *rest,
            ),
            (
                "heater current of each band",
                "cooling valve closed and cold",
                "rate at the next heat-up: dead bands show there",
            ),
            cautions.ELECTRICAL,
        )
