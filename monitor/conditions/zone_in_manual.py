"""A zone's controller does not control: its output stands while the temperature goes where it likes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions.zone_minutes import ALL_OF_IT, Levels, Minutes, ZoneMinutes
from monitor.conditions.zone_signals import output_limits
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import last_known, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

CLOSING_C = 0.5


@dataclass(frozen=True)
class ZoneInManual(ZoneMinutes):
    """A zone was left in manual: its output stands while its temperature wanders.

    An operator would say: "somebody left zone 4 in manual". Flat output for 20 min, neither at zero nor at a limit,
    with the temperature off its set-point, on average by `off_c`, or wandering by `wander_c`: any PI controller would
    have moved by 5 % and more (proportional band 20 to 40 C, value from memory). Or the output stands at zero in
    running with the zone far under set and not rising (not the feed zone: its water may carry it there). A flat
    output under set counts only below the highest output this zone has shown, for it may be at a limit of its own.
    Where `zone_auto` is logged, its word counts: manual for 10 min is said, automatic is believed. Level 2 where the
    zone is `far_c` off.
    Look-alikes: output at its limit (heat-up, heater dead), logger deadband or a stale controller (its temperature is
    held, or most zones are flat at once), a slow loop whose zone is half a degree nearer its set-point than 20 min ago
    (what drives it back and what has added up may cancel for a while), heating switched off (all zones), autotune
    (output steps), set-point just moved (20 min of grace). Once found it stands, whatever the line does, until the
    output moves, automatic is told or the zone has been at its set-point for 20 min. Missing readings are not judged.
    Memory: 21 min of 5 signals a zone. Common practice.
    """

    off_c: float = setting(2, 0.5, 20, "C off set, mean of 20 min")
    wander_c: float = setting(2.5, 0.5, 30, "C of wander in 20 min")
    far_c: float = setting(8, 1, 50, "C off set that needs action soon")
    flat_pct: float = setting(0.4, 0, 5, "% output that counts as flat")
    on_s: float = setting(60, 10, 1800, "s")
    off_s: float = setting(300, 10, 3600, "s")

    name: ClassVar[str] = "zone_in_manual"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "zone left in manual"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output|zone_auto")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_auto", "zone_setpoint", "zone_output")
    quantities: ClassVar[tuple[str, ...]] = ()
    zone_rows: ClassVar[tuple[str, ...]] = ("temperature", "wanted", "output", "auto", "set_age_s")
    line_rows: ClassVar[tuple[str, ...]] = ("hot", "running")
    past_minutes: ClassVar[int] = 21
    said: ClassVar[tuple[str, ...]] = ("value", "wanted", "output", "wander", "told")

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Zones with a temperature and an output or a word on their mode."""
        there = {*ctx.subjects_of("zone_output"), *ctx.subjects_of("zone_auto")}
        return tuple(name for name in ctx.subjects_of("zone_temperature") if name in there)

    def channel(self, subject: str) -> str:
        """The output, which stands."""
        return channel_key("zone_output", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the 20 min the rule looks back."""
        return Timing(self.on_s, self.off_s)

    def begin(self, zones: int, ctx: Context) -> State:
        """Highest and lowest output ever seen of each zone; whether it is in manual, and at which output."""
        seen = {name: np.full(zones, np.nan) for name in ("most", "least", "at")}
        return {**seen, "manual": np.zeros(zones, bool)}

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while every zone is near its set-point and in automatic."""
        if (x.most(np.abs(x.zone["temperature"] - x.zone["wanted"]), 20) >= self.off_c).any():
            return None
        if own["manual"].any() or (x.most(-x.zone["auto"], 10) > -0.5).any():
            return None
        most, least = x.most(x.zone["output"], 1), -x.most(-x.zone["output"], 1)
        most = np.fmax(own["most"], np.where(np.isfinite(most), most, np.nan))
        least = np.fmin(own["least"], np.where(np.isfinite(least), least, np.nan))
        known = self._known(x)
        seen = {**own, "most": most, "least": least}
        return seen, rule(np.zeros(known.shape, bool), known, np.ones(x.m, bool))

    @staticmethod
    def _known(x: Minutes) -> np.ndarray:
        return np.isfinite(x.now("temperature")) & (np.isfinite(x.now("output")) | np.isfinite(x.now("auto")))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        output, value, wanted = x.now("output"), x.now("temperature"), x.now("wanted")
        was, was_wanted = x.ago(x.zone["temperature"], 20), x.ago(x.zone["wanted"], 20)
        most = np.fmax.accumulate(np.concatenate((own["most"][:, None], output), axis=1), axis=1)
        least = np.fmin.accumulate(np.concatenate((own["least"][:, None], output), axis=1), axis=1)
        low, high = x.extremes(x.zone["output"], 20)
        coldest, hottest = x.extremes(x.zone["temperature"], 20)
        complete = x.held(np.isfinite(x.zone["output"]) & np.isfinite(x.zone["temperature"]), 20)
        off = x.mean(x.zone["temperature"] - x.zone["wanted"], 20)
        limit = output_limits(x.zones, ctx)
        heated = np.array([ctx.line.zone_named(zone).kind != "feed" for zone in x.zones]).reshape(-1, 1)
        hot = x.held((x.line["hot"] >= ALL_OF_IT)[None, :], 20)
        with np.errstate(invalid="ignore"):
            flat = complete & (high - low <= self.flat_pct)
            inside = (np.abs(output) > 1.0) & (output < limit - 2.0) & (output > -98.0)
            away = np.abs(value - wanted) >= self.off_c
            # What closes in on its set-point is steered: proportional and integral part may cancel for a while.
            closing = np.abs(value - wanted) <= np.abs(was - was_wanted) - CLOSING_C
            under = (off < 0) & (output >= most[:, 1:] - 5.0)
            chilled = (off > 0) & (output < 0) & (output <= least[:, 1:] + 5.0)
            wanders = (np.abs(off) >= self.off_c) | (hottest - coldest >= self.wander_c)
            stands = flat & inside & away & wanders & ~under & ~chilled & ~closing
            idle = flat & (np.abs(output) <= 0.5) & (off < -2.0 * self.off_c) & (value - coldest <= 0.3)
            idle &= (x.line_now("running") >= ALL_OF_IT) & heated
            grace = x.now("set_age_s") >= 1200.0
            far = np.abs(value - wanted) >= self.far_c
        most_flat = flat.sum(axis=0) >= max(3, int(np.ceil(0.6 * len(flat))))
        auto = x.now("auto")
        by_mode = x.held(x.zone["auto"] < 0.5, 10) & (x.line_now("running") >= ALL_OF_IT)
        holds = ((stands | idle) & grace & hot & ~most_flat & ~(auto >= 0.5)) | by_mode
        at, at_after = last_known(own["at"], np.where(holds, output, np.nan))
        with np.errstate(invalid="ignore"):
            at_set = x.held(np.abs(x.zone["temperature"] - x.zone["wanted"]) < self.off_c, 20)
            moved = (np.abs(output - at) > self.flat_pct) | (auto >= 0.5) | at_set
        holds, manual = two_threshold(own["manual"], holds, moved)
        level = rule(holds, self._known(x), np.ones(x.m, bool))
        level = np.where((level == 1) & far, np.int8(2), level).astype(np.int8)
        facts = {
            "value": value,
            "wanted": wanted,
            "output": output,
            "wander": hottest - coldest,
            "told": by_mode.astype(float),
        }
        after = {"most": most[:, -1].copy(), "least": least[:, -1].copy(), "at": at_after, "manual": manual}
        return after, Judged(level, np.abs(value - wanted), facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """What stands, how far the zone is off."""
        told, output = facts["told"] > 0, facts["output"]
        known, off = output == output, facts["value"] - facts["wanted"]
        stands = f"its output stands at {output:.0f} %" if known else "its controller is in manual"
        place = f"{abs(off):.1f} °C {'over' if off > 0 else 'under'} set" if off == off else "set-point not known"
        evidence = [
            Evidence(
                f"zone {subject}",
                facts["value"],
                "C",
                facts["wanted"],
                None,
                channel_key("zone_temperature", subject),
            ),
            Evidence("temperature wandered in 20 min", facts["wander"], "C"),
        ]
        if known:
            evidence.append(
                Evidence("zone output, unchanged for 20 min", output, "%", None, None, self.channel(subject))
            )
        return Explanation(
            f"zone {subject} in manual: {stands}, {place}"
            if told
            else f"zone {subject} not controlled: {stands}, {place}",
            2 if level > 1 else 3,
            "high" if told else "medium",
            tuple(evidence),
            (
                Cause("zone left in manual", ("the controller itself says so",) if told else ()),
                *(() if told else ("controller of this zone off or failed", "logger keeps an old output")),
            ),
            ("mode of this zone on its controller", "set-point", "back to automatic when near the set-point"),
            cautions.HEAT if level > 1 and off > 0 else "",
        )
