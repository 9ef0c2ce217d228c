"""A couple broke, shorted or lost its input: its reading jumped where no steel can."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key
from monitor import cautions, own_pace, stood_silent
from monitor.conditions.couple_jumps import Seen
from monitor.contract import CLEAR, UNKNOWN, Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import Bools, Floats, last_known
from monitor.records import Evidence, Family
from monitor.rule_defaults import COMES_BACK_S
from monitor.view import Readings

STRETCH = 600
"""Cells in which the next event of zones that are away is looked for at a time."""

UP, DOWN, SILENT, SWAPPED, PARTNER = 1, 2, 3, 4, 5
"""How a couple failed: toward the top of its range, toward ambient, no reading at all; its reading and another zone's
were swapped, which is said of the one nearer the throat and not of its partner."""

LEVELS = np.array([CLEAR, 1, 2, 1, 2, CLEAR], np.int8)
"""By the way a couple failed."""

SWAPPED_WITHIN_C = 3.0
"""Two zones that jump in one sample, each as near as this to where the other was, have swapped their readings."""

RANGE_END_C = 50.0
"""An input goes to the end of its range when its couple opens, hundreds of degrees away; a couple that is moved in its
well goes by what wall and air differ there. Common practice, no source."""

OFF_PCT = 0.5
"""A controller that asks for no more heat than this does not answer a reading that is too low: off, or by hand."""


@dataclass(frozen=True)
class ThermocoupleOpen:
    """A zone's couple broke, shorted or lost its input.

    An operator would say: "the thermocouple is gone". The raw reading moves by more than 8 C, or 1 C/s times the
    cadence, from one sample to the next and stays away for 3 samples, of its own where zones are read more seldom than
    the line is judged (`own_pace`): up is an open couple with up-scale burn-out
    (heat goes off, the real zone cools); down is shorted, pinched or open down-scale (full heat: the real zone
    overheats, priority 1). A zone that stays silent for 10 min while other zones read counts as lost input (a logger
    that writes on change lets quiet zones fall silent one by one around a gap). Two zones that jump in one sample to
    each other's readings have swapped couples, inputs or tags: said once, of the zone nearer the throat, priority 1,
    for each controller now heats the other's zone. Look-alikes: one-sample spike, a small die
    that water quenches (it gathers pace, a couple breaks out of rest: `jump_guard.GATHERS`), a gap
    in the whole log (missing readings in all zones are no finding), heat-up (slower), a controller that writes zeros
    while it starts anew (most zones in one sample: said only after `common_s`), a tag that shows the set-point instead
    of the zone (it jumps with it, to it: another finding), a controller that was silent and shows at once what its
    zones did meanwhile (`stood_silent`), what comes to its set-point from far off it and so has come back. It
    ends when the reading is back near where it left; one that comes and goes is one finding. Memory: 15 numbers a zone,
    and how often zones are read. Step rule: common practice, no source; a
    barrel cannot move faster than about 0.25 C/s.
    """

    jump_c: float = setting(8, 3, 100, "C")
    jump_c_s: float = setting(1, 0.3, 20, "C/s")
    back_c: float = setting(6, 1, 50, "C from where it left")
    samples: float = setting(3, 2, 60, "samples away")
    silent_s: float = setting(600, 5, 7200, "s without a reading while others read")
    common_s: float = setting(120, 5, 3600, "s away, where most zones jumped in one sample")

    name: ClassVar[str] = "thermocouple_open"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "couple open, shorted or not read"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_output",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every zone with a temperature."""
        return ctx.subjects_of("zone_temperature")

    def channel(self, subject: str) -> str:
        """The temperature."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The given number of samples in; 30 s out."""
        return Timing(self.samples * ctx.step_s, 30.0, blind_s=1e6, again_s=COMES_BACK_S)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen. stale: samples since the last reading; alone: those of them in which another zone read;
        common: samples since most zones jumped at once, 0 = they did not."""
        count = len(subjects)
        return {
            "last": np.full(count, np.nan),
            "left_at": np.full(count, np.nan),
            "way": np.zeros(count),
            "other": np.zeros(count),
            "stale": np.full(count, 1000.0),
            "alone": np.zeros(count),
            "common": np.zeros(count),
            "ever": np.zeros(count, bool),
            "wanted": np.full(count, np.nan),
            "step": np.full(count, np.nan),
            "bad": np.zeros(count),
            **stood_silent.start(),
            "pace": own_pace.start(count, ctx),
        }

    @staticmethod
    def _wanted(view: Readings, subjects: tuple[str, ...], ctx: Context) -> Floats:
        """Set-points, the recipe's where none is logged, C, [zone, n]."""
        wanted, logged = view.rows("zone_setpoint", subjects), ctx.subjects_of("zone_setpoint")
        unlogged = [row for row, zone in enumerate(subjects) if zone not in logged]
        if unlogged and ctx.recipe:
            wanted = wanted.copy()
            for row in unlogged:
                wanted[row] = ctx.recipe.zones.get(subjects[row], np.nan)
        return wanted

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels: 1 up or silent, 2 down or swapped."""
        raw = view.rows("zone_temperature", subjects, raw=True)
        if not raw.size:
            said = ("value", "left_at", "way", "output", "other")
            return state, Judged(raw.astype(np.int8), raw, dict.fromkeys(said, raw))
        wanted, last_wanted = last_known(state["wanted"], self._wanted(view, subjects, ctx))
        limit_c = max(self.jump_c, self.jump_c_s * ctx.step_s)

        def believed() -> Bools:
            return np.isfinite(view.rows("zone_temperature", subjects))

        seen = Seen(state, raw, believed, limit_c, ctx.cells(self.silent_s), wanted, ctx.step_s)
        came = own_pace.arrived(view, subjects)
        if not seen.events.size and not np.count_nonzero((state["way"] != 0) | ~np.isnan(state["left_at"])):
            # Every couple is well and stays so, as nearly always.
            after = {**seen.after, "pace": own_pace.advance(state["pace"], came, None, self.samples, ctx)[0]}
            return {**state, **after, "wanted": last_wanted}, no_facts(np.full(raw.shape, CLEAR, np.int8))
        walk = _Walk(state, seen, self.back_c, ctx.cells(self.common_s))
        left, way, other = walk.all_cells()
        level, score = np.full(raw.shape, CLEAR, np.int8), np.zeros(raw.shape)
        for zone in walk.failed():
            level[zone] = LEVELS[way[zone].astype(np.int64)]
            # What a mended couple shows of a zone gone cold meanwhile is not the worst of one that went up.
            off = np.where(np.isnan(left[zone]), 0.0, raw[zone] - left[zone])
            score[zone] = np.fmax(np.where(way[zone] == DOWN, -off, off), 0.0)
        jumped = (way == UP) | (way == DOWN)
        pace, waits = own_pace.advance(state["pace"], came, jumped, self.samples, ctx)
        if waits is not None:
            level[waits] = UNKNOWN
        after = {**seen.after, "wanted": last_wanted, "pace": pace, "left_at": walk.left, "way": walk.way}
        after |= {"other": walk.other, "common": walk.common}
        output = view.rows("zone_output", subjects)
        facts = {"value": raw, "left_at": left, "way": way, "output": output, "other": other}
        return after, Judged(level, score, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which way it went, what that makes the controller do."""
        way, key = facts["way"], self.channel(subject)
        before = None if np.isnan(facts["left_at"]) else facts["left_at"]
        value = None if np.isnan(facts["value"]) else facts["value"]
        evidence = (Evidence(f"zone {subject} reads", value, "C", before, None, key),)
        checks = ("couple, plug and cable of this zone", "zone output now", "neighbours and melt temperature")
        if way == SILENT:
            return Explanation(
                f"zone {subject} gives no reading while other zones do",
                3,
                "low",
                evidence,
                ("logger lost this tag, or writes only on change", "couple or its input open"),
                checks,
                cautions.ELECTRICAL,
            )
        if way == SWAPPED:
            zones = self.subjects(ctx)
            other = zones[int(facts["other"])]
            return Explanation(
                f"zones {subject} and {other} jumped to each other's readings: each controller heats the other's zone",
                1,
                "high",
                evidence,
                (
                    "couples of these two zones swapped at plugs or terminals",
                    "inputs or tags of these two zones swapped in controller or logger",
                ),
                ("plugs and terminal numbers of both zones", "both readings at the controller itself"),
                f"{cautions.HEAT} {cautions.ELECTRICAL}",
            )
        if level >= 2 and facts["output"] <= OFF_PCT:
            return Explanation(
                f"zone {subject} jumped down from {before or 0:.0f} °C with its heating off; heated, it would be "
                "overheated",
                3,
                "high",
                evidence,
                ("couple shorted or pinched", "couple open with down-scale burn-out", "couple pulled out"),
                checks,
                cautions.ELECTRICAL,
            )
        if level >= 2:
            return Explanation(
                f"zone {subject} jumped down from {before or 0:.0f} °C: the controller heats, the real zone may "
                "overheat",
                1,
                "high",
                evidence,
                ("couple shorted or pinched", "couple open with down-scale burn-out", "couple pulled out"),
                checks,
                f"{cautions.HEAT} {cautions.ELECTRICAL}",
                {"heats": 1.0},
            )
        if facts["value"] - facts["left_at"] < RANGE_END_C:
            return Explanation(
                f"zone {subject} jumped up from {before or 0:.0f} to {value or 0:.0f} °C, no end of a couple's range: "
                "what it read before or reads now is not the zone",
                2,
                "medium",
                evidence,
                (
                    "couple pushed home or seated anew: it read too low before",
                    "plug or terminal loose",
                    "couple open, up-scale burn-out",
                ),
                checks,
                cautions.ELECTRICAL,
            )
        return Explanation(
            f"zone {subject} jumped up from {before or 0:.0f} °C: the reading is not the zone, which now cools",
            2,
            "high",
            evidence,
            ("couple open, up-scale burn-out", "plug or terminal loose", "input card"),
            checks,
            cautions.ELECTRICAL,
            {"heats": -1.0},
        )


