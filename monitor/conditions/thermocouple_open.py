"""A couple broke, shorted or lost its input: its reading jumped where no steel can."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key
from monitor import cautions
from monitor.contract import CLEAR, Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Floats, accumulate_while, last_known
from monitor.records import Evidence, Family
from monitor.view import Readings

STRETCH = 600
"""Cells in which the next event of zones that are away is looked for at a time."""

FRESH_CELLS = 3
"""A jump is told from a reading no older than so many cells."""

UP, DOWN, SILENT = 1, 2, 3
"""How a couple failed: toward the top of its range, toward ambient, no reading at all."""


@dataclass(frozen=True)
class ThermocoupleOpen:
    """A zone's couple broke, shorted or lost its input.

    An operator would say: "the thermocouple is gone". The raw reading moves by more than 8 C, or 1 C/s times the
    cadence, from one sample to the next and stays away for 3 samples: up is an open couple with up-scale burn-out
    (heat goes off, the real zone cools); down is shorted, pinched or open down-scale (full heat: the real zone
    overheats, priority 1). A zone that stays silent for 10 min while other zones read counts as lost input (a logger
    that writes on change lets quiet zones fall silent one by one around a gap). Look-alikes: one-sample spike, a gap
    in the whole log (missing readings in all zones are no finding), heat-up (slower), a controller that writes zeros
    while it starts anew (most zones in one sample: said only after `common_s`). It ends when the reading is back near
    where it left. Memory: 7 numbers a zone. Step rule: common practice, no source; a barrel cannot move faster than
    about 0.25 C/s.
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
        return Timing(self.samples * ctx.step_s, 30.0, blind_s=1e6)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen. stale: samples since the last reading; alone: those of them in which another zone read;
        common: samples since most zones jumped at once, 0 = they did not."""
        count = len(subjects)
        return {
            "last": np.full(count, np.nan),
            "left_at": np.full(count, np.nan),
            "way": np.zeros(count),
            "stale": np.full(count, 1000.0),
            "alone": np.zeros(count),
            "common": np.zeros(count),
            "ever": np.zeros(count, bool),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Levels: 1 up or silent, 2 down."""
        raw = view.rows("zone_temperature", subjects, raw=True)
        output = view.rows("zone_output", subjects)
        if not raw.size:
            return state, Judged(raw.astype(np.int8), raw, {"value": raw, "left_at": raw, "way": raw, "output": raw})
        seen = _Seen(state, raw, max(self.jump_c, self.jump_c_s * ctx.step_s), ctx.cells(self.silent_s))
        walk = _Walk(state, seen, self.back_c, ctx.cells(self.common_s))
        left, way = walk.all_cells()
        if way.any():
            level = np.where(way == DOWN, 2, np.where(way != 0, 1, CLEAR)).astype(np.int8)
            score = np.abs(np.where(np.isnan(left), 0.0, raw - left))
        else:
            level, score = np.full(raw.shape, CLEAR, np.int8), np.zeros(raw.shape)
        after = {
            "last": seen.last[:, -1].copy(),
            "left_at": walk.left,
            "way": walk.way,
            "stale": seen.stale[:, -1].copy(),
            "alone": seen.alone[:, -1].copy(),
            "common": walk.common,
            "ever": seen.ever[:, -1].copy(),
        }
        return after, Judged(level, score, {"value": raw, "left_at": left, "way": way, "output": output})

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
            )
        return Explanation(
            f"zone {subject} jumped up from {before or 0:.0f} °C: the reading is not the zone, which now cools",
            2,
            "high",
            evidence,
            ("couple open, up-scale burn-out", "plug or terminal loose", "input card"),
            checks,
            cautions.ELECTRICAL,
        )


