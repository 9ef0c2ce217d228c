"""A couple's reading does not move although what heats its zone has."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ingest.roles import channel_key
from monitor import cautions
from monitor.conditions import at_rest_elsewhere, frozen_at_full
from monitor.conditions.zone_signals import wanted
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    running_total,
    trailing_extremes,
    trailing_mean,
    two_threshold,
    with_past,
)
from monitor.fixed_base import known_medians
from monitor.levels import rule
from monitor.records import Evidence, Family
from monitor.view import CoarseView

USUAL_RESOLUTION_C = 0.1

FINE_C = 0.15
"""A reading that moves by coarser steps, rounded or written with a deadband, may stand still under good control however
lively it was before. Common practice, no source."""

RANGE_S = 2400.0
"""What the output did within this before a hold is what its zone may ask for: a stop or a start just before moves it,
and brings it back. Common practice, no source."""

FULL_PCT = 95.0
"""A zone at full heat, or with none at all, can't take more, or less: it does not show what the line asks for."""

FEED_ZONE_GAIN = 0.3
"""A feed zone is held by the water of its jacket: its output moves it by this part of what it does elsewhere. Common
practice, no source."""


@dataclass(frozen=True)
class ThermocoupleFrozen:
    """A zone's reading has stood still for long, and its output has moved enough that it should not have.

    An operator would say: "that temperature has not changed all morning". Flat to the digit for 30 min and the output
    since then lies so far outside the range of its means of a minute in the 40 min before that even a sluggish zone
    (`gain_c_pct`, `time_constant_s`) would have moved by more than 3 resolutions and 1.5 C. A hold that begins before
    40 min of outputs are known has those for its range. What the outputs of the other zones on its side of the screw's
    end moved since the hold began, the median of them, the line asks of all. The resolution is learned from the
    smallest step the reading has ever made; of one that has made none nothing is said, for its controller may follow
    the load inside one digit. Look-alikes: coarse resolution, logger deadband, good control (the output does not move,
    or moves as much as the load asks of all), a zone that left its set-point and rests elsewhere, or whose heater draws
    no current (`at_rest_elsewhere`: heater or cooling dead), a controller whose zones all went stale.
    A long hold alone is said softly, and only of a reading to the tenth that changed all the time before, while most
    others still do: 30 min and ten times its longest hold, or 10 min and twenty times. Missing readings start the
    flat time anew, and the hold they end is not one that the reading ended. Memory: 40 min of output and 10 numbers a
    zone, and of each hold the outputs before it. Gain and time constant: low end of usual barrel zones, values from
    memory.
    """

    flat_s: float = setting(1800, 300, 14400, "s")
    gain_c_pct: float = setting(1.0, 0.1, 10, "C per % output")
    time_constant_s: float = setting(2700, 300, 7200, "s")
    least_c: float = setting(1.5, 0.2, 20, "C")
    resolutions: float = setting(3, 1, 20, "resolutions")
    changes: float = setting(60, 10, 1000, "changes seen before a hold can stand out")
    times_longest: float = setting(10, 3, 100, "times the longest hold before")
    early_s: float = setting(600, 120, 7200, "s, for twice as many times the longest hold before")

    name: ClassVar[str] = "thermocouple_frozen"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "couple frozen"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
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
        """The flat time is the delay."""
        return Timing(10.0, 10.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen. Of each zone: the newest cell, how long it holds, what its output was before the hold."""
        count = len(subjects)
        nothing = np.full(count, np.nan)
        return {
            "low": nothing,
            "high": nothing,
            "cells": np.zeros(count, np.int64),
            "outputs": blank(count, ctx.cells(60) - 1),
            "range": blank(count, ctx.cells(RANGE_S) - 1),
            "known": np.zeros(count),
            "before": np.full((count, count), np.nan),
            "lowest": nothing,
            "highest": nothing,
            "expected": np.zeros(count),
            "most": np.zeros(count),
            "resolution": np.full(count, np.inf),
            "changes": np.zeros(count),
            "longest": np.zeros(count, np.int64),
            "alone": np.zeros(count, bool),
            "at_full": frozen_at_full.start(count, ctx),
            "rests": at_rest_elsewhere.start(count),
        }

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until the zone that has stood still longest has done so for the shortest flat time; see `resting`."""
        flat = ctx.cells(min(self.flat_s, self.early_s)) - int(state["cells"].max(initial=0))
        return min(flat, frozen_at_full.silent_for(state["at_full"], ctx))

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        low, high = view.low_high("zone_temperature", subjects)
        believed = np.isfinite(view.rows("zone_temperature", subjects))
        low, high = np.where(believed, low, np.nan), np.where(believed, high, np.nan)
        output = view.rows("zone_output", subjects)
        lows = np.concatenate((state["low"][:, None], low), axis=1)
        highs = np.concatenate((state["high"][:, None], high), axis=1)
        still = (lows[:, 1:] == highs[:, 1:]) & (lows[:, 1:] == lows[:, :-1]) & (lows[:, :-1] == highs[:, :-1])
        cells, cells_state = run_length(state["cells"], still)
        resolution = self._resolution(state["resolution"], lows, highs)
        minute, outputs = trailing_mean(state["outputs"], output)
        lowest, highest, range_state = trailing_extremes(state["range"], minute)
        lately = lowest
        # Some minutes of outputs are no range: what the zone may ask for is not known yet.
        known = running_total(state["known"], np.isfinite(minute).astype(float))
        held = still & (known > ctx.cells(RANGE_S))
        lowest, lowest_state = last_known(state["lowest"], np.where(held, np.nan, lowest))
        highest, highest_state = last_known(state["highest"], np.where(held, np.nan, highest))
        beyond = output - np.clip(output, lowest, highest)
        minutes = with_past(state["range"], minute)[0]
        most, kept = self._expected(state, cells, beyond, minutes, view.step / 1e9, ctx)
        running = view.in_phase("steady", "settling")
        changes = running_total(state["changes"], (~still & np.isfinite(low) & running).astype(float))
        longest = _longest(state["longest"], state["cells"], cells, ~still & np.isfinite(low))
        flat_s = cells.astype(float) * (view.step / 1e9)
        step_c = np.where(np.isfinite(resolution), resolution, USUAL_RESOLUTION_C)
        by_output = (most > np.fmax(self.resolutions * step_c, self.least_c)) & np.isfinite(resolution)
        stands_out = (changes >= self.changes) & running & (step_c <= FINE_C)
        alone = stands_out & self._alone(cells, longest, ctx)
        by_output &= flat_s >= self.flat_s
        known_step = np.where(np.isfinite(resolution), resolution, np.nan)
        least_c = np.maximum(self.resolutions * known_step, self.least_c)
        full_state, at_full, was = frozen_at_full.found(
            state["at_full"], view, subjects, ctx, low, high, minute, lately, least_c, self._gains(ctx),
            known_step, self.time_constant_s,
        )  # fmt: skip
        rests, rests_after = at_rest_elsewhere.resting(state["rests"], view, subjects, low, cells, ctx)
        by_output, at_full = by_output & ~rests, at_full & ~rests
        # What stands out goes on standing, whatever the line does next, until the reading moves.
        alone, alone_after = two_threshold(state["alone"], alone, ~still & np.isfinite(low))
        frozen = by_output | alone | at_full
        level = rule(frozen, np.isfinite(low), np.ones(view.n, bool))
        level = np.where((level == 1) & (by_output | at_full), np.int8(2), level).astype(np.int8)
        facts = {
            "value": low,
            "flat_s": flat_s,
            "expected": most,
            "output": output,
            "resolution": step_c,
            "by_output": by_output.astype(float),
            "at_full": (at_full & ~by_output).astype(float),
            "was": was,
            "off": low - wanted(view, subjects, ctx),
        }
        after = {
            **kept,
            "low": lows[:, -1].copy(),
            "high": highs[:, -1].copy(),
            "cells": cells_state,
            "outputs": outputs,
            "range": range_state,
            "known": known[:, -1].copy() if view.n else state["known"],
            "lowest": lowest_state,
            "highest": highest_state,
            "resolution": resolution[:, -1].copy() if view.n else state["resolution"],
            "changes": changes[:, -1].copy() if view.n else state["changes"],
            "longest": longest[:, -1].copy() if view.n else state["longest"],
            "alone": alone_after,
            "at_full": full_state,
            "rests": rests_after,
        }
        return after, Judged(level, flat_s, facts)

    def _alone(self, cells: NDArray[np.int64], longest: NDArray[np.int64], ctx: Context) -> Bools:
        """Holds that last long beside the longest before, while most others hold no longer, [row, n]."""
        out = np.zeros(cells.shape, bool)
        for least_s, times in ((self.flat_s, self.times_longest), (self.early_s, 2 * self.times_longest)):
            flat_too = np.count_nonzero(cells >= 0.9 * ctx.cells(least_s), axis=0)
            few = flat_too < max(3, int(np.ceil(0.6 * len(cells))))
            out |= (cells >= ctx.cells(least_s)) & (cells >= times * longest) & few
        return out

    @staticmethod
    def _resolution(before: Floats, lows: Floats, highs: Floats) -> Floats:
        """Smallest step each reading has made so far, inside a cell or from one to the next."""
        inside = highs[:, 1:] - lows[:, 1:]
        between = np.abs(lows[:, 1:] - lows[:, :-1])
        smallest = np.fmin(np.where(inside > 1e-9, inside, np.inf), np.where(between > 1e-9, between, np.inf))
        return np.minimum.accumulate(np.concatenate((before[:, None], smallest), axis=1), axis=1)[:, 1:]

    def _expected(
        self, state: State, cells: np.ndarray, beyond: Floats, minutes: Floats, step_s: float, ctx: Context
    ) -> tuple[Floats, State]:
        """How far a sluggish zone would have moved at most since its hold is five minutes old, [zone, n].

        beyond: how far its output lies outside its range before the hold, %. minutes: outputs of all zones, means of a
        minute, the `RANGE_S` before in front, %."""
        least, lag = ctx.cells(300), step_s / self.time_constant_s
        out, held = np.zeros(beyond.shape), cells > least
        gains = self._gains(ctx)
        expected, most, before = state["expected"].copy(), state["most"].copy(), state["before"].copy()
        beside = ctx.once((type(self), "beside"), lambda: _beside(self.subjects(ctx), ctx))
        free = np.where((minutes < FULL_PCT) & (minutes != 0.0), minutes, np.nan)
        for zone in np.flatnonzero(held.any(axis=1)).tolist():
            # Few zones hold for long: their cells as plain numbers, one after the other, are quicker than all in rows.
            at = np.flatnonzero(held[zone])
            fresh = cells[zone, at] == least + 1
            common, before[zone] = _asked_of_all(beside[zone], at, fresh, before[zone], beyond[zone], free)
            push = gains[zone] * np.nan_to_num(_own(beyond[zone, at], common))
            moved, far, said = float(expected[zone]), float(most[zone]), []
            for begins, now in zip(fresh.tolist(), push.tolist(), strict=True):
                moved, far = (0.0, 0.0) if begins else (moved, far)
                moved = moved + lag * (now - moved)
                far = max(far, abs(moved))
                said.append(far)
            out[zone, at], expected[zone], most[zone] = said, moved, far
        return out, {"expected": expected, "most": most, "before": before}

    def _gains(self, ctx: Context) -> Floats:
        """How far a percent of output moves each zone at least, C."""
        cooled = [ctx.line.zone_named(name).kind == "feed" for name in self.subjects(ctx)]
        return np.array([self.gain_c_pct * (FEED_ZONE_GAIN if feed else 1.0) for feed in cooled], float)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long flat, and how far it should have moved."""
        output = Evidence("zone output", facts["output"], "%", None, None, channel_key("zone_output", subject))
        text = f"zone {subject} has read {facts['value']:.1f} °C without a change for {facts['flat_s'] / 60:.0f} min "
        text += "while its output moved" if facts["by_output"] else "after changing all the time before"
        evidence = (
            Evidence("unchanged for", facts["flat_s"] / 60, "min", None, None, self.channel(subject)),
            Evidence("should have moved by at least", facts["expected"], "C"),
            output,
        )
        held = facts["by_output"] > 0 and not abs(facts["off"]) > at_rest_elsewhere.AWAY_C
        if facts["at_full"]:
            text = f"zone {subject} stays at {facts['value']:.0f} °C at full heat, neither warmed nor cooling: its "
            text += "couple is frozen, the zone may be far hotter"
            evidence = (
                Evidence(f"zone {subject} reads", facts["value"], "C", None, None, self.channel(subject)),
                Evidence("its digit", facts["resolution"], "C"),
                output,
                Evidence("zone output 20 min before", facts["was"], "%"),
            )
        return Explanation(
            text,
            2 if facts["by_output"] or facts["at_full"] else 3,
            "medium" if facts["by_output"] or facts["at_full"] else "low",
            evidence,
            (
                "input or transmitter frozen",
                *(("couple drifts or slips out: its controller holds its reading where it is",) if held else ()),
                "controller holds its last value",
                "logger keeps an old value",
            ),
            ("reading at the controller itself", "couple and input card", "neighbours and melt temperature"),
            cautions.HEAT,
        )


def _longest(
    before: NDArray[np.int64], held: NDArray[np.int64], cells: NDArray[np.int64], moved: Bools
) -> NDArray[np.int64]:
    """Longest hold that a move has ended so far, [row, n]; what ends with missing readings is no hold of the reading.

    held: [row], how long each held before these cells; cells: the same in each of them."""
    ended = np.concatenate((held[:, None], cells), axis=1)[:, :-1]
    holds = np.concatenate((before[:, None], np.where(moved, ended, 0)), axis=1)
    return np.maximum.accumulate(holds, axis=1)[:, 1:]


def _beside(zones: tuple[str, ...], ctx: Context) -> Bools:
    """Of each zone the others that the load reaches as it does: of the barrel, or beyond the screw, [zone, zone]."""
    side = [(zone.beyond_the_screw, zone.kind == "feed") for zone in map(ctx.line.zone_named, zones)]
    return np.array([[one == other and i != j for j, other in enumerate(side)] for i, one in enumerate(side)], bool)


def _asked_of_all(
    beside: Bools, at: NDArray[np.int64], fresh: Bools, before: Floats, beyond: Floats, minutes: Floats
) -> tuple[Floats, Floats]:
    """What the outputs of the zones beside have moved since this one's hold began, the median of them, % [at]; and the
    means of all of the `RANGE_S` up to the beginning of the newest hold, [zone].

    at: cells in which it holds. fresh: those with which a hold begins to count. beyond: [n]. Zero where its output is
    in its range. minutes: [zone, past + n].
    """
    width = minutes.shape[1] - len(beyond)
    common, known = np.zeros(len(at)), before
    for first, last in pairwise([0, *np.flatnonzero(fresh).tolist(), len(at)]):
        if first < last and fresh[first]:
            past = minutes[:, at[first] : at[first] + width + 1]
            known = trailing_mean(past[:, :width], past[:, width:])[0][:, 0]
        asks = first + np.flatnonzero(beyond[at[first:last]] != 0.0)
        if len(asks) and beside.any():
            common[asks] = known_medians((minutes[np.ix_(beside, width + at[asks])] - known[beside, None]).T)
    return common, known


def _own(beyond: Floats, common: Floats) -> Floats:
    """How far an output lies outside its range by itself: less what all others moved the same way, %."""
    shared = np.nan_to_num(common)
    return np.where(
        beyond > 0, np.fmax(beyond - np.fmax(shared, 0.0), 0.0), np.fmin(beyond - np.fmin(shared, 0.0), 0.0)
    )
