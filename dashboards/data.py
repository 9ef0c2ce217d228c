"""The data door: everything a page shows comes through here, bounded, as small frozen values."""

from __future__ import annotations

import copy
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from dashboards.alarm_states import DAYS_NS, NO_ALARMS, AlarmDoor, parted
from dashboards.cells import good_values, means, trailing_mean
from dashboards.charts import chart_of
from dashboards.clock import DAY, HOUR, MINUTE, SECOND, PlantClock
from dashboards.decimate import coarse_width, decimate
from dashboards.grid import SCATTERING, window_grid
from dashboards.recipes_of import recipes_for
from dashboards.said_then import said_then
from dashboards.source import Source, asked_once
from dashboards.spoken_findings import spoken_finding
from dashboards.views import ChartData, LineNow, Lot, Run, Segment, Trace, stands
from dashboards.windows import windows_of
from ingest.block import Note
from ingest.roles import ROLES, split_key
from monitor.line import Line
from monitor.phases import PHASES
from monitor.recipe import Recipe
from monitor.records import Finding

SHOWN_MEAN_NS = 10 * SECOND
RATE_MEAN_NS = 60 * SECOND
"""What a live number is the mean of: 60 s for rates and torque, 10 s for the rest."""

FINISHED = "finished log"
RECIPES_KEPT_S = 5.0

DENSE_CELLS = 200_000
"""Most cells of one channel that a chart reads at the cadence; beyond it, the extremes of coarser cells."""