class _Seen:
    """What the readings alone say of each cell, whatever was found before it, [zone, n] each.

    here: there is a reading. last, before: the newest one, with this cell and without it. stale: cells since it.
    alone: those of them in which another zone read. ever: there has been one. leaps: a step from a fresh reading that
    no steel makes. lost: silent for too long.
    """

    def __init__(self, state: State, raw: Floats, limit_c: float, silent_cells: int) -> None:
        self.raw, self.here = raw, np.isfinite(raw)
        self.last, _ = last_known(state["last"], raw)
        self.before = _one_before(state["last"], self.last)
        with np.errstate(invalid="ignore"):
            self.leaps = np.abs(raw - self.before) > limit_c
        if self.here.all():
            self.stale = self.alone = np.zeros(raw.shape)
            self.ever, self.lost = self.here, np.zeros(raw.shape, bool)
            self.leaps[:, 0] &= state["stale"] <= FRESH_CELLS
            return
        one, any_here = np.ones(raw.shape), np.logical_or.reduce(self.here, axis=0).astype(float)
        self.stale, _ = accumulate_while(state["stale"], one, ~self.here)
        self.alone, _ = accumulate_while(state["alone"], one * any_here, ~self.here)
        self.ever = state["ever"][:, None] | np.logical_or.accumulate(self.here, axis=1)
        self.leaps &= self.here & (_one_before(state["stale"], self.stale) <= FRESH_CELLS)
        self.lost = ~self.here & self.ever & (self.alone >= silent_cells)

    def events(self) -> NDArray[np.int64]:
        """Cells in which a zone leaps or begins to be lost."""
        begins = self.lost & ~_one_before(np.zeros(len(self.raw), bool), self.lost)
        return np.flatnonzero(np.logical_or.reduce(self.leaps | begins, axis=0))


def _one_before(state: NDArray[Any], rows: NDArray[Any]) -> NDArray[Any]:
    """What held before each cell. state: before the first."""
    return np.concatenate((state[:, None], rows[:, :-1]), axis=1)


class _Walk:
    """Goes from event to event: in the cells between them no zone is found otherwise than before.

    left, way, common: as in the state of `ThermocoupleOpen`, after the cells walked so far, [zone].
    """

    def __init__(self, state: State, seen: _Seen, back_c: float, common_cells: int) -> None:
        self.seen, self.back_c, self.common_cells = seen, back_c, common_cells
        self.left, self.way, self.common = state["left_at"], state["way"], state["common"]
        self.most = max(3, int(np.ceil(0.6 * len(seen.raw))))

    def all_cells(self) -> tuple[Floats, Floats]:
        """`left` and `way` in every cell, [zone, n] each."""
        n, done = self.seen.raw.shape[1], 0
        leaps = [*self.seen.events().tolist(), n]
        since, left, way = [0], [self.left], [self.way]
        while True:
            event = self._next(done, leaps[bisect_left(leaps, done)])
            self.common = np.where(self.common > 0, self.common + (event - done), 0.0)
            if event == n:
                spans = np.diff([*since, n])
                return np.repeat(np.array(left).T, spans, axis=1), np.repeat(np.array(way).T, spans, axis=1)
            self._cell(event)
            since.append(event)
            left.append(self.left)
            way.append(self.way)
            done = event + 1

    def _next(self, first: int, leap: int) -> int:
        """The first cell from `first` on that may change something; `leap`, the next leap or loss, at the latest."""
        zones = np.flatnonzero((self.way != 0) | ~np.isnan(self.left))
        if not len(zones):
            return leap
        left, common = self.left[zones, None], self.common[zones, None]
        silent, waits = self.way[zones, None] == SILENT, common > 0
        for start in range(first, leap, STRETCH):
            cells = np.arange(start, min(start + STRETCH, leap))
            raw, here = self.seen.raw[zones, cells[0] : cells[-1] + 1], self.seen.here[zones, cells[0] : cells[-1] + 1]
            may = silent | (np.abs(raw - left) <= self.back_c) | (waits & (common + cells - first + 1 >= self.common_cells))
            found = np.flatnonzero(np.logical_or.reduce(here & may, axis=0))
            if len(found):
                return start + int(found[0])
        return leap

    def _cell(self, i: int) -> None:
        """One cell, as the rule has it."""
        seen, left, way, common = self.seen, self.left, self.way, self.common
        now, here = seen.raw[:, i], seen.here[:, i]
        jumped = seen.leaps[:, i] & np.isnan(left)
        left = np.where(jumped, seen.before[:, i], left)
        common = np.where(jumped & (jumped.sum() >= self.most), 1.0, np.where(common > 0, common + 1, 0.0))
        told = (jumped & (common == 0)) | (here & (common >= self.common_cells))
        way = np.where(told, np.where(now > left, UP, DOWN), way)
        back = here & ((way == SILENT) | (np.abs(now - left) <= self.back_c))
        left, way = np.where(back, np.nan, left), np.where(back & ~jumped, 0, way)
        self.common = np.where(np.isnan(left) | told, 0.0, common)
        self.left, self.way = left, np.where(seen.lost[:, i] & (way == 0), SILENT, way)
