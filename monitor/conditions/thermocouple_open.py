"""A couple broke, shorted or lost its input: its reading jumped where no steel can."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.contract import CLEAR, Context, Explanation, Judged, State, Timing, setting
from monitor.records import Evidence, Family
from monitor.view import Readings

STRETCH = 60
"""Cells looked at together; where nothing happens in them they need not be walked."""

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
        left_out, way_out = np.full(raw.shape, np.nan), np.zeros(raw.shape)
        for first in range(0, raw.shape[1] if subjects else 0, STRETCH):
            part = slice(first, first + STRETCH)
            if self._unchanged(state, raw[:, part], ctx):
                left_out[:, part], way_out[:, part] = state["left_at"][:, None], state["way"][:, None]
                state = {
                    **state,
                    "last": raw[:, part][:, -1].copy(),
                    "stale": np.zeros(len(raw)),
                    "alone": np.zeros(len(raw)),
                }
            else:
                state = self._cell_by_cell(state, raw[:, part], left_out[:, part], way_out[:, part], ctx)
        level = np.where(way_out == DOWN, 2, np.where(way_out != 0, 1, CLEAR)).astype(np.int8)
        facts = {"value": raw, "left_at": left_out, "way": way_out, "output": view.rows("zone_output", subjects)}
        return state, Judged(level, np.abs(np.where(np.isnan(left_out), 0.0, raw - left_out)), facts)

    def _unchanged(self, state: State, raw: np.ndarray, ctx: Context) -> bool:
        """Whether a stretch need not be walked: all zones read, no good one jumps, no jumped one comes back."""
        if (state["way"] == SILENT).any() or (state["stale"] > 3).any() or not state["ever"].all():
            return False
        if state["common"].any():
            return False
        away = state["way"] != 0
        joined = np.concatenate((state["last"][:, None], raw), axis=1)
        calm = np.abs(joined[:, 1:] - joined[:, :-1]) <= self._limit(ctx)
        apart = np.abs(raw - state["left_at"][:, None]) > self.back_c
        return bool(np.where(away[:, None], apart, calm).all())

    def _limit(self, ctx: Context) -> float:
        return max(self.jump_c, self.jump_c_s * ctx.step_s)

    def _cell_by_cell(
        self, state: State, raw: np.ndarray, left_out: np.ndarray, way_out: np.ndarray, ctx: Context
    ) -> State:
        """Walk the cells, filling `left_out` and `way_out`."""
        limit, silent_cells, common_cells = self._limit(ctx), ctx.cells(self.silent_s), ctx.cells(self.common_s)
        most = max(3, int(np.ceil(0.6 * len(raw))))
        last, left, way = state["last"], state["left_at"], state["way"]
        stale, alone, ever, common = state["stale"], state["alone"], state["ever"], state["common"]
        for i in range(raw.shape[1]):
            now = raw[:, i]
            seen = np.isfinite(now)
            jumped = seen & (stale <= 3) & (np.abs(now - last) > limit) & np.isnan(left)
            left = np.where(jumped, last, left)
            common = np.where(jumped & (jumped.sum() >= most), 1.0, np.where(common > 0, common + 1, 0.0))
            told = (jumped & (common == 0)) | (seen & (common >= common_cells))
            way = np.where(told, np.where(now > left, UP, DOWN), way)
            back = seen & ((way == SILENT) | (np.abs(now - left) <= self.back_c))
            left, way = np.where(back, np.nan, left), np.where(back & ~jumped, 0, way)
            common = np.where(np.isnan(left) | told, 0.0, common)
            stale = np.where(seen, 0.0, stale + 1)
            alone = np.where(seen, 0.0, alone + bool(seen.any()))
            ever = ever | seen
            lost = ~seen & ever & (alone >= silent_cells) & (way == 0)
            way = np.where(lost, SILENT, way)
            last = np.where(seen, now, last)
            left_out[:, i], way_out[:, i] = left, way
        return {
            "last": last,
            "left_at": left,
            "way": way,
            "stale": stale,
            "alone": alone,
            "common": common,
            "ever": ever,
        }

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
