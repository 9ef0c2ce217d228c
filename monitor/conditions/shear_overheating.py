"""The melt heats a zone: it stands above its set-point with the heating off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import hotter_than_melt
from monitor.conditions.over_temperature import ceiling_c
from monitor.conditions.zone_minutes import Levels, Minutes, ZoneMinutes, left_right, zones_with_output
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.levels import rule
from monitor.quantities.load import load_words
from monitor.records import Cause, Evidence, Family

NEIGHBOUR_HOTTER_C = 15.0
COOLED_PCT, COOLED_MORE_PCT = 2.0, 15.0
"""A zone that was cooled, and how much more of it says that it does less. Common practice, no source."""
ALL = "most zones"


@dataclass(frozen=True)
class ShearOverheating(ZoneMinutes):
    """A zone stands above its set-point with its heating at zero while the screw turns: shear heats it.

    An operator would say: "zone 5 runs away with the screw". For 10 min the zone is `over_c` above set and not
    falling, its heat output is zero and its cooling not at its end, in running, `settling_s` after a start and after
    its set-point moved. Speed, torque and specific energy of half an hour ago are shown beside those of now: shear
    moves with them. A zone 15 C colder than a neighbour may be heated by it: said first where it is so. One far hotter
    than the melt and its neighbours (`hotter_than_melt`) is heated by its own heater: said first. Without heater
    current a contactor that sticks while the screw turns looks the same: said as a cause. Level 2 within
    `near_ceiling_c` of the ceiling. When most zones do it at once it
    is one finding. Look-alikes: overshoot after heat-up or start, set-point just lowered (both
    within the grace, or falling), cooling at its end (`cooling_scaled`), contactor stuck on. Missing readings are not
    judged. Memory: 35 min of 4 signals a zone. Common practice, no source; grace as zones settle in 20 to 40 min.
    """

    over_c: float = setting(3, 1, 30, "C over set")
    near_ceiling_c: float = setting(10, 0, 50, "C under the ceiling")
    settling_s: float = setting(2400, 0, 7200, "s after a start or a new set-point")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "shear_overheating"
    family: ClassVar[Family] = "over_temperature"
    title: ClassVar[str] = "zone heated by shear"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_current", "zone_cooling", "torque|motor_current|drive_power")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque", "sme")
    zone_rows: ClassVar[tuple[str, ...]] = ("temperature", "wanted", "heat", "cool", "set_age_s", "current")
    line_rows: ClassVar[tuple[str, ...]] = ("running", "started_s", "speed", "torque", "sme", "melt_c")
    past_minutes: ClassVar[int] = 35
    said: ClassVar[tuple[str, ...]] = (
        "value", "wanted", "cool", "cool_was", "current", "speed", "speed_was", "sme", "sme_was", "torque",
        "torque_was", "beside", "count", "alone_c",
    )  # fmt: skip
    extra_subjects: ClassVar[tuple[str, ...]] = (ALL,)

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Zones with a screw in them: what makes an adapter or a die hot is not the screw's work."""
        return tuple(zone for zone in zones_with_output(ctx) if not ctx.line.zone_named(zone).beyond_the_screw)

    def channel(self, subject: str) -> str:
        """The temperature, which is too high; for most zones together the screw."""
        return "screw_speed" if subject == ALL else channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the 10 min the rule looks back."""
        return Timing(self.on_s, self.off_s)

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone stands above set at zero heat."""
        with np.errstate(invalid="ignore"):
            if ((x.now("temperature") >= x.now("wanted") + self.over_c) & (x.now("heat") <= 1.0)).any():
                return None
        running = x.held(x.running()[None, :], 10)
        quiet = np.zeros((len(x.zones) + 1, x.m), bool)
        known = np.concatenate((self._known(x), np.ones((1, x.m), bool)))
        return own, rule(quiet, known, running)

    @staticmethod
    def _known(x: Minutes) -> np.ndarray:
        return np.isfinite(x.now("temperature")) & np.isfinite(x.now("wanted")) & np.isfinite(x.now("heat"))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        value, wanted, cool = x.now("temperature"), x.now("wanted"), x.now("cool")
        running = x.held(x.running()[None, :], 10)
        settled = (x.now("set_age_s") >= self.settling_s) & (x.line_now("started_s") >= self.settling_s)
        with np.errstate(invalid="ignore"):
            above = x.held(x.zone["temperature"] >= x.zone["wanted"] + self.over_c, 10)
            off = x.held(x.zone["heat"] <= 1.0, 10)
            falling = x.slope_c_min(x.zone["temperature"], 10) < -0.1
            at_end = x.extremes(x.zone["cool"], 10)[1] >= 90.0
            holds = above & off & ~falling & ~at_end & running & settled
            count = holds.sum(axis=0)
            shared = count >= max(3, int(np.ceil(0.6 * len(holds))))
            level = rule(holds & ~shared, self._known(x), running)
            ceiling = ceiling_c(ctx)
            level = np.where((level == 1) & (value >= ceiling - self.near_ceiling_c), np.int8(2), level).astype(np.int8)
        together = rule(shared[None, :], np.ones((1, x.m), bool), running)
        before, behind = left_right(value)
        blank = np.full((1, x.m), np.nan)
        rows = {
            "value": value,
            "wanted": wanted,
            "cool": cool,
            "cool_was": x.ago(x.zone["cool"], 30),
            "current": x.now("current"),
            "beside": np.fmax(before, behind),
            "alone_c": hotter_than_melt.above_c(value, x.line_now("melt_c")),
        }
        facts = {name: np.concatenate((part, blank)) for name, part in rows.items()}
        facts["count"] = count.astype(float)
        for name in ("speed", "torque", "sme"):
            row = x.line[name][None, :]
            facts[name] = x.mean(row, 5)[0]
            facts[f"{name}_was"] = x.ago(row, 30)[0]
        score = np.concatenate((value - wanted, count[None, :].astype(float)))
        return own, Judged(np.concatenate((level, together)), score, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far above, what moved with it, what else it may be."""
        moved, rose = self._moved(facts, ctx)
        if subject == ALL:
            return Explanation(
                f"{facts['count']:.0f} zones stand above set with their heating at zero: the melt heats them",
                3,
                "medium",
                (Evidence("zones above set at zero heat", facts["count"], ""), *moved),
                (
                    Cause("more shear: screw faster, melt thicker or screws fuller", rose),
                    Cause("cooling off or too weak for this speed", shown_by=("cooling_scaled",)),
                ),
                ("screw speed and rate against the recipe", "cooling water", "melt temperature"),
            )
        over = facts["value"] - facts["wanted"]
        evidence = [
            Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, self.channel(subject)),
            Evidence("its heating", 0.0, "%", None, None, channel_key("zone_output", subject)),
        ]
        if facts["cool"] > 0:
            evidence.append(Evidence("its cooling", facts["cool"], "%"))
        evidence += moved
        current = facts["current"]
        more = facts["cool"] - facts["cool_was"]
        same = facts["speed"] == facts["speed"] and facts["torque"] == facts["torque"] and not rose
        cooled = facts["cool_was"] >= COOLED_PCT
        no_current = ("heater current is zero",) if current < 0.2 else ()
        some_current = ("heater current flows at zero output",) if current > 1.0 else ()
        shear = Cause("shear heat: speed, viscosity or fill raise it", (*rose, *no_current), some_current)
        stuck = Cause("contactor stuck on: its heater current would show it", some_current, (*rose, *no_current))
        hotter = facts["beside"] - facts["value"]
        hot_beside = hotter >= NEIGHBOUR_HOTTER_C
        beside = Cause("heat from its neighbours", (f"a neighbour is {hotter:.0f} °C hotter",))
        took = f"it takes {facts['cool']:.0f} % where {facts['cool_was']:.0f} % was enough"
        weak = (f"{took}, speed and load as they were",)
        cooling = Cause("cooling of this zone does less than it did: scale, valve, flow", weak, (), ("cooling_scaled",))
        if same and cooled and more >= COOLED_MORE_PCT and not some_current:
            shear, stuck = cooling, shear
        alone = facts["alone_c"] >= hotter_than_melt.FAR_C and not no_current
        if alone:
            own = hotter_than_melt.words(facts["alone_c"])
            stuck = Cause(stuck.text, (*stuck.speaks_for, own), stuck.speaks_against, ("contactor_stuck",))
            shear = Cause(shear.text, shear.speaks_for, (*shear.speaks_against, own), shear.shown_by)
        causes = (stuck, shear) if some_current or alone else (beside, shear, stuck) if hot_beside else (shear, stuck)
        return Explanation(
            f"zone {subject} {over:.1f} °C above set with its heating at zero: "
            + (
                "hotter than the melt and its neighbours"
                if alone
                else "its neighbours or the melt heat it"
                if hot_beside
                else "the melt heats it"
            ),
            2 if level > 1 else 4 if over < 10 else 3,
            "medium",
            tuple(evidence),
            causes,
            ("heater current of this zone at zero output", "screw speed and rate against the recipe", "cooling"),
            cautions.HEAT if level > 1 else "",
        )

    @staticmethod
    def _moved(facts: dict[str, float], ctx: Context) -> tuple[list[Evidence], tuple[str, ...]]:
        """Speed, torque and specific energy now and half an hour ago, and what of them rose."""
        shown, rose = [], []
        for name, words, unit in (
            ("speed", "screw speed", "rpm"),
            ("torque", *load_words(ctx)),
            ("sme", "specific energy", "kWh/kg"),
        ):
            now, was = facts[name], facts[f"{name}_was"]
            if now == now and was == was:
                shown.append(Evidence(f"{words} (expected: half an hour ago)", now, unit, was))
                if now > 1.03 * was:
                    rose.append(f"{words} has risen in the last half hour")
        return shown, tuple(rose)
