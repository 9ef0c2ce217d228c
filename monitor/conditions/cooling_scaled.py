"""Cooling at its end and the zone still too hot: one zone, or all that are cooled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import mirrored_zones
from monitor.conditions.zone_minutes import Levels, Minutes, ZoneMinutes
from monitor.conditions.zone_signals import output_limits
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

ALL = "all cooled zones"


@dataclass(frozen=True)
class CoolingScaled(ZoneMinutes):
    """A zone's cooling is at its end and the zone stays above set.

    An operator would say: "zone 6 gets all the water there is and still runs hot". For 10 min cooling stands at
    `full_pct` or more with the zone `over_c` above set and not falling, the screw turning, 20 min after its set-point
    moved. Worse at high speed and over weeks: scale. When most of the zones that are being cooled do it at once it is
    pump, chiller or header: one finding. Look-alikes: shear heat with cooling in hand, set-point just lowered
    (falling), a zone without cooling (it never shows any). Missing readings are not judged.
    Memory: 65 min of 5 signals a zone. Common practice, no source.
    """

    full_pct: float = setting(90, 30, 100, "% cooling")
    over_c: float = setting(3, 0.5, 30, "C over set")
    settling_s: float = setting(1200, 0, 7200, "s after a start or a new set-point")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "cooling_scaled"
    family: ClassVar[Family] = "over_temperature"
    title: ClassVar[str] = "full cooling, still too hot"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output|zone_cooling")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_cooling", "cooling_water_temperature", "zone_setpoint")
    quantities: ClassVar[tuple[str, ...]] = ()
    zone_rows: ClassVar[tuple[str, ...]] = ("temperature", "wanted", "cool", "set_age_s", "net")
    line_rows: ClassVar[tuple[str, ...]] = ("running", "started_s", "speed", "water_c")
    past_minutes: ClassVar[int] = 65
    said: ClassVar[tuple[str, ...]] = (
        "value", "wanted", "cool", "count", "cooled", "water", "water_was", "speed",
        "cold_c", "cold_at",
    )  # fmt: skip
    extra_subjects: ClassVar[tuple[str, ...]] = (ALL,)

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Zones with a temperature and an output or a cooling output."""
        there = {*ctx.subjects_of("zone_output"), *ctx.subjects_of("zone_cooling")}
        return tuple(name for name in ctx.subjects_of("zone_temperature") if name in there)

    def channel(self, subject: str) -> str:
        """The temperature; for all together the cooling water."""
        return "cooling_water_temperature" if subject == ALL else channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the 10 min the rule looks back."""
        return Timing(self.on_s, self.off_s)

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone stands above set at full cooling."""
        with np.errstate(invalid="ignore"):
            if ((x.now("temperature") >= x.now("wanted") + self.over_c) & (x.now("cool") >= self.full_pct)).any():
                return None
        known = self._known(x)
        known = np.concatenate((known, np.logical_or.reduce(known, axis=0, keepdims=True)))
        return own, rule(np.zeros(known.shape, bool), known, x.held(x.running()[None, :], 10))

    @staticmethod
    def _known(x: Minutes) -> np.ndarray:
        return np.isfinite(x.now("temperature")) & np.isfinite(x.now("wanted")) & np.isfinite(x.now("cool"))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone, one for all together."""
        value, wanted = x.now("temperature"), x.now("wanted")
        running = x.held(x.running()[None, :], 10)
        settled = (x.now("set_age_s") >= self.settling_s) & (x.line_now("started_s") >= self.settling_s)
        with np.errstate(invalid="ignore"):
            full = x.held(x.zone["cool"] >= self.full_pct, 10)
            above = x.held(x.zone["temperature"] >= x.zone["wanted"] + self.over_c, 10)
            falling = x.slope_c_min(x.zone["temperature"], 10) < -0.1
            some = x.mean(x.zone["cool"], 10) >= 5.0
        holds = full & above & ~falling & running & settled
        count, cooled = holds.sum(axis=0), some.sum(axis=0)
        shared = (count >= 2) & (count >= 0.6 * cooled)
        known = self._known(x)
        level = rule(holds & ~shared, known, running)
        together = rule(shared[None, :], np.logical_or.reduce(known, axis=0, keepdims=True), running)
        blank = np.full((1, x.m), np.nan)
        water = x.line["water_c"][None, :]

        def with_all(rows: np.ndarray) -> np.ndarray:
            return np.concatenate((rows, blank))

        limit = output_limits(x.zones, ctx)
        cold_c, cold_at = mirrored_zones.opposite(value, wanted, x.now("net"), limit, low=True)
        facts = {
            "value": with_all(value),
            "wanted": with_all(wanted),
            "cool": with_all(x.now("cool")),
            "count": count.astype(float),
            "cooled": cooled.astype(float),
            "water": water[0, water.shape[1] - x.m :],
            "water_was": x.ago(water, 60)[0],
            "speed": x.line_now("speed"),
            "cold_c": with_all(cold_c),
            "cold_at": with_all(cold_at),
        }
        score = np.concatenate((value - wanted, count[None, :].astype(float)))
        return own, Judged(np.concatenate((level, together)), score, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """One zone, or pump, chiller or header."""
        water, was = facts["water"], facts["water_was"]
        warm = (f"cooling water has risen to {water:.0f} °C",) if water > was + 3.0 else ()
        against = (f"cooling water is at {water:.0f} °C as before",) if water <= was + 1.0 else ()
        evidence = (
            []
            if water != water
            else [Evidence("cooling water (expected: an hour ago)", water, "C", was, None, "cooling_water_temperature")]
        )
        if subject == ALL:
            return Explanation(
                f"{facts['count']:.0f} of {facts['cooled']:.0f} cooled zones get full cooling and stay above set: "
                "pump, chiller or header",
                2,
                "high" if warm else "medium",
                (Evidence("zones at full cooling and above set", facts["count"], ""), *evidence),
                (
                    Cause("chiller or tower: cooling water too warm", warm, against),
                    Cause("cooling pump, strainer or header valve", against),
                    Cause("screw faster or melt hotter than the cooling can take"),
                ),
                ("cooling water pressure and temperature at the header", "pump and strainer", "screw speed"),
                cautions.HEAT,
            )
        over = facts["value"] - facts["wanted"]
        exchanged = ()
        if facts["cold_c"] > 0:
            cold = self.zones(ctx)[int(facts["cold_at"])]
            said = (f"zone {cold} is {facts['cold_c']:.0f} °C under set at full heat",)
            text = f"couples, or heaters, of this zone and zone {cold} exchanged"
            exchanged = (Cause(text, said, (), ("couples_swapped",)),)
        return Explanation(
            f"zone {subject} {over:.1f} °C above set at {facts['cool']:.0f} % cooling",
            2 if over >= 10 else 3,
            "high",
            (
                Evidence(f"zone {subject}", facts["value"], "C", facts["wanted"], None, self.channel(subject)),
                Evidence("its cooling", facts["cool"], "%"),
                Evidence("screw speed", facts["speed"], "rpm", None, None, "screw_speed"),
                *evidence,
            ),
            (
                *exchanged,
                Cause("cooling bore scaled, valve stuck closed or hand valve shut", ("the other cooled zones hold",)),
                Cause("more shear than this zone's cooling can take", shown_by=("shear_overheating",)),
                Cause("contactor of this zone stuck on", shown_by=("contactor_stuck",)),
            ),
            ("flow and temperature of this zone's cooling return", "its valve and strainer", "heater current"),
            cautions.ELECTRICAL if over < 10 else f"{cautions.HEAT} {cautions.ELECTRICAL}",
        )