class JournalData:
    """Reads one journal for the pages.

    journal: see `dashboards.source.Source`. clock: this moment in UTC nanoseconds.
    """

    def __init__(self, journal: Source, *, clock: Callable[[], int] = time.time_ns) -> None:
        self.source = journal
        self.now_ns = clock
        self.alarms = AlarmDoor(journal)
        self._recipes: dict[str, tuple[float, list[Recipe]]] = {}

    def once(self) -> JournalData:
        """The same door for the making of one answer, in which nothing is read twice; not to be kept."""
        door = copy.copy(self)
        door.source = asked_once(self.source)
        return door

    def line_names(self) -> tuple[str, ...]:
        """All lines, by name."""
        return tuple(sorted(self.source.lines()))

    def line(self, name: str) -> Line | None:
        """The line of that name, None if there is none."""
        return self.source.line(name) if name in self.source.lines() else None

    def span(self, name: str) -> tuple[int, int]:
        """First cell and end of the line's log; an empty span at this moment if nothing was read yet."""
        first, end = self.source.span(name)
        now = self.now_ns()
        return (first, end) if end > first else (now, now)

    def notes(self, name: str, t0: int | None = None, t1: int | None = None) -> list[Note]:
        """Notes of the line inside [t0, t1), all of them by default, by time."""
        first, end = self.span(name)
        return sorted(self.source.notes(name, first if t0 is None else t0, end + DAY if t1 is None else t1))

    def recipes(self, name: str) -> list[Recipe]:
        """Recipes that may hold on the line; parsed anew at most every few seconds."""
        read_at, recipes = self._recipes.get(name, (-RECIPES_KEPT_S, []))
        if time.monotonic() - read_at >= RECIPES_KEPT_S:
            recipes = recipes_for(name, self.source.recipes(name))
            self._recipes[name] = (time.monotonic(), recipes)
        return recipes

    def recipe_segments(self, name: str, t0: int, t1: int) -> list[tuple[Segment, Recipe | None]]:
        """Which recipe held when inside [t0, t1).

        A line with one recipe runs it until a note names another, as it is judged.
        """
        recipes = {recipe.name: recipe for recipe in self.recipes(name)}
        said = [note for note in self.notes(name, None, t1) if note.kind == "recipe"]
        only = next(iter(recipes)) if len(recipes) == 1 else ""
        edges = [(note.at_ns, note.text) for note in said]
        if not edges or edges[0][0] > t0:
            edges.insert(0, (t0, only))
        found: list[tuple[Segment, Recipe | None]] = []
        for (start, text), end in zip(edges, [at for at, _ in edges[1:]] + [t1], strict=True):
            if min(end, t1) > max(start, t0):
                found.append((Segment(max(start, t0), min(end, t1), text), recipes.get(text)))
        return found or [(Segment(t0, t1, ""), None)]

    def recipe_at(self, name: str, at_ns: int) -> Recipe | None:
        """The recipe in force at an instant."""
        return self.recipe_segments(name, at_ns, at_ns + 1)[-1][1]

    def phase_run(self, name: str, t0: int, t1: int) -> tuple[Segment, ...]:
        """Phases inside [t0, t1)."""
        return tuple(Segment(run.t0, run.t1, PHASES[run.phase]) for run in self.source.phase_runs(name, t0, t1))

    def findings(self, name: str, t0: int | None = None, t1: int | None = None) -> tuple[Finding, ...]:
        """Findings that overlap [t0, t1), told in the reader's units."""
        found = self.source.findings(name, t0, t1)
        if not found:
            return ()
        line, clock = self.source.line(name), self.clock(name)
        return tuple(said_then(spoken_finding(line, finding), clock) for finding in found)

    def line_now(self, name: str) -> LineNow:
        """The line at this moment. What is not fresh is left out, not shown old."""
        line, now = self.source.line(name), self.now_ns()
        newest = self.source.newest(name)
        reading_at = newest.reading_at if newest else None
        # A log that was read to its end is not live, however new its end is, or later than this clock has it.
        finished = reading_at is not None and self.source.source(name) == FINISHED
        stopped = finished or reading_at is None or now - reading_at > stopped_after_ns(line)
        end = reading_at + 1 if reading_at is not None else now
        recipe = self.recipe_at(name, end)
        phases = self.phase_run(name, end - 2 * DAY, end)
        lot = next((note.text for note in reversed(self.notes(name, None, end)) if note.kind == "lot"), "")
        known = self.findings(name, end - DAYS_NS, end + DAY)
        standing = tuple(f for f in known if stands(f, end))
        # A finished log has no shift that could be called, set anything aside or reset it.
        alarms = NO_ALARMS if finished else self.alarms.states(name, now)
        named = {f.last.finding for f in known}
        known += tuple(spoken_finding(line, f) for f in alarms.old if f.last.finding not in named)
        shown, set_aside, out = parted(standing, known, alarms)
        return LineNow(
            line=line,
            recipe=recipe,
            lot=lot,
            now=now,
            reading_at=reading_at,
            stopped=stopped,
            phase=phases[-1].name if phases else "unknown",
            phase_since=phases[-1].start if phases else end,
            readings={} if stopped and not finished else self.readings_at(line, end),
            windows=windows_of(line, recipe),
            findings=shown,
            finished=finished,
            set_aside=set_aside,
            out_of_service=out,
            latched=tuple(f for f in known if f.last.finding in alarms.latched),
            alarms=alarms,
        )

    def readings_at(self, line: Line, end: int) -> dict[str, float]:
        """What every channel and quantity read in the last seconds before `end`.

        What was silent is left out.
        """
        block = self.source.blocks(line.name, end - RATE_MEAN_NS, end, line.channels)
        values, found = good_values(block), {}
        for row, key in enumerate(block.channels):
            width = RATE_MEAN_NS if split_key(key)[0] in SCATTERING else SHOWN_MEAN_NS
            recent = values[row, -max(1, width // block.step) :]
            if recent.size and not np.isnan(recent[-max(1, 3 * SECOND // block.step) :]).all():
                state = ROLES[split_key(key)[0]].cell == "last"
                found[key] = float(recent[~np.isnan(recent)][-1] if state else np.nanmean(recent))
        for key, (t, y) in self.source.quantities(line.name, (), end - 2 * MINUTE, end).items():
            if len(t) and np.isfinite(y[-1]):
                found[key] = float(y[-1])
        return found

    def run(self, name: str, t0: int, t1: int, columns: int = 480) -> Run:
        """Phases, window map, lots and findings of [t0, t1)."""
        line = self.source.line(name)
        phases = self.phase_run(name, t0, t1)
        recipes = self.recipe_segments(name, t0, t1)
        lots = tuple(
            Segment(max(lot.start, t0), min(lot.end, t1), lot.number)
            for lot in self.lots(name)
            if lot.start < t1 and lot.end > t0
        )
        grid = window_grid(self.source, line, t0, t1, columns, phases, recipes)
        return Run(line, t0, t1, grid, phases, lots, self.findings(name, t0, t1), tuple(self.notes(name, t0, t1)))

    def lots(self, name: str) -> list[Lot]:
        """Lots of the line, the first first. A log without lot notes is one lot without a number.

        A lot ends with its last reading, not where after a night without readings the next one begins.
        """
        first, end = self.span(name)
        said = [note for note in self.notes(name) if note.kind == "lot"]
        starts = [(note.at_ns, note.text) for note in said] or ([(first, "")] if end > first else [])
        newest = self.source.newest(name)
        fresh = newest is not None and self.now_ns() - newest.reading_at < HOUR and self.source.source(name) != FINISHED
        recipes = self.recipe_segments(name, first, max(end, first + 1))
        runs = self.phase_run(name, first, end)
        found = []
        for i, (start, number) in enumerate(starts):
            last = i + 1 == len(starts)
            stop = end if last else _read_until(runs, start, starts[i + 1][0])
            recipe = next((r for s, r in recipes if s.start <= max(start, first) < s.end), None)
            found.append(
                Lot(
                    name,
                    number,
                    recipe.name if recipe else "",
                    recipe.recipe.product if recipe else "",
                    start,
                    max(stop, start),
                    last and fresh,
                )
            )
        return found

    def lot(self, name: str, number: str) -> Lot | None:
        """The newest lot of that number."""
        return next((lot for lot in reversed(self.lots(name)) if lot.number == number), None)

    def trace(self, name: str, key: str, t0: int, t1: int, n: int, flagged: np.ndarray | None = None) -> Trace:
        """One channel or quantity over [t0, t1) in at most about `n` points, extremes kept."""
        line = self.source.line(name)
        if key not in line.channels:
            t, y = self.source.quantities(name, (key,), t0, t1).get(key, (np.empty(0, np.int64), np.empty(0)))
            return Trace(key, *decimate(np.asarray(t), np.asarray(y), n, gap_ns=30 * SECOND, flagged=flagged))
        step = round(line.line.cadence_s * SECOND)
        if (t1 - t0) // step > DENSE_CELLS:
            return Trace(key, *self._extremes(name, key, t0, t1, n))
        block = self.source.blocks(name, t0, t1, (key,))
        return Trace(key, *decimate(block.times(), good_values(block)[0], n, gap_ns=3 * step, flagged=flagged))

    def mean_trace(self, name: str, key: str, t0: int, t1: int, n: int) -> Trace | None:
        """The trailing 60 s mean on 10 s cells; None where cells must be wider than half a minute anyway."""
        step = coarse_width(t1 - t0, n)
        if step > RATE_MEAN_NS // 2:
            return None
        cells = means(self.source, name, t0 - RATE_MEAN_NS, t1, (key,), step)
        t = cells.times() + step // 2
        y = trailing_mean(cells.mean[0], RATE_MEAN_NS // step)
        return Trace(key, t[t > t0], y[t > t0])

    def _extremes(self, name: str, key: str, t0: int, t1: int, n: int) -> tuple[np.ndarray, np.ndarray]:
        """Low and high of each of n/2 cells, a NaN where a cell was empty."""
        cells = means(self.source, name, t0, t1, (key,), coarse_width(t1 - t0, n // 2))
        middle = cells.times()
        t = np.column_stack([middle - cells.step // 4, middle + cells.step // 4]).ravel()
        return t, np.column_stack([cells.low[0], cells.high[0]]).ravel()

    def chart(self, name: str, key: str, t0: int, t1: int, n: int) -> ChartData:
        """One channel against its window over [t0, t1)."""
        return chart_of(self, self.source.line(name), key, t0, t1, n)

    def clock(self, name: str) -> PlantClock:
        """Wall clock of the line's plant."""
        return PlantClock(self.source.line(name).line.time_zone)

    def account(self, name: str) -> dict[str, Any]:
        """What became of every row of the log."""
        return dict(self.source.account(name) or {})

    def act(
        self,
        name: str,
        finding: str,
        kind: str,
        who: str,
        text: str,
        until_ns: int | None = None,
        at_ns: int | None = None,
    ) -> None:
        """Write down what a person did about a finding, see `monitor.journal.actions`.

        until_ns: when what is 'shelved' comes back. at_ns: when it was done, where that is not now.
        """
        self.source.act(name, finding, kind, who, text, self.now_ns() if at_ns is None else at_ns, until_ns)

    def actions(self, name: str, finding: str | None = None) -> Sequence[Any]:
        """What people did, by time."""
        return self.source.actions(name, finding)


def _read_until(runs: Sequence[Segment], start: int, stop: int) -> int:
    """Where the readings of [start, stop) end; `stop` if there are none."""
    return max((min(run.end, stop) for run in runs if run.start < stop and run.end > start), default=stop)


def stopped_after_ns(line: Line) -> int:
    """Age of the newest reading beyond which data have stopped: 5 s, or three cells if they are wider."""
    return int(max(5.0, 3 * line.line.cadence_s) * SECOND)
