"""Couples, or heaters, of two zones are swapped: the output of one moves the temperature of the other."""

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
from monitor.exact import Bools, Floats, ordered_sum, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

LOOK_BACK, HALF = 40, 20
APART = (1, 2)
"""Swapped is what hangs side by side in the cabinet: the next zone or the next but one. Only where two zones leave
their set-points together, one up and one down, the exchange is plain at any distance."""


QUICK_SHARE = 0.2
"""Of its whole range an output that cycles once in ten minutes moves so much a minute, on the mean: that is two and a
half times the 4 min over which a zone's answer is looked at."""


@dataclass(frozen=True)
class CouplesSwapped(ZoneMinutes):
    """Couples or heaters of two zones near each other are swapped.

    An operator would say: "somebody mixed up the plugs of zones 3 and 4". Either, with the screw still, one zone
    stands `apart_c` above set at zero output and does not fall while the other stands as far under set at full
    output and does not rise, both for 10 min; or, over both halves of 40 min in which both outputs moved by 10 % and
    more, each zone's rate of change follows the other's output (correlation above 0.6, outputs of 2 min before) and not
    its own (below 0.2). Said of the zone nearer the throat. Invisible while both run alike. Look-alikes: heater dead
    (its neighbour is not too hot), contactor stuck on (its neighbour is not starved), coupling of neighbours (the
    own output tells more). Missing readings are not judged. Memory: 45 min of 3 signals a zone. Common practice.
    """

    apart_c: float = setting(5, 1, 50, "C above and below set")
    follows: float = setting(0.6, 0.3, 0.95, "correlation with the other zone's output")
    own: float = setting(0.2, -0.5, 0.5, "correlation with its own output")
    on_s: float = setting(120, 10, 1800, "s")
    off_s: float = setting(600, 10, 3600, "s")

    name: ClassVar[str] = "couples_swapped"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "couples or heaters swapped"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_current", "zone_setpoint", "screw_speed")
    quantities: ClassVar[tuple[str, ...]] = ()
    zone_rows: ClassVar[tuple[str, ...]] = ("temperature", "wanted", "net")
    line_rows: ClassVar[tuple[str, ...]] = ("still_s",)
    past_minutes: ClassVar[int] = 50
    said: ClassVar[tuple[str, ...]] = (
        "value", "wanted", "output", "other", "other_value", "other_wanted", "other_output", "by_response",
        "cross", "straight",
    )  # fmt: skip

    def channel(self, subject: str) -> str:
        """The couple of the first of the two."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the minutes the rule looks back."""
        return Timing(self.on_s, self.off_s)

    def begin(self, zones: int, ctx: Context) -> State:
        """No pair known as swapped, for each distance."""
        return {"pair": np.zeros((max(zones - 1, len(APART)), zones), bool)}

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while zones hold, or the screw turns and fewer than two outputs have moved."""
        rows = x.zone["net"]
        moved = x.most(rows, LOOK_BACK) + x.most(-rows, LOOK_BACK) >= 10.0
        away = x.most(np.abs(x.zone["temperature"] - x.zone["wanted"]), 1) >= self.apart_c
        if (
            own["pair"].any()
            or moved.sum() >= 2
            or mirrored_zones.may_be(x)
            or ((x.line_now("still_s") >= 600.0).any() and away.sum() >= 2)
        ):
            return None
        known = np.isfinite(x.now("temperature")) & np.isfinite(x.now("net"))
        return own, rule(np.zeros(known.shape, bool), known, np.ones(x.m, bool))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone; the partner as a fact."""
        zones, m = len(x.zones), x.m
        value, wanted, output = x.now("temperature"), x.now("wanted"), x.now("net")
        limit = output_limits(x.zones, ctx)
        slope = x.slope_c_min(x.zone["temperature"], 10)
        still = x.line_now("still_s") >= 600.0
        with np.errstate(invalid="ignore"):
            hot = x.held(x.zone["temperature"] >= x.zone["wanted"] + self.apart_c, 10) & (slope >= -0.05)
            hot &= x.held(x.zone["net"] <= 1.0, 10)
            cold = x.held(x.zone["temperature"] <= x.zone["wanted"] - self.apart_c, 10) & (slope <= 0.05)
            cold &= x.held(x.zone["net"] >= limit - 2.0, 10)
            # What has been found crossed stays so, screw still or turning, until one of the two is at home again.
            hot_yet = (value >= wanted + self.apart_c / 2) & (output <= 1.0)
            cold_yet = (value <= wanted - self.apart_c / 2) & (output >= limit - 2.0)
        holds, by_response = np.zeros((zones, m), bool), np.zeros((zones, m))
        partner, cross, straight = np.zeros((zones, m)), np.full((zones, m), np.nan), np.full((zones, m), np.nan)
        moved, pairs = self._moved(x), own["pair"].copy()
        mirrored = mirrored_zones.found(x, limit) if mirrored_zones.may_be(x) else None
        for apart in range(1, zones):
            place, beside = apart - 1, apart in APART
            a, b = slice(0, zones - apart), slice(apart, zones)
            pair = ((hot[a] & cold[b]) | (cold[a] & hot[b])) & still & beside
            if mirrored is not None:
                pair |= mirrored.pairs(apart)
            answer = np.zeros(pair.shape, bool)
            if beside and (moved[a] & moved[b]).any():
                answer, across, alike = self._answers(x, a, b, moved[a] & moved[b])
                cross[a], straight[a] = np.where(answer, across, cross[a]), np.where(answer, alike, straight[a])
            crossed = (hot_yet[a] & cold_yet[b]) | (cold_yet[a] & hot_yet[b])
            on, pairs[place, a] = two_threshold(pairs[place, a], pair | answer, ~crossed)
            found = on & ~holds[a]
            holds[a] |= found
            partner[a] = np.where(found, apart, partner[a])
            by_response[a] = np.where(found & answer, 1.0, by_response[a])
        level = rule(holds, np.isfinite(value) & np.isfinite(output), np.ones(m, bool))
        other = np.minimum(np.arange(zones)[:, None] + partner.astype(int), max(zones - 1, 0))
        column = np.arange(m)[None, :]
        facts = {
            "value": value,
            "wanted": wanted,
            "output": output,
            "other": partner,
            "other_value": value[other, column] if zones else value,
            "other_wanted": wanted[other, column] if zones else value,
            "other_output": output[other, column] if zones else value,
            "by_response": by_response,
            "cross": cross,
            "straight": straight,
        }
        return {"pair": pairs}, Judged(level, np.abs(value - wanted), facts)

    def _answers(self, x: Minutes, a: slice, b: slice, both: Bools) -> tuple[Bools, Floats, Floats]:
        """Where each of a pair follows the other's output and not its own; the weaker and the stronger correlation.

        In both halves: one event that moves both zones proves nothing. `both`: where it is looked for at all.
        """
        answer, across, alike = both, np.full(both.shape, np.inf), np.full(both.shape, -np.inf)
        for late in (0, HALF):
            for who in ((a, b), (b, a)):
                across = np.minimum(across, self._follows(x, *who, late))
                answer = answer & (across >= self.follows)
                if not answer.any():  # nearly always, and soon: the rest would be for nothing
                    return answer, across, alike
        for late in (0, HALF):
            for who in ((a, a), (b, b)):
                alike = np.maximum(alike, self._follows(x, *who, late))
        return answer & (alike <= self.own), across, alike

    @staticmethod
    def _moved(x: Minutes) -> np.ndarray:
        """Zones whose output moved by more than 10 % within the minutes looked back on, all of them known, and not to
        and fro every few minutes: minutes and a lag of some of them tell nothing of that, as of on-off control."""
        rows = x.zone["net"]
        low, high = x.extremes(rows, LOOK_BACK)
        with np.errstate(invalid="ignore"):
            slow = x.mean(np.abs(np.diff(rows, prepend=rows[:, :1])), LOOK_BACK) <= QUICK_SHARE * (high - low)
        return (high - low >= 10.0) & slow & x.held(np.isfinite(rows), LOOK_BACK)

    @staticmethod
    def _follows(x: Minutes, temperature_of: slice, output_of: slice, late: int) -> Floats:
        """Correlation of a zone's change in 4 min with the output 2 min before its end, [pair, m].

        Over 20 min that ended `late` minutes ago.
        """
        rows, drive = x.zone["temperature"][temperature_of], x.zone["net"][output_of]
        change = rows[:, 4:] - rows[:, :-4]
        pushed = drive[:, 2:-2]
        width, m = HALF, x.m
        last = change.shape[1] - late
        a, b = (part[:, last - m - (width - 1) : last] for part in (change, pushed))
        known = np.isfinite(a) & np.isfinite(b)
        a, b = np.where(known, a, 0.0), np.where(known, b, 0.0)
        n = ordered_sum(known.astype(float), width)
        with np.errstate(invalid="ignore", divide="ignore"):
            sa, sb = ordered_sum(a, width), ordered_sum(b, width)
            saa, sbb, sab = ordered_sum(a * a, width), ordered_sum(b * b, width), ordered_sum(a * b, width)
            va, vb = saa - sa * sa / n, sbb - sb * sb / n
            enough = (n >= 0.9 * width) & (va > 4.0) & (vb > 100.0)
            return np.where(enough, (sab - sa * sb / n) / np.sqrt(np.where(enough, va * vb, 1.0)), np.nan)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which two, and what shows it."""
        zones, names = self.zones(ctx), ctx.line.zone_names
        other = zones[zones.index(subject) + int(facts["other"])]
        evidence = tuple(
            item
            for name, value, wanted, output in (
                (subject, facts["value"], facts["wanted"], facts["output"]),
                (other, facts["other_value"], facts["other_wanted"], facts["other_output"]),
            )
            for item in (
                Evidence(f"zone {name}", value, "C", wanted, None, channel_key("zone_temperature", name)),
                Evidence(f"output of zone {name}", output, "%", None, None, channel_key("zone_output", name)),
            )
        )
        if facts["by_response"]:
            text = f"zones {subject} and {other}: each temperature follows the other's output, not its own"
            evidence += (
                Evidence("correlation with the other's output, the weaker", facts["cross"], ""),
                Evidence("correlation with its own output, the stronger", facts["straight"], ""),
            )
        else:
            text = f"zones {subject} and {other}: one too hot with its heat off, the other too cold at full heat"
        return Explanation(
            text,
            2,
            "high" if facts["by_response"] else "medium",
            evidence,
            (
                "couples of these two zones swapped",
                "heater cables of these two zones swapped",
                Cause(
                    "heater of the cold zone dead and contactor of the hot one stuck on", (), ("two faults at once",)
                ),
            ),
            ("plugs and terminal numbers of both zones", "was there work on couples or heaters before?"),
            f"{cautions.HEAT} {cautions.ELECTRICAL}",
            {"apart": float(names.index(other) - names.index(subject))},
        )
