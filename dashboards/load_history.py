"""What a line has been through: hours near its torque limit, trips, cold starts, metal, kilograms a screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.charts import limit_of
from dashboards.clock import HOUR, MINUTE
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.machine import mass_known
from dashboards.run_summaries import TURNING_RPM
from dashboards.screen_ages import ScreenRun, screen_runs, steps_down
from ingest.roles import channel_key
from monitor.line import Line
from monitor.records import Finding

CELL_NS = 10 * MINUTE
HIGH_SHARE = 0.9
ONE_EVENT_NS = 30 * MINUTE
"""Findings of one kind that begin within this belong to one event: a cold start is found in every zone."""


@dataclass(frozen=True)
class LoadHistory:
    """Over [t0, t1). high_h: hours of minute means above 90 % of the load's limit, None = no limit known.

    turned_h: hours the screws turned, None = no speed logged.
    """

    t0: int
    t1: int
    high_h: float | None
    turned_h: float | None
    trips: int
    cold_starts: int
    metal: int


def load_history(data: JournalData, line: Line, key: str, t0: int, t1: int, findings: Sequence[Finding]) -> LoadHistory:
    """Hours and events in [t0, t1). key: the load's channel."""
    wanted = [k for k in (key, "screw_speed") if k in line.channels]
    minutes = means(data.source, line.name, t0, t1, wanted, MINUTE)
    limit, high, turned = limit_of(line, key), None, None
    if limit is not None and key in wanted:
        high = float((minutes.row(key) > HIGH_SHARE * limit).sum() * MINUTE / HOUR)
    if "screw_speed" in wanted:
        turned = float((minutes.row("screw_speed") > TURNING_RPM).sum() * MINUTE / HOUR)
    return LoadHistory(
        t0, t1, high, turned,
        *(events(findings, name, t0) for name in ("stopped_under_load", "cold_start", "tramp_metal")),
    )  # fmt: skip


def events(findings: Sequence[Finding], condition: str, t0: int) -> int:
    """How often it happened since t0; what begins within half an hour of the event before is the same event."""
    begun = sorted(f.last.since for f in findings if f.last.condition == condition and f.last.since >= t0)
    count, last = 0, None
    for at in begun:
        if last is None or at - last > ONE_EVENT_NS:
            count, last = count + 1, at
    return count


def screens_of(data: JournalData, line: Line, key: str, t0: int, t1: int) -> tuple[list[int], list[ScreenRun]]:
    """When the pressure ahead of the screen stepped down, UTC ns, and the screens between."""
    if t1 <= t0 or key not in line.channels:
        return [], []
    read = means(data.source, line.name, t0, t1, [key], CELL_NS)
    t, rate = read.times(), rate_of(data, line, t0, t1, CELL_NS)
    steady = np.zeros(t.shape, bool)
    for run in data.phase_run(line.name, t0, t1):
        if run.name in JUDGED_PHASES:
            steady |= (t >= run.start) & (t < run.end)
    changes = steps_down(t, read.row(key), rate, steady)
    return changes, screen_runs(t, rate, changes, CELL_NS / HOUR)


def rate_of(data: JournalData, line: Line, t0: int, t1: int, step: int) -> np.ndarray:
    """Kilograms an hour per cell: what was fed, else the line's measured rate; NaN where neither is known."""
    fed = means(data.source, line.name, t0, t1, ["total_feed"], step, "quantity").row("total_feed")
    if not mass_known(line):
        return np.full(len(fed), np.nan)
    if np.isfinite(fed).any():
        return fed
    key = channel_key("line_rate")
    return means(data.source, line.name, t0, t1, [key], step).row(key) if key in line.channels else fed
