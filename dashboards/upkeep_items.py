"""What maintenance should look at, ordered by what will stop the line first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dashboards.back_inside import back_inside
from dashboards.cells import Means, means
from dashboards.clock import DAY, HOUR, MINUTE
from dashboards.data import FINISHED, JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.outlook import trends_of
from dashboards.run_summaries import TURNING_RPM
from dashboards.sensor_checks import sensor_checks
from dashboards.upkeep_due import screen_due, wear_due
from dashboards.upkeep_item import NEWEST_NS, UpkeepItem
from dashboards.upkeep_line_parts import DRIVE_KEYS, FEEDER_ROLES, OTHER_ROLES, ZONE_ROLES, Parts, last_of
from dashboards.upkeep_parts import Part, apart, part_of
from dashboards.windows import windows_of
from ingest.roles import split_key
from monitor.line import Line
from monitor.phases import RUNNING
from monitor.records import Finding

HISTORY_NS = 14 * DAY
CELL_NS = 10 * MINUTE
TREND_NS = 12 * HOUR
BACK_NS = 4 * HOUR
"""How far back it is looked for when a reading came back inside; as the live page's window map."""


def upkeep_items(data: JournalData, name: str) -> list[UpkeepItem]:
    """Every part of a line that logs anything, the one that will stop it first on top."""
    line = data.line(name)
    if line is None:
        return []
    first, end = data.span(name)
    if end <= first:
        return []
    start = max(first, end - HISTORY_NS)
    others = {role for roles in OTHER_ROLES.values() for role in roles}
    wanted = {*ZONE_ROLES, *FEEDER_ROLES, *DRIVE_KEYS, *others}
    keys = [key for key in line.channels if split_key(key)[0] in wanted]
    cells = means(data.source, name, start, end, keys, CELL_NS)
    steady = steady_cells(data, name, cells)
    findings = data.findings(name, start, end + DAY)
    rising = [
        k for k in keys if split_key(k)[0] in ("melt_pressure", "feeder_drive", "torque", "gearbox_oil_temperature")
    ]
    running = bool(steady[-1:].any()) or any(run.name in JUDGED_PHASES for run in data.phase_run(name, end - 1, end))
    # On a line that stands nothing goes on to its limit.
    rising = [k for k in rising if running and k not in line.relative_channels]
    trends = trends_of(data, name, rising, end, TREND_NS)
    opened = [f for f in findings if f.open]
    back: dict[str, int] = {}
    if opened and data.source.source(name) != FINISHED:
        back = back_inside(data, opened, data.run(name, end - BACK_NS, end), settled=running)
    checks = sensor_checks(data, name, start, end)
    live = data.source.source(name) != FINISHED
    tops, folded = apart(findings)
    landed: dict[Part, list[Finding]] = {}
    for finding in tops:
        part = part_of(line, finding.last)
        if part is not None:
            landed.setdefault(part, []).append(finding)
    newest = means(data.source, name, end - NEWEST_NS, end, keys, MINUTE)
    windows = windows_of(line, data.recipe_at(name, end - 1))
    stood = stands_still(data, line, newest, end)
    parts = Parts(
        line,
        cells,
        newest,
        steady,
        landed,
        folded,
        trends,
        checks,
        end,
        live,
        back,
        windows,
        running,
        stood,
        findings,
    )
    items = [*parts.zones(), *parts.feeders(), *parts.pressures(), *parts.drive()]
    items += parts.others({(item.kind, item.subject) for item in items})
    items = [replace(item, due=_due(data, line, item, start)) for item in items]
    return sorted(items, key=UpkeepItem.order)


def _due(data: JournalData, line: Line, item: UpkeepItem, start: int) -> str:
    if item.kind == "screen":
        return screen_due(data, line, item.key, start, item.end)
    return wear_due(data, line, item.end) if item.kind == "drive" else ""


def steady_cells(data: JournalData, name: str, cells: Means) -> np.ndarray:
    """Which cells lie in steady running."""
    middle = cells.times()
    inside = np.zeros(middle.shape, dtype=bool)
    for run in data.phase_run(name, cells.t0, cells.t0 + cells.step * len(middle)):
        if run.name in JUDGED_PHASES:
            inside |= (middle >= run.start) & (middle < run.end)
    return inside


def stands_still(data: JournalData, line: Line, newest: Means, end: int) -> bool:
    """Whether the screws stand at the end of `newest`; by its phase where no speed is logged."""
    if "screw_speed" in newest.keys:
        speed = last_of(newest.row("screw_speed"))
        return speed is not None and speed <= TURNING_RPM
    phases = data.phase_run(line.name, end - 1, end)
    return bool(phases) and all(run.name not in RUNNING for run in phases)
