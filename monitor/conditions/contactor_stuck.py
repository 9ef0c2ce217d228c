"""A zone is heated although its controller does not ask for heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import duty_against_reference as reference
from monitor.conditions import hotter_than_melt, mirrored_zones, standing_faults
from monitor.conditions.over_temperature import ceiling_c
from monitor.conditions.zone_minutes import ALL_OF_IT, Levels, Minutes, ZoneMinutes, left_right, others_median
from monitor.conditions.zone_signals import output_limits, zones_with_temperature
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, two_threshold
from monitor.levels import rule
from monitor.phases import HOT_SETPOINT_C
from monitor.records import Cause, Evidence, Family

BY_CURRENT, STANDING, COOLED, BLIND, HELD, PLUNGED, ALONE = 1, 2, 3, 4, 5, 6, 7
"""How it was seen: current at zero output; climbing with the screw still; cooled where it needed heat; by temperature
alone where no output is logged; cooled for long with the screw still; cooled far more than it was, where shear and
cooling balance; away from melt and neighbours at an unchanged speed."""

NO_MORE_LOAD, UNCHANGED_S, STILL_HOT_C, BACK_C = 1.03, 600.0, 30.0, 5.0
"""Load over usual, and time since speed or rate moved, that leave shear heat as it was; so far over its set-point a
zone that falls is hot still, and so near it is back. Common practice, no source."""

SAME_LOAD = 0.03
"""Shear heat goes with speed and torque: with the load so near to what it was, it has not brought `plunge_pct`."""

ALWAYS_COOLED_PCT = 10.0

LEAST_A, NONE_A, NONE_SHARE = 0.5, 0.05, 0.02
"""Some zone's current that has been read; and what is none, mean of each of ten minutes, by itself and of the zone's
largest: one pulse in a minute would be more. Common practice, no source."""

ANSWERS_STILL_PCT = 10.0
"""Cooling of the last five minutes over that of twenty: its controller is not done yet. Common practice, no source."""

SPENT_PCT, MOST_C_PER_PCT, FAST_C_MIN = 95.0, 5.0, 1.0
"""A zone that all of its cooling does not bring back, and that is no hotter than its usual cooling took off it (5 C for
1 % at most, value from memory), lacks its cooling: a heater that hangs on lifts it by more, and faster."""

MORE_HEAT_PCT = 20.0
"""More heat than usual, points, that steel stores enough of to climb for minutes after it is off. Common practice, no
source."""

FALLS_C_MIN = 0.3
"""Mean of ten minutes; a controller's ripple is less. Common practice, no source."""

COLD_BESIDE_C = 40.0
"""Beside a zone that climbs above its set-point one so far below it, and staying there, is what it was swapped with."""


GOES_ON = 0.6
"""Of its pace over 10 min a zone whose heater hangs on still has so much in the last 3: over the five minutes between
the two it loses a third with the shortest time constant, 10 min (value from memory)."""