class _Walk:
    """Goes from event to event: in the cells between them no zone is found otherwise than before.

    left, way, other, common: as in the state of `ThermocoupleOpen`, after the cells walked so far, [zone].
    ways: `way` as it was from each event to the next.
    """

    def __init__(self, state: State, seen: Seen, back_c: float, common_cells: int) -> None:
        self.seen, self.back_c, self.common_cells = seen, back_c, common_cells
        self.left, self.way, self.common = state["left_at"], state["way"], state["common"]
        self.other = state["other"]
        self.ways = [self.way]
        self.most = max(3, int(np.ceil(0.6 * len(seen.raw))))

    def all_cells(self) -> tuple[Floats, Floats, Floats]:
        """`left`, `way` and `other` in every cell, [zone, n] each."""
        n, done = self.seen.raw.shape[1], 0
        leaps = [*self.seen.events.tolist(), n]
        since, left, way, other = [0], [self.left], self.ways, [self.other]
        while True:
            event = self._next(done, leaps[bisect_left(leaps, done)])
            self.common = np.where(self.common > 0, self.common + (event - done), 0.0)
            if event == n:
                if len(since) == 1:
                    same = (np.broadcast_to(rows[0][:, None], self.seen.raw.shape) for rows in (left, way, other))
                    return tuple(same)  # type: ignore[return-value]
                spans = np.diff([*since, n])
                run = (np.repeat(np.array(rows).T, spans, axis=1) for rows in (left, way, other))
                return tuple(run)  # type: ignore[return-value]
            self._cell(event)
            since.append(event)
            left.append(self.left)
            way.append(self.way)
            other.append(self.other)
            done = event + 1

    def failed(self) -> list[int]:
        """Zones that were found to have failed in any of the cells."""
        return np.flatnonzero(np.logical_or.reduce(np.array(self.ways) != 0, axis=0)).tolist()

    def _next(self, first: int, leap: int) -> int:
        """The first cell from `first` on that may change something; `leap`, the next leap or loss, at the latest."""
        zones = np.flatnonzero((self.way != 0) | ~np.isnan(self.left))
        if not len(zones):
            return leap
        left, common = self.left[zones, None], self.common[zones, None]
        silent, waits = self.way[zones, None] == SILENT, common > 0
        for start in range(first, leap, STRETCH):
            part = slice(start, min(start + STRETCH, leap))
            counted = common + np.arange(part.start - first, part.stop - first) + 1
            may = silent | (np.abs(self.seen.raw[zones, part] - left) <= self.back_c)
            may |= waits & (counted >= self.common_cells)
            found = np.flatnonzero(np.logical_or.reduce(self.seen.here[zones, part] & may, axis=0))
            if len(found):
                return start + int(found[0])
        return leap

    def _cell(self, i: int) -> None:
        """One cell, as the rule has it."""
        seen, left, way, common = self.seen, self.left, self.way, self.common
        now, here = seen.raw[:, i], seen.here[:, i]
        jumped = seen.leaps[:, i] & np.isnan(left)
        left = np.where(jumped, seen.before(np.arange(len(now)), i), left)
        common = np.where(jumped & (jumped.sum() >= self.most), 1.0, np.where(common > 0, common + 1, 0.0))
        told = (jumped & (common == 0)) | (here & (common >= self.common_cells))
        way = np.where(told, np.where(now > left, UP, DOWN), way)
        self._swaps(np.flatnonzero(jumped & told), i, way)
        back = here & ((way == SILENT) | (np.abs(now - left) <= self.back_c))
        left, way = np.where(back, np.nan, left), np.where(back & ~jumped, 0, way)
        self.common = np.where(np.isnan(left) | told, 0.0, common)
        self.left, self.way = left, np.where(seen.lost[:, i] & (way == 0), SILENT, way)

    def _swaps(self, zones: NDArray[np.int64], i: int, way: Floats) -> None:
        """Marks in `way` the zones that have jumped in this cell to each other's last readings."""
        if len(zones) < 2:
            return
        now, before = self.seen.raw[zones, i], self.seen.before(zones, i)
        near = np.abs(now[:, None] - before[None, :]) <= SWAPPED_WITHIN_C
        other = self.other.copy()
        for a, b in np.argwhere(np.triu(near & near.T, 1)).tolist():
            if way[zones[a]] in (UP, DOWN) and way[zones[b]] in (UP, DOWN):
                way[zones[a]], way[zones[b]] = SWAPPED, PARTNER
                other[zones[a]] = zones[b]
        self.other = other
