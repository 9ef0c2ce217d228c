"""What is different now from what it was at the change of shift: set-points, recipe, lot, rate, findings, repairs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import takewhile
from typing import Literal

import numpy as np

from dashboards.cells import Means, means
from dashboards.clock import MINUTE
from dashboards.data import JournalData
from dashboards.load_history import rate_of
from dashboards.machine import machine_order
from dashboards.names import channel_title, figure, unit_of, with_unit
from dashboards.shifts import told_since
from dashboards.texts import say
from dashboards.views import LineNow, end_of, stands
from ingest.roles import split_key
from monitor.line import Line

SETPOINTS = (
    "zone_setpoint", "screw_speed_setpoint", "line_rate_setpoint", "feeder_setpoint", "vacuum_setpoint",
)  # fmt: skip
MEASURED = ("screw_speed", "melt_pump_speed")
"""Told beside set-points, and only where no set-point of theirs is logged."""

LEAST_SETPOINT, LEAST_MEASURED = 0.001, 0.03
"""Smallest change told, as a share of the larger value: a set-point's rounding, and what a running mean wanders."""

MEAN_CELLS = 10
Kind = Literal["set", "made", "opened", "closed", "repaired"]


@dataclass(frozen=True)
class Change:
    """One thing that is different. at: when it last changed, UTC ns. key: its channel, '' if none."""

    kind: Kind
    at: int
    text: str
    key: str = ""


def changes_since_shift(data: JournalData, now: LineNow) -> tuple[int, list[Change]]:
    """From when, and what has changed since, by kind and then by time."""
    name = now.line.name
    end = now.reading_at + 1 if now.reading_at is not None else now.now
    start = told_since(data.clock(name), end, now.line.line.shift_starts)
    start = max(start, data.span(name)[0])
    found = [*_settings(data, now, start, end), *_notes(data, name, start, end)]
    for f in data.findings(name, start, end):
        if f.last.part_of and f.last.priority > 1:
            continue
        if f.last.since >= start and stands(f, end):
            found.append(Change("opened", f.last.since, f.last.summary, f.last.channel))
        elif not stands(f, end) and f.last.priority <= 3:
            key = "shift.came_and_went" if f.last.since >= start else "shift.ended"
            found.append(Change("closed", end_of(f, end), say(key, summary=f.last.summary), f.last.channel))
    for action in data.actions(name):
        if action.kind == "repaired" and start <= action.at_ns <= max(end, now.now):
            text = say("shift.repaired", who=action.who, text=action.text or "–")
            found.append(Change("repaired", action.at_ns, text))
    return start, found


def _notes(data: JournalData, name: str, start: int, end: int) -> list[Change]:
    """Recipe and lot, where the newest note says another than what ran at the change of shift."""
    found = []
    notes = data.notes(name, None, end)
    began = data.span(name)[0] + MINUTE
    for kind in ("recipe", "lot"):
        told = [n for n in notes if n.kind == kind]
        since = [n for n in told if n.at_ns >= start]
        # A log that begins in the shift begins with what it says first; nothing changed to that.
        ran = [n for n in told if n.at_ns < start] or [n for n in since[:1] if n.at_ns <= began]
        before = ran[-1].text if ran else ""
        if since and since[-1].text != before:
            at = min(n.at_ns for n in takewhile(lambda n: n.text == since[-1].text, reversed(since)))  # noqa: B023
            last = next((n.text for n in reversed(told) if n.at_ns < at), before)
            text = say(f"shift.{kind}", before=last or "–", now=since[-1].text)
            if last != before and before:
                text = say("shift.at_its_start", change=text, first=before)
            found.append(Change("made", at, text))
    return found


def _settings(data: JournalData, now: LineNow, start: int, end: int) -> list[Change]:
    line = now.line
    if end - start < MEAN_CELLS * MINUTE:
        return []
    keys = [key for key in line.channels if split_key(key)[0] in (*SETPOINTS, *MEASURED)]
    keys = [key for key in keys if f"{key}_setpoint" not in line.channels]
    cells = means(data.source, line.name, start, end, machine_order(line, keys), MINUTE)
    found = []
    for key in cells.keys:
        setting = split_key(key)[0] in SETPOINTS
        if now.phase == "stopped" and not setting:
            continue
        change = _stepped(cells, cells.row(key), setting)
        if change is not None:
            found.append(Change("set", change[0], _from_to(line, key, change[1], change[2]), key))
    if now.phase == "stopped":  # what a line that stands reads is no other way of running
        return found
    rate = rate_of(data, line, start, end, MINUTE)
    change = _stepped(cells, rate[: cells.mean.shape[1]], False) if cells.mean.shape[1] == len(rate) else None
    if change is not None:
        key = "line_rate" if "line_rate" in line.channels else "total_feed"
        found.append(Change("set", change[0], _from_to(line, key, change[1], change[2]), key))
    return found


def _stepped(cells: Means, y: np.ndarray, setting: bool) -> tuple[int, float, float] | None:
    """(when, before, now) where first and last differ; means of ten minutes where it is measured and no setting."""
    known = np.flatnonzero(np.isfinite(y))
    if len(known) < (2 if setting else 2 * MEAN_CELLS):
        return None
    n = 1 if setting else MEAN_CELLS
    first, last = float(y[known[:n]].mean()), float(y[known[-n:]].mean())
    least = LEAST_SETPOINT if setting else LEAST_MEASURED
    if abs(last - first) <= least * max(abs(first), abs(last)):
        return None
    # What moves about nothing, as feeders' rates on a line that stands, is no change.
    if not setting and max(abs(first), abs(last)) < LEAST_MEASURED * float(np.nanmax(np.abs(y), initial=1.0)):
        return None
    # Of the cells that make up `last` single ones may lie nearer `first`; by then it has stepped all the same.
    before = y[known[:-n]]
    away = np.flatnonzero(np.abs(before - last) > np.abs(before - first))
    stays = known[away[-1] + 1 if away.size else 0]
    return int(cells.t0 + cells.step * stays), first, last


def _from_to(line: Line, key: str, before: float, now: float) -> str:
    unit = unit_of(line, key)
    return say(
        "shift.from_to",
        title=channel_title(line, key),
        before=figure(before, key, line),
        now=with_unit(figure(now, key, line), unit),
    )