@dataclass(frozen=True)
class ContactorStuck(ZoneMinutes):
    """A zone's heater stays on although its controller does not ask for heat.

    An operator would say: "the heater of zone 4 hangs on". Any of these: heater current at zero output, mean of 10 min
    above `current_share` of the largest seen (heaters are pulsed, so one reading proves nothing); the screw stands for
    20 min and the zone climbs above set at zero output, hotter than both neighbours, so that neither screw nor
    neighbour heats it (priority 1; where no output is logged, 15 C above set), or is cooled for 20 min after
    40 min of standing (not most zones at once); or, running, a zone that needed
    heat here is cooled or climbs at zero output for 20 min, or one that needed none is cooled by `plunge_pct` more than
    it learned to need, while speed, load and the other zones are as they were; or, running at an unchanged speed and no
    more load, a zone climbs by 1 C a minute and more at zero output, or with none logged, far above set and hotter by
    20 C than the melt and both neighbours, which then do not heat it (`hotter_than_melt`); until it has come down.
    None of these but the first where its heater's current is logged and stands at nothing.
    Look-alikes: overshoot after heat-up (heat must be off for 15 min; with no output logged, it goes on as it
    came), shear heat (other speed or load; a zone
    without need of heat), low-set zone between hot neighbours, couple reading high (then neighbours heat more),
    ambient (all zones). Missing readings are not judged. Once found it stands (`standing_faults`). Memory:
    35 min of 9 signals a zone. Common practice, no source; 15 min are more than twice the dead time of the slowest
    usual zone (value from memory).
    """

    current_share: float = setting(0.1, 0.02, 0.9, "of the largest current seen")
    over_c: float = setting(3, 1, 30, "C over set")
    blind_over_c: float = setting(15, 5, 60, "C over set where no output is logged")
    climbs_c_min: float = setting(0.15, 0.02, 5, "C/min, mean of 10 min")
    cooled_pct: float = setting(5, 1, 50, "% cooling less heating, mean of 20 min")
    plunge_pct: float = setting(30, 8, 80, "% less heating and more cooling than it learned to need, mean of 20 min")
    settling_s: float = setting(2400, 0, 7200, "s after a change of speed, rate or set-point")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(1200, 10, 3600, "s")

    name: ClassVar[str] = "contactor_stuck"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "heater stuck on"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "screw_speed|zone_current")
    sharpened_by: ClassVar[tuple[str, ...]] = (
        "zone_output",
        "zone_current",
        "zone_cooling",
        "reference",
        "melt_temperature",
    )
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)
    zone_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_ROWS, "current")
    line_rows: ClassVar[tuple[str, ...]] = (
        *reference.DUTY_LINE,
        *standing_faults.STANDING_LINE,
        "still_s",
        "running",
        "melt_c",
    )
    past_minutes: ClassVar[int] = 30
    said: ClassVar[tuple[str, ...]] = (
        "value", "wanted", "by", "slope", "current", "cool", "expected", "beside", "cold_beside", "cold_at",
        "alone_c",
    )  # fmt: skip

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Every zone with a temperature."""
        return zones_with_temperature(ctx)

    def channel(self, subject: str) -> str:
        """The temperature that climbs."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the minutes the rule looks back."""
        return Timing(self.on_s, self.off_s, blind_s=standing_faults.UNSEEN_S)

    def begin(self, zones: int, ctx: Context) -> State:
        """Largest current seen, and the set-points the references belong to."""
        seen = {"most": np.zeros(zones), "alone": np.zeros(zones, bool)}
        return {**seen, "standing": standing_faults.start(zones), **reference.start(zones)}

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone is hot, none that needed heat is cooled, no current flows at zero output."""
        with np.errstate(invalid="ignore"):
            hot = (x.now("temperature") > x.now("wanted") + min(self.over_c, self.blind_over_c)).any()
            drawn = ((x.zone["current"] > 0.05) & (x.zone["heat"] <= 0.05)).any()
        cooled = x.most(x.zone["cool"], 20) >= self.cooled_pct
        needs = x.most(x.zone["expected"], 1) >= reference.LEAST_DUTY_PCT
        still = (x.line_now("still_s") >= self.settling_s).any()
        plunged = x.most(x.zone["cool"], 20) >= self.plunge_pct / 2
        if (
            not standing_faults.idle(own["standing"])
            or own["alone"].any()
            or hot
            or drawn
            or (cooled & (needs | still)).any()
            or plunged.any()
        ):
            return None
        most = np.fmax(own["most"], np.fmax(x.most(x.zone["current"], 1), 0.0))
        level = rule(np.zeros((len(x.zones), x.m), bool), self._known(x), np.ones(x.m, bool))
        kept = {"most": most, "alone": own["alone"], "standing": own["standing"]}
        return {**reference.learned_at(own, x), **kept}, level

    @staticmethod
    def _known(x: Minutes) -> Bools:
        told = np.isfinite(x.now("wanted")) | np.isfinite(x.now("current"))
        return np.isfinite(x.now("temperature")) & told

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        value, wanted, current = x.now("temperature"), x.now("wanted"), x.mean(x.zone["current"], 10)
        now = np.nan_to_num(x.now("current"))
        most = np.maximum.accumulate(np.concatenate((own["most"][:, None], now), axis=1), axis=1)
        kept, duty = reference.duty(own, x, 20, self.settling_s)
        slope = x.slope_c_min(x.zone["temperature"], 10)
        before, behind = left_right(value)
        beside = np.fmax(before, behind)
        settled = x.now("set_age_s") >= self.settling_s
        still = x.line_now("still_s") >= 1200.0
        with np.errstate(invalid="ignore"):
            # Heaters are pulsed and sampled: a current at 1 % output may be one pulse caught every time.
            off_10, off_15 = x.held(x.zone["heat"] <= 0.05, 10), x.held(x.zone["heat"] <= 1.0, 15)
            by_current = off_10 & (current > np.fmax(self.current_share * most[:, 1:], 0.5))
            alone = (value > beside + 2.0) & (slope >= self.climbs_c_min) & still & settled
            standing = alone & off_15 & (value > wanted + self.over_c)
            blind = alone & np.isnan(x.now("heat")) & (value > wanted + self.blind_over_c)
            # A loop that overshoots slows down; a heater that hangs on goes on, with the time constant of its steel.
            blind &= x.slope_c_min(x.zone["temperature"], 3) >= GOES_ON * slope
            cooling = x.mean(x.zone["cool"], 20) - x.mean(x.zone["heat"], 20)
            held = (cooling >= self.cooled_pct) & (value > beside - 2.0) & settled & (slope >= -0.1)
            held &= (wanted > HOT_SETPOINT_C) & (x.line_now("still_s") >= self.settling_s)
            held &= held.sum(axis=0) < max(2, 0.5 * len(held))
            climbs = (slope >= self.climbs_c_min) & (value > wanted + self.over_c)
            cooled = (cooling >= self.cooled_pct) | (climbs & x.held(x.zone["heat"] <= 1.0, 20))
            needed = duty.expected >= reference.LEAST_DUTY_PCT
            usual = np.abs(others_median(np.where(duty.valid & needed, duty.off, np.nan))) <= 4.0
            left, right = left_right(np.where(duty.valid, duty.off - duty.slack, np.nan))
            hotter_beside = (left > 2.0) | (right > 2.0)
            # What falls is on its way down from something else: a heater that hangs on holds its zone up.
            falls = (slope <= -FALLS_C_MIN) | (x.ago(x.zone["temperature"], 20) - value >= self.over_c)
            running = duty.valid & needed & cooled & usual & ~hotter_beside & ~falls
            load = np.abs(x.mean(x.line["torque"][None, :], 20)[0] / x.line_now("torque_expected") - 1.0)
            load_now = x.mean(x.line["torque"][None, :], 5)[0] / x.line_now("torque_expected")
            others = np.abs(others_median(np.where(duty.valid, duty.off, np.nan))) <= 4.0
            plunged = duty.valid & (duty.off <= -np.fmax(self.plunge_pct, duty.slack)) & (cooling >= self.cooled_pct)
            plunged &= ~needed & others & ~hotter_beside & (load <= SAME_LOAD) & ~falls
            # A zone that always cools needs all its cooling when the water fails; so do others at the same time.
            more = x.mean(x.zone["cool"], 5) - np.fmax(-duty.expected, 0.0) >= self.plunge_pct / 2
            plunged &= (duty.expected > -ALWAYS_COOLED_PCT) & (more.sum(axis=0) - more == 0)
            over = value - wanted
            lately = x.mean(x.zone["cool"], 5)
            lacks_cooling = (lately >= SPENT_PCT) & (slope < FAST_C_MIN) & (over >= self.over_c)
            plunged &= ~(lacks_cooling & (over <= MOST_C_PER_PCT * -duty.expected))
            # Whether it will be brought back is known once the controller has given what it has to give.
            plunged &= ~((lately - cooling > ANSWERS_STILL_PCT) & (slope < FAST_C_MIN))
            # A heater that draws no current does not hang on, whatever heats its zone.
            read = np.maximum.reduce(most[:, 1:], axis=0, keepdims=True) >= LEAST_A
            none = read & (x.extremes(x.zone["current"], 10)[1] <= np.fmax(NONE_SHARE * most[:, 1:], NONE_A))
        # Beside a zone that starves at full heat the two may be swapped: that is told apart by `couples_swapped`.
        limit = output_limits(x.zones, ctx)
        cold_c, cold_at = mirrored_zones.opposite(value, wanted, x.now("heat"), limit, low=True)
        cold_place = np.nan_to_num(cold_at).astype(int)
        with np.errstate(invalid="ignore"):
            # Further away only where full heat does not warm it: at a heat-up all lag behind.
            starves = np.isfinite(cold_c) & (slope[cold_place, np.arange(x.m)] < self.climbs_c_min)
            starved = (x.now("heat") >= np.minimum(95.0, limit - 2.0)) & (value < wanted - 5.0)
            # Where no output is logged: a zone that stays cold while the others are hot.
            starved |= np.isnan(x.now("heat")) & (value < wanted - COLD_BESIDE_C) & (slope < self.climbs_c_min)
        beside_cold = _within_two(starved)
        above_c = hotter_than_melt.above_c(value, x.line_now("melt_c"))
        with np.errstate(invalid="ignore"):
            away = (above_c >= hotter_than_melt.FAR_C) & (over >= self.blind_over_c)
            away &= x.slope_c_min(x.zone["temperature"], 5) >= FAST_C_MIN
            # A reading that comes back from far below has made its zone hot by itself: that was its couple's doing.
            away &= ~(x.ago(x.zone["temperature"], 10) < wanted - self.blind_over_c)
            off = ~(x.zone["heat"] > 1.0)
            # What was heated hard a short while ago climbs by what its steel has stored, an autotune's too.
            usual_heat = x.extremes(x.zone["heat"], 15)[1] <= np.fmax(duty.expected, 0.0) + MORE_HEAT_PCT
            away &= (
                x.held(off, 5)
                & (usual_heat | x.held(off, 15))
                & ~(load_now > NO_MORE_LOAD)
                & settled
                & ~(beside_cold | starves)
            )
            away &= (x.line_now("running") >= ALL_OF_IT) & (x.line_now("unchanged_s") >= UNCHANGED_S) & ~none
            # No further than what its usual cooling took off it, it lacks that.
            away &= ~(over <= MOST_C_PER_PCT * -duty.expected)
            alone, alone_after = two_threshold(
                own["alone"], away, ((slope <= -FAST_C_MIN) & (over <= STILL_HOT_C)) | (over <= BACK_C) | none
            )
        standing, running, blind, held, plunged = (way & ~none for way in (standing, running, blind, held, plunged))
        by = np.select(
            [by_current, standing, alone, running, blind, held, plunged],
            [BY_CURRENT, STANDING, ALONE, COOLED, BLIND, HELD, PLUNGED],
            0,
        )
        level = rule(by > 0, self._known(x), np.ones(x.m, bool))
        urgent = ((by == STANDING) | (by == BLIND)) & ~(beside_cold | starves)
        urgent |= (by == ALONE) & (value >= ceiling_c(ctx))
        level = np.where(urgent, np.int8(2), level).astype(np.int8)
        facts = {
            "value": value,
            "wanted": wanted,
            "by": by.astype(float),
            "slope": slope,
            "current": current,
            "cool": cooling,
            "expected": duty.expected,
            "beside": beside,
            "cold_beside": (beside_cold | starves).astype(float),
            "cold_at": np.where(starves & ~beside_cold, cold_at, np.nan),
            "alone_c": above_c,
        }
        base = np.where((by == COOLED) | (by == PLUNGED), duty.expected, np.nan)
        judged = Judged(level, np.fmax(value - wanted, 0.0), facts)
        usual_here = duty.calm[None, :] & settled
        stood, judged = standing_faults.stand(
            own["standing"], x, judged, duty.mean, base, usual_here, (self.on_s, self.off_s)
        )
        return {**kept, "most": most[:, -1].copy(), "alone": alone_after, "standing": stood}, judged

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What proves it, how far it has come."""
        by, evidence = (
            facts["by"],
            [Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, self.channel(subject))],
        )
        output = channel_key("zone_output", subject)
        cooling = Evidence("cooling less heating, mean of 20 min", facts["cool"], "%", None, None, output)
        stuck, others = Cause("contactor or solid-state relay of this zone stuck on"), []
        if by == BY_CURRENT:
            text = f"zone {subject} draws {facts['current']:.1f} A at zero output: its heater is stuck on"
            evidence.append(
                Evidence("heater current at zero output", facts["current"], "A", 0.0, None, f"zone_current:{subject}")
            )
            others = ["current transformer on another zone's cable"]
        elif by == HELD:
            text = f"zone {subject} is cooled at {facts['cool']:.0f} % with the screw still: something heats it"
            evidence.append(cooling)
            stuck = Cause("contactor of this zone stuck on", ("the screw stands", "no neighbour is hotter"))
            others = ["controller of this zone set up wrongly: its cooling output stands"]
        elif by == PLUNGED:
            text = f"zone {subject} is cooled at {facts['cool']:.0f} % where {-facts['expected']:.0f} % was enough: "
            text += "heated from elsewhere"
            evidence += [cooling, Evidence("usual output here", facts["expected"], "%")]
            stuck = Cause(
                "contactor of this zone stuck on: heater current at zero output proves it",
                ("speed and load are as they were", "the other zones are as they were"),
            )
            others = ["melt thicker in this zone alone", "cooling of this zone weaker: scale, valve, flow"]
        elif by == ALONE:
            text = f"zone {subject} is {facts['value'] - facts['wanted']:.0f} °C over set, at no more speed and load, "
            text += "hotter than melt and neighbours: its own heater heats it"
            evidence.append(Evidence("climbs by", facts["slope"], "C/min"))
            said = "its output is zero" if facts["cool"] == facts["cool"] else "no output is logged"
            stuck = Cause(stuck.text, (said, hotter_than_melt.words(facts["alone_c"])))
            others = [Cause("zone in manual at full heat", (), (said,) if facts["cool"] == facts["cool"] else ())]
            others.append(Cause("couple of this zone reads too high"))
        elif by == COOLED:
            text = f"zone {subject} needs no heat where it took {facts['expected']:.0f} %: heated from elsewhere"
            evidence.append(cooling)
            evidence.append(Evidence("usual output here", facts["expected"], "%"))
            stuck = Cause(
                "contactor of this zone stuck on: heater current at zero output proves it",
                ("speed and load are as they were", "the other zones are as they were"),
            )
            others = ["couple reads too high: then the zone itself cools", "melt thicker in this zone alone"]
        else:
            text = f"zone {subject} climbs {facts['slope']:.1f} °C/min above its set-point with the screw still"
            evidence.append(Evidence("climbs by", facts["slope"], "C/min"))
            if facts["beside"] == facts["beside"]:
                evidence.append(Evidence("hottest neighbour", facts["beside"], "C"))
            heat = "its output is zero" if by == STANDING else "no output is logged"
            stuck = Cause("contactor of this zone stuck on", ("the screw stands", "no neighbour is as hot"), ())
            others = [Cause("zone in manual, or couple in the wrong place", (heat,) if by == BLIND else ())]
            if facts["cold_beside"] == 1:
                far = facts["cold_at"]
                which = "the cold zone beside it" if far != far else f"the cold zone {self.zones(ctx)[int(far)]}"
                swapped = Cause(f"couples or heaters swapped with {which}", ("it stays cold meanwhile",))
                stuck, others = swapped, [stuck, *others]
        return Explanation(
            text,
            1 if level > 1 else 2,
            "high" if by in (BY_CURRENT, STANDING) else "medium",
            tuple(evidence),
            (stuck, *others),
            (
                "isolate the supply of this zone; a lower set-point does not help",
                "heater current at zero output",
                "cooling of this zone",
            ),
            f"{cautions.HEAT} {cautions.ELECTRICAL}",
            {"off_c": facts["value"] - facts["wanted"]},
        )


def _within_two(rows: Bools) -> Bools:
    """Where it holds for a zone one or two places away, [zone, m]."""
    out = np.zeros(rows.shape, bool)
    for apart in (1, 2):
        out[apart:] |= rows[:-apart]
        out[:-apart] |= rows[apart:]
    return out
