"""A zone is heated and cooled at the same time: its cooling passes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import duty_against_reference as reference
from monitor.conditions import standing_faults
from monitor.conditions.zone_minutes import Levels, Minutes, ZoneMinutes, others_median
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

BOTH_ON, NEEDS_HEAT = 1, 2
OVER_C = 3.0
"""Above this over set no heat is taken away: the usual tolerance of a zone. Common practice, no source."""


@dataclass(frozen=True)
class CoolingPassing(ZoneMinutes):
    """A zone's cooling takes heat although it should not.

    An operator would say: "the water valve of zone 3 passes". Either heating and cooling of one zone both stand at
    `both_pct` or more in 8 of 10 min (where they are logged apart), or a zone that needed no heat here, carried by
    shear or cooled, now takes `heat_pct` and more for 20 min while speed, load and the other zones are as they
    were: dead bands cannot make a heat need, so something takes heat away. Look-alikes: part of the bands dead (that
    zone needed heat before), less shear (load down), ambient (all zones), a controller that crosses from heat to
    cool and back (below `both_pct`), couple loose (then neighbours heat less). Missing readings are not judged.
    Once found it stands (`standing_faults`). Memory: 20 min of 8 signals a zone. Common practice, no source.
    """

    both_pct: float = setting(8, 1, 50, "% heating and % cooling")
    heat_pct: float = setting(10, 2, 80, "% heating in a zone that needed none")
    settling_s: float = setting(2400, 0, 7200, "s after a change of speed, rate or set-point")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(600, 10, 3600, "s")

    name: ClassVar[str] = "cooling_passing"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "zone cooling passes"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_cooling", "reference")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)
    zone_rows: ClassVar[tuple[str, ...]] = reference.DUTY_ROWS
    line_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_LINE, *standing_faults.STANDING_LINE)
    past_minutes: ClassVar[int] = 20
    said: ClassVar[tuple[str, ...]] = ("value", "wanted", "heat", "cool", "expected", "by")

    def channel(self, subject: str) -> str:
        """The output."""
        return channel_key("zone_output", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the minutes the rule looks back."""
        return Timing(self.on_s, self.off_s, blind_s=standing_faults.UNSEEN_S)

    def begin(self, zones: int, ctx: Context) -> State:
        """Set-points the references belong to."""
        return {**reference.start(zones), "standing": standing_faults.start(zones)}

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone is heated and cooled at once and none that needed no heat takes any."""
        with np.errstate(invalid="ignore"):
            both = ((x.zone["heat"] >= self.both_pct) & (x.zone["cool"] >= self.both_pct)).any()
            none_needed = (x.now("expected") <= 2.0).any(axis=1)
        if (
            not standing_faults.idle(own["standing"])
            or both
            or (none_needed & (x.most(x.zone["heat"], 20) >= self.heat_pct)).any()
        ):
            return None
        known = np.isfinite(x.now("heat"))
        kept = {**reference.learned_at(own, x), "standing": own["standing"]}
        return kept, rule(np.zeros(known.shape, bool), known, np.ones(x.m, bool))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        kept, duty = reference.duty(own, x, 20, self.settling_s)
        heat, cool = x.mean(x.zone["heat"], 10), x.mean(x.zone["cool"], 10)
        with np.errstate(invalid="ignore"):
            minute = (x.zone["heat"] >= self.both_pct) & (x.zone["cool"] >= self.both_pct)
            both = x.mean(minute.astype(float), 10) >= 0.8 - 1e-9
            apart = np.where(duty.valid, duty.off, np.nan)
            usual = np.abs(others_median(apart)) <= 4.0
            least, _ = x.extremes(x.zone["heat"], 20)
            needs = duty.valid & (duty.expected <= 2.0) & (least >= self.heat_pct) & usual
            neighbours_less = np.zeros(needs.shape, bool)
            neighbours_less[1:] |= apart[:-1] < -duty.slack[:-1] - 3.0
            neighbours_less[:-1] |= apart[1:] < -duty.slack[1:] - 3.0
            needs &= ~neighbours_less
            # What is taken away lets a zone hang below its set-point: one far above it is heated too much.
            needs &= ~(x.now("temperature") >= x.now("wanted") + OVER_C)
        by = np.where(both, BOTH_ON, np.where(needs, NEEDS_HEAT, 0))
        level = rule(by > 0, np.isfinite(x.now("heat")), np.ones(x.m, bool))
        facts = {
            "value": x.now("temperature"),
            "wanted": x.now("wanted"),
            "heat": heat,
            "cool": cool,
            "expected": duty.expected,
            "by": by.astype(float),
        }
        base = np.where(by == NEEDS_HEAT, duty.expected, np.nan)
        usual_here = duty.calm[None, :] & (x.now("set_age_s") >= self.settling_s)
        stood, judged = standing_faults.stand(
            own["standing"], x, Judged(level, np.where(by > 0, heat, 0.0), facts), duty.mean, base, usual_here,
            (self.on_s, self.off_s),
        )  # fmt: skip
        return {**kept, "standing": stood}, judged

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Both on, or heat where none was needed."""
        both = facts["by"] == BOTH_ON
        evidence = [
            Evidence("heating, mean of 10 min", facts["heat"], "%", None, None, self.channel(subject)),
            Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, f"zone_temperature:{subject}"),
        ]
        if both:
            evidence.insert(1, Evidence("cooling, mean of 10 min", facts["cool"], "%"))
            text = f"zone {subject} is heated ({facts['heat']:.0f} %) and cooled ({facts['cool']:.0f} %) at once"
        else:
            evidence.insert(1, Evidence("usual output here", facts["expected"], "%"))
            text = f"zone {subject} takes {facts['heat']:.0f} % heat where it needed none: something takes heat away"
        return Explanation(
            text,
            3,
            "high" if both else "medium",
            tuple(evidence),
            (
                Cause(
                    "cooling in manual or its controller output wrong" if both else "cooling valve of this zone passes",
                    () if both else ("speed and load are as they were", "the other zones are as they were"),
                ),
                Cause("cooling valve or fan held open" if both else "couple of this zone loose: it reads low"),
            ),
            ("cooling valve of this zone closed and cold", "cooling return of this zone", "couple seated"),
            cautions.ELECTRICAL,
        )
