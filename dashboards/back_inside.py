"""Open findings that are no longer so, only not closed yet: their reading is back, or on the other side by now."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from dashboards.ahead import AT_LIMIT_SHARE
from dashboards.cells import means
from dashboards.clock import MINUTE, PlantClock
from dashboards.figures.findings_line import finding_look
from dashboards.grid import JUDGED_PHASES
from dashboards.names import channel_title
from dashboards.texts import say
from dashboards.views import LineNow, Run, WindowGrid
from dashboards.windows import (
    FAR_OVER,
    FAR_UNDER,
    INSIDE,
    NO_READING,
    NOT_JUDGED,
    OVER,
    UNDER,
    codes,
    plain_zone_window,
)
from ingest.roles import channel_key, split_key
from monitor.line import Line
from monitor.records import Finding

if TYPE_CHECKING:
    from dashboards.data import JournalData

LEAST_NS = MINUTE
"""Back for less than this may be one swing of the reading."""

SWINGING = ("zone_hunting", "steam_flash", "surging")
"""Conditions about how far a reading swings: it passes through its window all the time."""

SIDES = {"under": (UNDER, FAR_UNDER), "over": (OVER, FAR_OVER)}
"""What is outside for a finding of one side: a zone that was too cold and is too hot now is no longer too cold."""

ZONE_ROLES = ("zone_temperature", "zone_output", "zone_current")


def back_inside(data: JournalData, findings: Sequence[Finding], run: Run, *, settled: bool) -> dict[str, int]:
    """By id of an open finding, since when its reading has been back inside its window, UTC ns.

    Or on the other side of it, where the finding is about one side. A zone whose temperature has no window is back
    where it is as near its set-point as a plain start asks. A zone is never back while its output stands at its limit.
    run: the last hours, to the newest reading. settled: whether the line runs in a phase in which windows are judged;
    elsewhere nothing is back.
    """
    found: dict[str, int] = {}
    for finding in findings if settled else ():
        last = finding.last
        if not finding.open or last.condition in SWINGING:
            continue
        role, at = split_key(last.channel)
        zone = role in ZONE_ROLES
        key = channel_key("zone_temperature", at) if zone else last.channel
        grid = run.grid if key in run.grid.keys else _about_setpoint(data, run, at) if zone else None
        since = back_since(grid, key, last.since, finding_look(finding)) if grid is not None else None
        if since is not None and not (zone and _at_limit(data, run, at)):
            found[last.finding] = since
    return found


def with_back(data: JournalData, now: LineNow, run: Run) -> LineNow:
    """The line with what is known of its findings that are open and not so any more. run: its last hours."""
    if now.stopped or now.finished:
        return now
    back = back_inside(data, now.findings, run, settled=now.phase in JUDGED_PHASES)
    return replace(now, back=back) if back else now


def back_since(grid: WindowGrid, key: str, began: int, side: str = "other") -> int | None:
    """Start of the column from which `key` has not been outside, after it was during or shortly before a finding.

    began: UTC ns. side: 'under' or 'over' where only that side counts as outside. None while it is outside, not read or
    not judged, where it never was outside, or where it has been back for less than a minute.
    """
    row = grid.code[grid.keys.index(key)]
    known = np.flatnonzero(~np.isin(row, (NO_READING, NOT_JUDGED)))
    if not len(known) or known[-1] < len(row) - 2 or _outside(row[known[-1]], side):
        return None
    outside = known[_outside(row[known], side)]
    # A finding may begin after its reading came back: its minutes are counted up to when it was sure.
    if not len(outside) or grid.t0 + (int(outside[-1]) + 1) * grid.step < began - grid.step:
        return None
    since = grid.t0 + (int(outside[-1]) + 1) * grid.step
    return since if grid.end - since >= LEAST_NS else None


def _outside(code: np.ndarray, side: str) -> np.ndarray:
    return np.isin(code, SIDES[side]) if side in SIDES else code != INSIDE


def back_words(
    line: Line, finding: Finding, since: int | None, now: int, clock: PlantClock, windows: Collection[str]
) -> str:
    """'torque has not been under its window since 09:02; ...'; '' while it holds. windows: channels that have one."""
    if since is None:
        return ""
    role, at = split_key(finding.last.channel)
    key = channel_key("zone_temperature", at) if role in ZONE_ROLES else finding.last.channel
    where = "window" if key in windows else "setpoint"
    side = finding_look(finding)
    told = f"{where}_{side}" if side in SIDES else where
    return say(f"back.{told}", title=channel_title(line, key), at=clock.since(since, now))


def _about_setpoint(data: JournalData, run: Run, zone: str) -> WindowGrid | None:
    """The zone's temperature judged about its set-point, where no recipe gives it a window."""
    keys = tuple(channel_key(role, zone) for role in ("zone_temperature", "zone_setpoint"))
    if any(key not in run.line.channels for key in keys):
        return None
    step = run.grid.step
    cells = means(data.source, run.line.name, run.t0, run.t1, keys, step)
    code = codes(cells.row(keys[0]) - cells.row(keys[1]), plain_zone_window(zone, 0.0))
    return WindowGrid(keys[:1], cells.t0, step, code[None, :], np.zeros((1, len(code)), dtype=np.int8))


def _at_limit(data: JournalData, run: Run, zone: str) -> bool:
    """Whether its heating or cooling stood at its limit in the last minute."""
    key = channel_key("zone_output", zone)
    if key not in run.line.channels:
        return False
    y = means(data.source, run.line.name, run.t1 - MINUTE, run.t1, (key,), MINUTE).row(key)
    y = y[np.isfinite(y)]
    if not len(y):
        return False
    heats = next(z.output_limit_pct for z in run.line.zone if z.name == zone)
    return bool(y[-1] >= AT_LIMIT_SHARE * heats or y[-1] <= -AT_LIMIT_SHARE * 100)
