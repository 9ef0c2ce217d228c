"""After a stop a zone reads differently: another couple type, or its input set for another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import duty_before_stop
from monitor.conditions.zone_minutes import Levels, Minutes, ZoneMinutes, left_right
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

WELL_SHARE = 0.5
"""Of what speaks: a zone that is off by no more takes what it did. Common practice, no source."""


@dataclass(frozen=True)
class WrongCoupleType(ZoneMinutes):
    """After a stop a zone needs quite another duty, and its neighbours the opposite: it reads wrong.

    An operator would say: "since they changed that couple the zone is not what it shows". The duties of before the
    stop are held against those of after, at the same speed, rate and set-points, once the line has run for
    `settling_s`: the zone needs `duty_share` and `duty_pct` more and its heated neighbours less (it reads too low, the
    zone is hotter: a K couple on a J input, 8.14 mV at 200 C read as about 152 C, value from memory), or less and they
    more (it reads too high). Each zone is held against the median of the others. Look-alikes: part of the bands dead
    (neighbours stay), a zone that took what it did before the stop for a while since (what it is off by now came later,
    or is left of a fault that has ended), other material, speed or set-points (not judged), ambient and mains (all
    zones). Missing readings are not judged. Memory: 20 min of 4 signals, two duties and set-points a zone. Common
    practice.
    """

    duty_share: float = setting(0.2, 0.05, 2, "of the duty before the stop")
    duty_pct: float = setting(6, 1, 50, "% output")
    beside_pct: float = setting(1, 0.3, 30, "% output, of every heated neighbour")
    settling_s: float = setting(3000, 600, 14400, "s after the start")
    on_s: float = setting(300, 10, 3600, "s")
    off_s: float = setting(600, 10, 3600, "s")

    name: ClassVar[str] = "wrong_couple_type"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "couple reads wrong since the stop"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("reference", "melt_temperature", "zone_setpoint")
    quantities: ClassVar[tuple[str, ...]] = ("total_feed",)
    zone_rows: ClassVar[tuple[str, ...]] = duty_before_stop.STOP_ROWS
    line_rows: ClassVar[tuple[str, ...]] = duty_before_stop.STOP_LINE
    past_minutes: ClassVar[int] = 20
    said: ClassVar[tuple[str, ...]] = ("value", "wanted", "output", "was", "beside_off", "beside")

    def channel(self, subject: str) -> str:
        """The couple's temperature."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the settling."""
        return Timing(self.on_s, self.off_s)

    def begin(self, zones: int, ctx: Context) -> State:
        """Nothing known of before a stop. well: zones that took about what they did before it, since."""
        return {"stop": duty_before_stop.start(zones), "well": np.zeros(zones, bool)}

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone needs another duty than before the stop."""
        own, since, _ = self._since(own, x)
        with np.errstate(invalid="ignore"):
            if (np.abs(since.off) >= 0.6 * self.duty_pct).any():
                return None
        return own, rule(np.zeros(since.off.shape, bool), np.isfinite(since.off), since.armed)

    def _since(self, own: State, x: Minutes) -> tuple[State, duty_before_stop.SinceStop, Bools]:
        """The state, what zones need since the stop, and those that took what they did before it some time since then:
        hands that were at work there did it no harm, and what they need now is another matter, [zone, m]."""
        stop, since = duty_before_stop.since_stop(own["stop"], x, self.settling_s)
        with np.errstate(invalid="ignore"):
            as_before = np.abs(since.own_off) <= WELL_SHARE * np.fmax(
                self.duty_pct, self.duty_share * np.abs(since.was)
            )
        stood = np.broadcast_to(x.line_now("still_s") >= duty_before_stop.STOOD_S, as_before.shape)
        well, after = two_threshold(own["well"], as_before & ~stood, stood)
        return {"stop": stop, "well": after}, since, well

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        own, since, well = self._since(own, x)
        off, own_off, was = since.off, since.own_off, since.was
        with np.errstate(invalid="ignore"):
            strong = np.abs(own_off) >= np.fmax(self.duty_pct, self.duty_share * np.abs(was))
            agree = (np.sign(own_off) == np.sign(off)) & (np.abs(off) >= 0.6 * np.abs(own_off))
            found, place, against = duty_before_stop.answered(since, self.beside_pct)
            holds = strong & agree & found & ~well
            # The zone that moved most is the one that reads wrong; its neighbour only answers.
            left, right = left_right(np.where(holds, np.abs(own_off), 0.0))
            holds &= ~(np.fmax(left, right) > np.abs(own_off))
        level = rule(holds, np.isfinite(off), since.armed)
        facts = {
            "value": x.now("temperature"),
            "wanted": x.now("wanted"),
            "output": since.mean,
            "was": was,
            "beside_off": against,
            "beside": place,
        }
        return own, Judged(level, np.abs(own_off), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Duties before and after the stop, here and beside."""
        zones = self.zones(ctx)
        beside = zones[zones.index(subject) + int(facts["beside"])]
        low = facts["output"] > facts["was"]
        word, real = ("too low", "hotter") if low else ("too high", "colder")
        return Explanation(
            f"since the stop zone {subject} takes {facts['output']:.0f} % instead of {facts['was']:.0f} % and zone "
            f"{beside} moves the other way: it reads {word}, the zone is {real} than shown",
            2,
            "medium",
            (
                Evidence(
                    "zone output (expected: before the stop)",
                    facts["output"],
                    "%",
                    facts["was"],
                    None,
                    channel_key("zone_output", subject),
                ),
                Evidence(
                    f"output of zone {beside} off its own of before by",
                    facts["beside_off"],
                    "%",
                    None,
                    None,
                    channel_key("zone_output", beside),
                ),
                Evidence(f"zone {subject} reads", facts["value"], "C", facts["wanted"], None, self.channel(subject)),
            ),
            (
                Cause(
                    "couple of another type, or its input set for another"
                    if low
                    else "input set for another couple type",
                    ("at the same speed, rate and set-points",),
                ),
                Cause("couple not seated after the stop" if low else "couple placed nearer the heater than before"),
                Cause(
                    "part of the bands dead" if low else "heater changed for a stronger one",
                    (),
                    ("then the neighbour would not move the other way",),
                ),
            ),
            ("couple type against the input's setting", "couple seated", "zone wall with a hand-held probe"),
            f"{cautions.HEAT} {cautions.ELECTRICAL}" if low else cautions.ELECTRICAL,
        )
