"""A zone's temperature swings regularly about its set-point: hunting, and the saw-tooth of steam in its cooling."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions.regular_cycles import NONE, cycles, growing, may_swing, resolution
from monitor.conditions.zone_minutes import ALL_OF_IT, Levels, Minutes, ZoneMinutes
from monitor.conditions.zone_signals import zones_with_temperature
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import trailing_extremes
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import COMES_BACK_S

TALL, LARGE = 3.0, 5.0
"""Times the least height from which three alike cycles of a running line are enough, and from which two cycles that
grow: 6 C is past the usual tolerance either way together, 10 C past the outer one, and only a loop drives steel to and
fro by that at one set-point. Common practice, no source."""

WEARS_PCT = 50.0
"""An output that swings so far works contactor and cooling valve hard, however little the steel shows of it."""

SWITCHED_PCT, AT_AN_END_PCT, SWITCHINGS = 20.0, 2.0, 2
"""An output that swings by so much and stands at nothing or at its most, but for the means in which it is switched on
and off, so many a cycle, is on-off control: a loop's output passes through what lies between. Own choice."""

AGAINST_HEAT = 0.5
"""So much of its fall a swing makes against the heat: water that flashes goes on cooling a zone that is heated again.
Where the switching alone makes the swing it is what the couple is late by. Common practice, no source."""

STEAM_S, STEAM_FALL = 300.0, 0.45
"""A cycle so short, with so small a part of it falling, is no loop of a barrel zone: its own period is two to four dead
times and a lag of 10 to 45 min makes it even (values from memory)."""

QUENCHED_FALL = 0.45
"""A couple behind some wall rounds the trough: what is quenched is longer on its way down than water takes."""

STEEP_S, STEEP, STEEL_C_MIN, LEAST_DUTY_PCT, UNSEEN_PCT = 30.0, 1.5, 6.0, 10.0, 30.0
"""A zone loses, for the heat its controller takes from it, as large a part of what full heat gives it in a minute
(value from memory): what falls half as fast again over so many seconds is quenched. So much of it feed and neighbours
may take unseen (common practice, no source)."""


@dataclass(frozen=True)
class Stretch:
    """Stretches of `width` means. may: by the new mean with which one ends, zones that may cycle and that may swing
    ever more there, see `may_swing`."""

    width: int
    may: Mapping[int, list[tuple[int, bool, bool]]]


