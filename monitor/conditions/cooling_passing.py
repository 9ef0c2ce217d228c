"""A zone is heated and cooled at the same time: its cooling passes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, slipped_couple
from monitor.conditions import current_tells, heat_lacks, standing_faults
from monitor.conditions import duty_against_reference as reference
from monitor.conditions.zone_minutes import Levels, Minutes, ZoneMinutes, left_right, others_median
from monitor.conditions.zone_signals import output_limits, with_cooling
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

BOTH_ON, NEEDS_HEAT, TAKES_MORE = 1, 2, 3
SLID_MIN = 10
"""So long after a reading slipped its output may take to rise: then `thermocouple_loose` speaks, later."""

NONE_PCT, LITTLE_PCT, TIMES = 2.0, 5.0, 4.0
"""Usual output of a zone that needs no heat, and of one that needs so little that so many times it is no matter of dead
bands: three of four would have to be. Common practice, no source."""

COLD_BESIDE_C, CLIMBS_C_MIN = 5.0, 0.3
"""A neighbour so far under its set-point is heated by its own; what climbs so fast for ten minutes comes back, from a
fault or a stop. Common practice, no source."""

OVER_C = 3.0
"""Above this over set no heat is taken away: the usual tolerance of a zone. Common practice, no source."""


@dataclass(frozen=True)
class CoolingPassing(ZoneMinutes):
    """A zone's cooling takes heat although it should not.

    An operator would say: "the water valve of zone 3 passes". Either heating and cooling of one zone both stand at
    `both_pct` or more in 8 of 10 min (where they are logged apart: one output with a sign, and on-off control, say one
    after the other), or a zone that needed no heat here, carried by
    shear or cooled, or has cooling and needed little, a quarter of it at most, now takes `heat_pct` and more for 20 min
    while speed, load and the other zones are as they were: dead bands cannot make a heat need, so something takes heat
    away. Or, where currents are logged and it has cooling, it takes `more_share` and `more_pct` more than it learned to
    need here, or falls in spite of more heat
    (`heat_lacks`), while its heater draws for its output what it always drew (`current_tells`): its bands are whole.
    Look-alikes: part of the bands dead (that zone needed heat before, or its heater draws less), less shear (load
    down), ambient (all zones), a controller that crosses from heat to cool and back (below `both_pct`), couple loose
    (its reading fell at once and stayed, or neighbours heat less), a neighbour that has gone cold, a zone on its way
    back up (neither is judged). Missing readings are not judged. Once found it
    stands (`standing_faults`). Memory: half an hour of 10 signals a zone. Common practice, no source.
    """

    both_pct: float = setting(8, 1, 50, "% heating and % cooling")
    more_share: float = setting(0.25, 0.05, 3, "more than usual, other zones taken out")
    more_pct: float = setting(5, 1, 50, "% output above usual")
    heat_pct: float = setting(10, 2, 80, "% heating in a zone that needed none")
    settling_s: float = setting(2400, 0, 7200, "s after a change of speed, rate or set-point")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(600, 10, 3600, "s")

    name: ClassVar[str] = "cooling_passing"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "zone cooling passes"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_cooling", "reference", "zone_current")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)
    zone_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_ROWS, "cool_heated", "current", "pauses")
    line_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_LINE, *standing_faults.STANDING_LINE)
    past_minutes: ClassVar[int] = current_tells.PAST_MIN + 1
    said: ClassVar[tuple[str, ...]] = ("value", "wanted", "heat", "cool", "expected", "by", "draws")

    def channel(self, subject: str) -> str:
        """The output."""
        return channel_key("zone_output", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the minutes the rule looks back."""
        return Timing(self.on_s, self.off_s, blind_s=standing_faults.UNSEEN_S)

    def begin(self, zones: int, ctx: Context) -> State:
        """Set-points the references belong to."""
        return {
            **reference.start(zones),
            "slid": np.zeros(zones, bool),
            "drew": current_tells.start(zones),
            "standing": standing_faults.start(zones),
        }

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone is heated and cooled at once and none that needed no heat takes any."""
        with np.errstate(invalid="ignore"):
            both = self._at_once(x).any()
            none_needed = (x.now("expected") <= LITTLE_PCT).any(axis=1)
        drew, logged = own["drew"], np.isfinite(x.zone["current"]).any()
        more = logged and (reference.most_above(x, 10) >= self.more_pct / 1.5).any()
        if (
            not standing_faults.idle(own["standing"])
            or both
            or more
            or (none_needed & (x.most(x.zone["heat"], 20) >= self.heat_pct)).any()
        ):
            return None
        known = np.isfinite(x.now("heat"))
        if logged:
            drew = current_tells.share(drew, x, reference.duty(own, x, 20, self.settling_s)[1], ctx)[1]
        slid = np.zeros(len(x.zones), bool)
        kept = {**reference.learned_at(own, x), "slid": slid, "drew": drew, "standing": own["standing"]}
        return kept, rule(np.zeros(known.shape, bool), known, np.ones(x.m, bool))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        kept, duty = reference.duty(own, x, 20, self.settling_s)
        heat, cool = x.mean(x.zone["heat"], 10), x.mean(x.zone["cool_heated"], 10)
        with np.errstate(invalid="ignore"):
            both = x.mean(self._at_once(x).astype(float), 10) >= 0.8 - 1e-9
            apart = np.where(duty.valid, duty.off, np.nan)
            usual = np.abs(others_median(apart)) <= 4.0
            # Heat of which the same minute takes as much back is none that is needed.
            least, _ = x.extremes(x.zone["output"], 20)
            little = (duty.expected <= LITTLE_PCT) & (least >= TIMES * duty.expected) & with_cooling(x.zones, ctx)
            needs = duty.valid & ((duty.expected <= NONE_PCT) | little) & (least >= self.heat_pct) & usual
            neighbours_less = np.zeros(needs.shape, bool)
            neighbours_less[1:] |= apart[:-1] < -duty.slack[:-1] - 3.0
            neighbours_less[:-1] |= apart[1:] < -duty.slack[1:] - 3.0
            needs &= ~neighbours_less
            # A cold neighbour takes heat, too; and a zone that climbs gets more than is taken away.
            left, right = left_right(x.extremes(x.zone["temperature"] - x.zone["wanted"], 20)[0])
            elsewhere = (left < -COLD_BESIDE_C) | (right < -COLD_BESIDE_C)
            elsewhere |= x.slope_c_min(x.zone["temperature"], 10) >= CLIMBS_C_MIN
            needs &= ~elsewhere
            # What is taken away lets a zone hang below its set-point: one far above it is heated too much.
            needs &= ~(x.now("temperature") >= x.now("wanted") + OVER_C)
            draws, drew = current_tells.share(own["drew"], x, duty, ctx)
            slid, slid_after = self._slid(own["slid"], x)
            takes = self._takes_more(x, duty, draws, ctx) & ~neighbours_less & ~slid & ~elsewhere
        by = np.select([both, needs, takes], [BOTH_ON, NEEDS_HEAT, TAKES_MORE], 0)
        level = rule(by > 0, np.isfinite(x.now("heat")), np.ones(x.m, bool))
        facts = {
            "value": x.now("temperature"),
            "wanted": x.now("wanted"),
            "heat": heat,
            "cool": cool,
            "expected": duty.expected,
            "by": by.astype(float),
            "draws": draws,
        }
        base = np.where(by >= NEEDS_HEAT, duty.expected, np.nan)
        usual_here = duty.calm[None, :] & (x.now("set_age_s") >= self.settling_s)
        stood, judged = standing_faults.stand(
            own["standing"], x, Judged(level, np.where(by > 0, heat, 0.0), facts), duty.mean, base, usual_here,
            (self.on_s, self.off_s),
        )  # fmt: skip
        return {**kept, "slid": slid_after, "drew": drew, "standing": stood}, judged

    def _at_once(self, x: Minutes) -> Bools:
        """Minutes in which a zone is heated, and cooled while it is: not one after the other, [zone, past + m]."""
        both: Bools = (x.zone["heat"] >= self.both_pct) & (x.zone["cool_heated"] >= self.both_pct)
        return both

    def _slid(self, before: Bools, x: Minutes) -> tuple[Bools, Bools]:
        """Zones that take more since their reading slipped, [zone, m], and the state. before: [zone]."""
        lately = ~x.held(~slipped_couple.fell_and_stayed(x), SLID_MIN)
        with np.errstate(invalid="ignore"):
            more = x.mean(x.zone["output"], 10) >= x.now("expected") + self.more_pct / 1.5
            begins = lately & (x.now("output") >= x.now("expected") + self.more_pct)
        silent = x.held(~np.logical_or.reduce(np.isfinite(x.zone["current"]), axis=0, keepdims=True), self.past_minutes)
        return two_threshold(before, begins & more & ~silent, ~more | silent)

    def _takes_more(self, x: Minutes, duty: reference.Duty, draws: Floats, ctx: Context) -> Bools:
        """Zones with cooling and whole bands that take more heat than they need here, or fall with it, [zone, m]."""
        limit = output_limits(x.zones, ctx)
        cooled = with_cooling(x.zones, ctx)
        with np.errstate(invalid="ignore"):
            off = reference.beyond_the_others(np.where(duty.valid, duty.off, np.nan))
            more = off >= np.fmax(np.fmax(self.more_pct, duty.slack), self.more_share * np.abs(duty.expected))
            more &= x.extremes(x.zone["output"], 20)[0] >= 1.05 * duty.expected
            more |= heat_lacks.lacks(x, duty, limit)
            more &= ~(x.now("temperature") >= x.now("wanted") + OVER_C)
            return more & cooled & (draws >= current_tells.WHOLE)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Both on, or heat where none was needed."""
        both, takes = facts["by"] == BOTH_ON, facts["by"] == TAKES_MORE
        evidence = [
            Evidence("heating, mean of 10 min", facts["heat"], "%", None, None, self.channel(subject)),
            Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, f"zone_temperature:{subject}"),
        ]
        drawn = f"its heater draws {100 * facts['draws']:.0f} % of what it drew for its output: its bands are whole"
        whole = (drawn,) if takes else ()
        if both:
            evidence.insert(1, Evidence("cooling, mean of 10 min", facts["cool"], "%"))
            text = f"zone {subject} is heated ({facts['heat']:.0f} %) and cooled ({facts['cool']:.0f} %) at once"
        else:
            evidence.insert(1, Evidence("usual output here", facts["expected"], "%"))
            usual = f"{facts['expected']:.0f} %" if takes or facts["expected"] > NONE_PCT else "none"
            text = f"zone {subject} takes {facts['heat']:.0f} % heat where it needed {usual}: something takes heat away"
        return Explanation(
            text,
            3,
            "high" if both else "medium",
            tuple(evidence),
            (
                Cause(
                    "cooling in manual or its controller output wrong" if both else "cooling valve of this zone passes",
                    () if both else (*whole, "speed and load are as they were", "the other zones are as they were"),
                ),
                Cause("cooling valve or fan held open" if both else "couple of this zone loose: it reads low"),
            ),
            ("cooling valve of this zone closed and cold", "cooling return of this zone", "couple seated"),
            cautions.ELECTRICAL,
        )
