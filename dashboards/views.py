"""The small frozen values the data door hands to pages and figures. Times are UTC nanoseconds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from dashboards.alarm_states import NO_ALARMS, AlarmStates, OutOfService, SetAside
from dashboards.clock import MINUTE, SECOND
from dashboards.machine import feeds_known, mass_known
from ingest.block import Note
from ingest.roles import channel_key
from monitor.line import Line
from monitor.recipe import Recipe, Window
from monitor.records import Finding


@dataclass(frozen=True)
class Segment:
    """A stretch of time with a name: a phase, a lot, a recipe."""

    start: int
    end: int
    name: str


@dataclass(frozen=True)
class Trace:
    """One channel or quantity, thinned to what a chart can show.

    t: int64 nanoseconds, y: float, both shape (m,); NaN stands in gaps.
    """

    key: str
    t: np.ndarray
    y: np.ndarray


@dataclass(frozen=True)
class WindowGrid:
    """What the window map shows.

    keys: channels in machine order. t0, step: first column and column width. code: int8, shape (len(keys),
    n), see `dashboards.windows`. edge: int8, same shape: -1 or +1 where an inside cell is near that limit.
    """

    keys: tuple[str, ...]
    t0: int
    step: int
    code: np.ndarray
    edge: np.ndarray

    @property
    def end(self) -> int:
        """End of the last column."""
        return self.t0 + self.step * self.code.shape[1]


def end_of(finding: Finding, otherwise: int) -> int:
    """When it ended: said, or cut off by the end of the readings; `otherwise` while it is open."""
    if finding.last.until is not None:
        return finding.last.until
    return finding.last.decided_at if finding.last.kind == "cut off" else otherwise


def stands(finding: Finding, end: int) -> bool:
    """Whether it still held where the readings end: open, or cut off by their end."""
    return finding.open or (finding.last.kind == "cut off" and finding.last.decided_at >= end - 10 * MINUTE)


@dataclass(frozen=True)
class LineNow:
    """One line at this moment.

    now: this moment. reading_at: newest reading, None if there never was one. stopped: whether data have
    stopped.
    readings: channel or quantity -> mean of its last seconds; only what is fresh enough to be called live.
    finished: the log was read to its end and never was live; readings are then those at its end.
    findings: that stand, without those set aside or out of service. set_aside: the first to come back first.
    out_of_service: the longest first. latched: gone by themselves, they wait to be reset. alarms: state of each alarm
    by its newest finding. back: of findings that are open and not so any more, since when, by id; see
    `dashboards.back_inside`, and empty where nobody looked.
    """

    line: Line
    recipe: Recipe | None
    lot: str
    now: int
    reading_at: int | None
    stopped: bool
    phase: str
    phase_since: int
    readings: dict[str, float]
    windows: dict[str, Window]
    findings: tuple[Finding, ...]
    finished: bool = False
    set_aside: tuple[SetAside, ...] = ()
    out_of_service: tuple[OutOfService, ...] = ()
    latched: tuple[Finding, ...] = ()
    alarms: AlarmStates = NO_ALARMS
    back: Mapping[str, int] = field(default_factory=dict)

    @property
    def read_until(self) -> int:
        """End of the newest cell that was read; this moment where nothing was."""
        if self.reading_at is None:
            return self.now
        return self.reading_at + round(self.line.line.cadence_s * SECOND)

    @property
    def rate_kg_h(self) -> float | None:
        """What the line makes now; None where no rate in a known unit is read, or only a part of the feeders'."""
        if not mass_known(self.line):
            return None
        if "line_rate" in self.readings:
            return self.readings["line_rate"]
        return self.readings.get("total_feed") if feeds_known(self.line) else None

    @property
    def least_rate_kg_h(self) -> float | None:
        """What the line makes at least, where only a part of its feeders is read; None where the rate is known."""
        if not mass_known(self.line) or self.rate_kg_h is not None:
            return None
        keys = (channel_key("feeder_rate", feeder.name) for feeder in self.line.feeder)
        rates = [self.readings[key] for key in keys if key in self.readings]
        return sum(rates) if rates else None


@dataclass(frozen=True)
class Lot:
    """One lot on one line.

    end: where the next began or its readings end, whichever is sooner; `running` while it is the last.
    """

    line: str
    number: str
    recipe: str
    product: str
    start: int
    end: int
    running: bool


@dataclass(frozen=True)
class Listed:
    """A lot as the list shows it.

    findings: how many of priority 1 to 3 no other explains. worst: highest priority, None if it has none. near: whether
    any finding about product is near enough to have touched its product or its containers.
    """

    lot: Lot
    findings: int
    worst: int | None
    words: tuple[str, ...]
    near: bool


@dataclass(frozen=True)
class ChartData:
    """Everything one channel chart draws.

    mean: the 60 s mean, for readings that scatter more than their window is wide. unit: the
    reader's, which all values are in.
    windows: (start, end, window) stretches; plain: whether they are the plain start. recipe_known: whether one held in
    any part of it.
    """

    key: str
    title: str
    unit: str
    zone: str
    t0: int
    t1: int
    trace: Trace
    setpoint: Trace | None = None
    mean: Trace | None = None
    windows: tuple[tuple[int, int, Window], ...] = ()
    plain: bool = False
    recipe_known: bool = True
    findings: tuple[Finding, ...] = ()
    limit: float | None = None
    shown_unit_known: bool = True


@dataclass(frozen=True)
class Run:
    """A stretch of a line's log with all that a sheet of it needs."""

    line: Line
    t0: int
    t1: int
    grid: WindowGrid
    phases: tuple[Segment, ...]
    lots: tuple[Segment, ...]
    findings: tuple[Finding, ...]
    notes: tuple[Note, ...] = field(default=())