@dataclass(frozen=True)
class ZoneHunting(ZoneMinutes):
    """A zone's temperature swings regularly about its set-point.

    An operator would say: "zone 2 hunts". Looked at every 5 min, over the last 90, 60, 40, 30 and 20 min: at least four
    whole cycles of 2 to 20 min, more than `height_c` peak to peak (the display's rounding taken off), lengths within
    25 % and heights within 40 % of each other, the swing still there in the last third, set-point unmoved for the whole
    stretch. The taller, the fewer: three cycles of three times that height are enough while product is made, two that
    grow to five times it. An output that only knows its two ends needs six cycles: fewer are autotune. As many are
    on-off control, a note while the swing is small. Look-alikes: start-up settling (dies down: heights unlike), wander
    (irregular), rounding (height), cyclic set-points (not judged), steam flash (`steam_flash`: shorter, saw-tooth).
    Missing readings are not judged. Memory: 90 min of half-minute means, 2 signals a zone. Common practice, no source;
    a loop of 90 s dead time and 30 min lag has its ultimate period at 353 s.
    """

    height_c: float = setting(2, 0.5, 30, "C peak to peak")
    cycles: float = setting(4, 3, 10, "cycles")
    shortest_s: float = setting(120, 60, 1200, "s a cycle")
    longest_s: float = setting(1200, 120, 3600, "s a cycle")
    on_s: float = setting(10, 10, 1800, "s")
    off_s: float = setting(900, 10, 3600, "s")

    name: ClassVar[str] = "zone_hunting"
    family: ClassVar[Family] = "heater"
    title: ClassVar[str] = "zone temperature hunts"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_output", "zone_setpoint", "zone_auto")
    quantities: ClassVar[tuple[str, ...]] = ()
    grid_s: ClassVar[float] = 30.0
    zone_rows: ClassVar[tuple[str, ...]] = ("temperature", "net", "set_age_s", "auto")
    line_rows: ClassVar[tuple[str, ...]] = ("hot", "end_s", "running")
    past_minutes: ClassVar[int] = 180
    stretches_s: ClassVar[tuple[float, ...]] = (5400.0, 3600.0, 2400.0, 1800.0, 1200.0)
    every_s: ClassVar[int] = 300
    grows: ClassVar[bool] = True
    read_as: ClassVar[str] = "temperature"
    said: ClassVar[tuple[str, ...]] = ("value", "height", "period", "count", "output_height", "fall", "bang")

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Every zone with a temperature."""
        return zones_with_temperature(ctx)

    def channel(self, subject: str) -> str:
        """The temperature."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The cycles are the delay."""
        return Timing(self.on_s, self.off_s, again_s=COMES_BACK_S)

    def begin(self, zones: int, ctx: Context) -> State:
        """The last verdict, which stands until the next look."""
        return {"found": np.zeros(zones, bool), "facts": np.full((len(self.said) - 1, zones), np.nan)}

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until the next look, where the last one found nothing; see `resting`.

        The time of a mean is the middle of its cells: a look comes up to one mean after its mark.
        """
        looks, mean = max(1, round(self.every_s / ctx.step_s)), max(1, round(self.grid_s / ctx.step_s))
        return 1 if state["own"]["found"].any() or index % looks <= mean else looks - index % looks

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see where nothing hunted at the last look and no look is due."""
        if own["found"].any() or len(self._looks(x, ctx)):
            return None
        value = x.now(self.read_as)
        hot = x.line_now("hot") >= ALL_OF_IT
        return own, rule(np.zeros(value.shape, bool), np.isfinite(value), hot[None, :])

    def _looks(self, x: Minutes, ctx: Context) -> list[int]:
        """The new means with which a stretch to be looked at ends."""
        step_s, ends = self._step_s(ctx), x.line_now("end_s")
        return np.flatnonzero(ends // self.every_s != (ends - step_s) // self.every_s).tolist()

    def _step_s(self, ctx: Context) -> float:
        return max(1, round(self.grid_s / ctx.step_s)) * ctx.step_s

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """Look from time to time; one row a zone."""
        value, m, zones = x.now(self.read_as), x.m, len(x.zones)
        step_s = self._step_s(ctx)
        found, kept = np.zeros((zones, m), bool), np.full((len(self.said) - 1, zones, m), np.nan)
        last, facts = own["found"], own["facts"]
        hot = x.line["hot"] >= ALL_OF_IT
        looks = self._looks(x, ctx)
        stretches = [self._stretch(x, hot, round(length_s / step_s), looks, step_s) for length_s in self.stretches_s]
        for i, until in itertools.pairwise([0, *(look for look in looks if look), m]):
            if i or (looks and looks[0] == 0):
                last, facts = self._look_at_all(x, stretches, i, step_s)
            found[:, i:until], kept[:, :, i:until] = last[:, None], facts[:, :, None]
        level = rule(found, np.isfinite(value), (hot[len(hot) - m :])[None, :])
        out = {"value": value, **{name: kept[place] for place, name in enumerate(self.said[1:])}}
        return {"found": last.copy(), "facts": facts.copy()}, Judged(level, out["height"], out)

    def _stretch(self, x: Minutes, hot: np.ndarray, cells: int, looks: list[int], step_s: float) -> Stretch:
        """What may swing in the stretches of so many means that end with each look, all looks at once."""
        width, at = min(cells, self.past_minutes), np.array(looks, np.int64)
        if not looks:
            return Stretch(width, {})
        temperature = x.zone[self.read_as]
        ends = temperature.shape[1] - x.m + at + 1
        steady = x.held(hot[None, :], width)[:, at] & (x.zone["set_age_s"][:, ends - 1] >= width * step_s)
        if not steady.any():
            return Stretch(width, {})
        low, high, _ = trailing_extremes(temperature[:, : width - 1], temperature[:, width - 1 :])
        with np.errstate(invalid="ignore"):
            lively = steady & ((high - low)[:, ends - width] >= self.height_c)
        look, zone = np.nonzero(lively.T)
        parts = np.lib.stride_tricks.sliding_window_view(temperature, width, axis=1)[zone, ends[look] - width]
        cycling, growing = may_swing(parts, self.height_c, self.grows)
        may: dict[int, list[tuple[int, bool, bool]]] = {}
        for i in np.flatnonzero(cycling | growing).tolist():
            found = int(zone[i]), bool(cycling[i]), bool(growing[i])
            may.setdefault(looks[look[i]], []).append(found)
        return Stretch(width, may)

    def _look_at_all(
        self, x: Minutes, stretches: list[Stretch], i: int, step_s: float
    ) -> tuple[np.ndarray, np.ndarray]:
        """Which zones hunt in the stretches that end with the new mean `i`, [zone], and their facts."""
        zones, end = len(x.zones), x.zone[self.read_as].shape[1] - x.m + i + 1
        found, facts = np.zeros(zones, bool), np.full((len(self.said) - 1, zones), np.nan)
        for stretch in stretches:
            part = slice(end - stretch.width, end)
            for zone, *may in stretch.may.get(i, ()):
                seen = None if found[zone] else self._look(x, zone, part, step_s, *may)
                if seen is not None:
                    found[zone], facts[:, zone] = True, seen
        return found, facts

    def _look(
        self, x: Minutes, zone: int, part: slice, step_s: float, may_cycle: bool, may_grow: bool
    ) -> np.ndarray | None:
        """Height, period, count, swing of the output, share of falling, only two ends; None where it does not hunt.

        may_cycle, may_grow: see `may_swing`.
        """
        swing, auto = x.zone[self.read_as][zone, part], x.zone["auto"][zone, part]
        if (auto < 0.5).any():
            return None
        seen, least = cycles(swing, self.height_c) if may_cycle else NONE, self.cycles
        if seen.height >= TALL * self.height_c and x.running()[part].all():
            least = min(least, 3.0)
        if may_grow and not (seen.regular and seen.count >= least):
            large = LARGE * self.height_c if x.running()[part].all() else np.inf
            more = growing(swing, max(self.height_c, 2.0 * resolution(swing)), large)
            if more.regular and not _relay(x.zone["net"][zone, part][-round(more.count * more.length) :]):
                seen, least = more, more.count
        if not seen.regular:
            return None
        period, height = seen.length * step_s, seen.height - resolution(swing)
        third = swing[-(len(swing) // 3) :]
        alive = np.ptp(third) >= 0.6 * seen.height
        if not (alive and height > self.height_c and self._fits(period, seen.fall_share)):
            return None
        output = x.zone["net"][zone, part][-round(seen.count * seen.length) :]
        known = output[np.isfinite(output)]
        ends = (known <= AT_AN_END_PCT) | (known >= 98.0)
        bang = bool(len(known)) and (float(ends.mean()) >= 0.9 or _switched(known, seen.count))
        if seen.count < max(least, 6 if bang else 0):
            return None
        swings = float(np.ptp(known)) if len(known) else np.nan
        return np.array([height, period, seen.count, swings, seen.fall_share, float(bang)])

    def _fits(self, period_s: float, fall_share: float) -> bool:
        """Whether cycles of this length and shape are this condition's."""
        return self.shortest_s <= period_s <= self.longest_s

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How high, how long, what the output does."""
        swings = facts["output_height"]
        evidence = [
            Evidence(f"zone {subject}, peak to peak", facts["height"], "C", None, None, self.channel(subject)),
            Evidence("cycle", facts["period"] / 60, "min"),
            Evidence("cycles seen", facts["count"], ""),
        ]
        if swings == swings:
            evidence.append(Evidence("output swings by", swings, "%", None, None, channel_key("zone_output", subject)))
        on_off = facts["bang"] > 0 and swings >= SWITCHED_PCT
        moves = ("its output swings with it",) if swings >= 5 and not on_off else ()
        still = ("its output hardly moves",) if swings < 5 else ()
        ends = (f"its output is either nothing or {swings:.0f} %",) if on_off else ()
        short = facts["period"] <= STEAM_S and facts["fall"] <= STEAM_FALL and ctx.line.zone_named(subject).cooled
        shape = (f"a cycle of {facts['period'] / 60:.1f} min that falls in {100 * facts['fall']:.0f} % of it",)
        steam = Cause("steam in its cooling, or its water in pulses", shape, (), ("steam_flash",))
        tuned = Cause("controller badly tuned for this zone", moves, shape if short else (*still, *ends))
        sticks = Cause("cooling valve or contactor that sticks" + ("" if on_off else ", or on-off control"))
        switches = Cause("on-off control: it swings by what the steel stores", ends)
        return Explanation(
            f"zone {subject} {'is switched on and off and swings' if on_off else 'hunts'} by {facts['height']:.1f} °C, "
            f"a cycle every {facts['period'] / 60:.0f} min",
            # Switched once in minutes, a contactor does not wear.
            3 if facts["height"] >= 6 or (swings >= WEARS_PCT and not on_off) else 4,
            "medium",
            tuple(evidence),
            (
                *((switches,) if on_off else ()),
                *((steam,) if short else ()),
                tuned,
                sticks,
                Cause("couple of another zone in this one", shown_by=("couples_swapped",)),
                Cause("something outside swings: load, cooling water, a neighbour", still, moves),
            ),
            ("tuning of this zone", "its cooling valve", "does pressure swing in the same rhythm?"),
        )


def _switched(output: np.ndarray, cycles_seen: float) -> bool:
    """Whether an output of so many cycles is nothing or its most, or full cooling, in all means but those in which it
    is switched."""
    most, least = float(output.max()), float(output.min())
    between = np.abs(output) > AT_AN_END_PCT
    between &= (output < most - AT_AN_END_PCT) & (output > least + AT_AN_END_PCT)
    switchings = SWITCHINGS * cycles_seen
    if least < -AT_AN_END_PCT:
        # With a fan or valve beside the heater it is switched twice as often, and a short burst of it fills no mean;
        # most of what is left is at an end.
        switchings = min(3 * switchings, 0.5 * len(output))
    lowest = least <= -SWITCHED_PCT or abs(least) <= AT_AN_END_PCT
    return lowest and most >= SWITCHED_PCT and bool(np.count_nonzero(between) <= switchings)


def _relay(output: np.ndarray) -> bool:
    """Whether an output is at full heat or at nothing half of the time: a controller that tunes itself."""
    known = np.abs(output[np.isfinite(output)])
    return bool(len(known)) and float(((known <= 2.0) | (known >= 98.0)).mean()) >= 0.5


@dataclass(frozen=True)
class SteamFlash(ZoneHunting):
    """Water flashes to steam in a zone's cooling: a saw-tooth of some minutes in this zone alone.

    As `zone_hunting`, but on 10 s means over 30 min: cycles of 1 to 5 min that fall in less than
    `fall_share` of their length and climb in the rest. Where the output is logged: with some cooling in them (heating
    off for half the time, where only heating is), or falling in less than `alone_share`, or half as fast again as the
    zone would for the heat that its output takes from it, which no controller and no bare steel does: a valve that
    passes floods the hot bore by itself. Where the output is switched on and off, the fall must go on for half of its
    way against the heat: else it is the swing of on-off control. Zones without cooling are not judged. Looked
    at as read: a couple beside the bore falls faster than the steel round it can, which `jump_guard` takes out; a
    broken couple does not come back as regularly.
    Memory: 30 min of 10 s means.
    """

    height_c: float = setting(1.5, 0.5, 30, "C peak to peak")
    shortest_s: float = setting(60, 30, 600, "s a cycle")
    longest_s: float = setting(300, 60, 1200, "s a cycle")
    fall_share: float = setting(0.35, 0.1, 0.5, "of a cycle spent falling")
    alone_share: float = setting(0.3, 0.1, 0.5, "of a cycle spent falling, where no cooling is called for")

    name: ClassVar[str] = "steam_flash"
    title: ClassVar[str] = "steam flashes in a zone's cooling"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_output", "zone_cooling")
    grid_s: ClassVar[float] = 10.0
    zone_rows: ClassVar[tuple[str, ...]] = ("as_read", "net", "set_age_s", "auto")
    past_minutes: ClassVar[int] = 180
    stretches_s: ClassVar[tuple[float, ...]] = (1800.0, 900.0)
    grows: ClassVar[bool] = False
    read_as: ClassVar[str] = "as_read"

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Zones that have cooling, by the line file."""
        return tuple(name for name in zones_with_temperature(ctx) if ctx.line.zone_named(name).cooled)

    def _look(
        self, x: Minutes, zone: int, part: slice, step_s: float, may_cycle: bool, may_grow: bool
    ) -> np.ndarray | None:
        seen = super()._look(x, zone, part, step_s, may_cycle, may_grow)
        output = x.zone["net"][zone, part]
        known = output[np.isfinite(output)]
        asked = not len(known) or (known < -1.0).any() or float((known <= 1.0).mean()) >= 0.5
        if seen is None:
            return None
        _, period, count = seen[:3]
        swings = slice(-round(count * period / step_s), None)
        on_off = np.isfinite(output[swings]).all() and _switched(output[swings], count)
        if on_off and self._heat_ends_it(x.zone[self.read_as][zone, part][swings], output[swings]):
            return None
        fall = seen[self.said.index("fall") - 1]
        if fall <= (self.fall_share if asked else self.alone_share):
            return seen
        return seen if not asked and self._quenched(x.zone[self.read_as][zone, part], known, step_s) else None

    @staticmethod
    def _heat_ends_it(swing: np.ndarray, output: np.ndarray) -> bool:
        """Whether most of what a zone falls that is switched on and off, it falls before its heat comes on again."""
        falls = np.fmax(swing[:-1] - swing[1:], 0.0)
        with np.errstate(invalid="ignore"):
            heated = falls[(output[:-1] > AT_AN_END_PCT) & (output[1:] > AT_AN_END_PCT)].sum()
        return bool(heated <= AGAINST_HEAT * falls.sum())

    @staticmethod
    def _quenched(swing: np.ndarray, output: np.ndarray, step_s: float) -> bool:
        """Whether a tenth of all its cells fall faster than steel does for the heat that is taken from it."""
        cells = max(1, round(STEEP_S / step_s))
        mean, taken = float(output.mean()), float(output.mean() - output.min())
        duty = max(min(mean, max(taken, UNSEEN_PCT)), LEAST_DUTY_PCT)
        most = STEEP * STEEL_C_MIN * duty / 100.0 * cells * step_s / 60.0 + resolution(swing)
        return float((swing[:-cells] - swing[cells:] >= most).mean()) >= 0.1

    def _fits(self, period_s: float, fall_share: float) -> bool:
        return self.shortest_s <= period_s <= self.longest_s and fall_share <= max(self.fall_share, QUENCHED_FALL)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How high, how long, how steep."""
        return Explanation(
            f"zone {subject} saw-tooths by {facts['height']:.1f} °C every {facts['period'] / 60:.1f} min: steam in its "
            "cooling",
            4 if facts["height"] < 4 else 3,
            "medium",
            (
                Evidence(f"zone {subject}, peak to peak", facts["height"], "C", None, None, self.channel(subject)),
                Evidence("cycle", facts["period"] / 60, "min"),
                Evidence("falls in", 100 * facts["fall"], "% of a cycle"),
                Evidence("cycles seen", facts["count"], ""),
            ),
            (
                Cause(
                    "water flashes to steam in this zone's bore: flow too small or pulses too long",
                    ("steep fall, slow climb",),
                ),
                "cooling valve sticks or its pulse is too long",
            ),
            ("flow and back pressure of this zone's cooling", "pulse length of its valve", "scale in the bore"),
            cautions.HEAT,
        )
