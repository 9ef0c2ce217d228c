"""Gathers what one channel chart needs: readings, set-point, windows over time, findings, limit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from dashboards.grid import SCATTERING
from dashboards.machine import setpoint_key
from dashboards.names import channel_title, unit_inside, unit_known, unit_of
from dashboards.shown_units import AS_INSIDE, chosen, shown_value
from dashboards.views import ChartData, Trace
from dashboards.windows import is_plain_start, windows_of
from ingest.roles import split_key
from monitor.line import Line
from monitor.recipe import Window
from monitor.records import Finding

if TYPE_CHECKING:
    from dashboards.data import JournalData


def chart_of(data: JournalData, line: Line, key: str, t0: int, t1: int, n: int) -> ChartData:
    """The chart of `key` over [t0, t1) in about `n` points, all of it in the reader's unit."""
    findings = tuple(f for f in data.findings(line.name, t0, t1) if key in channels_of(f))
    flagged = np.array([f.last.since for f in findings], dtype=np.int64)
    windows, plain, recipe_known = [], False, False
    for segment, recipe in data.recipe_segments(line.name, t0, t1):
        recipe_known = recipe_known or recipe is not None
        window = windows_of(line, recipe).get(key)
        if window is not None:
            windows.append((segment.start, segment.end, window))
            plain = plain or is_plain_start(recipe, key)
    wanted = setpoint_key(key)
    mean = data.mean_trace(line.name, key, t0, t1, n) if split_key(key)[0] in SCATTERING else None
    found = ChartData(
        key=key,
        title=channel_title(line, key),
        unit=unit_of(line, key),
        zone=line.line.time_zone,
        t0=t0,
        t1=t1,
        trace=data.trace(line.name, key, t0, t1, n, flagged),
        setpoint=data.trace(line.name, wanted, t0, t1, max(16, n // 4)) if wanted in line.channels else None,
        mean=mean,
        windows=tuple(windows),
        plain=plain,
        recipe_known=recipe_known,
        findings=findings,
        limit=limit_of(line, key),
        shown_unit_known=unit_known(line, key),
    )
    return in_shown_unit(found) if chosen.get() != AS_INSIDE and found.shown_unit_known else found


def in_shown_unit(chart: ChartData) -> ChartData:
    """A chart in the fixed unit of its channel, in the reader's unit."""
    unit = unit_inside(chart.key)

    def trace(given: Trace | None) -> Trace | None:
        return None if given is None else replace(given, y=shown_value(given.y, unit))

    return replace(
        chart,
        trace=Trace(chart.trace.key, chart.trace.t, shown_value(chart.trace.y, unit)),
        setpoint=trace(chart.setpoint),
        mean=trace(chart.mean),
        windows=tuple((start, end, shown_window(window, unit)) for start, end, window in chart.windows),
        limit=None if chart.limit is None else shown_value(chart.limit, unit),
    )


def shown_window(window: Window, unit: str) -> Window:
    """A window given in a fixed unit, in the reader's."""
    names = ("target", "low", "high", "low_outer", "high_outer")
    values = {name: getattr(window, name) for name in names}
    return window.model_copy(update={k: None if v is None else shown_value(v, unit) for k, v in values.items()})


def channels_of(finding: Finding) -> set[str]:
    """Channels a finding is about or leans on."""
    return {finding.last.channel, *(fact.channel for fact in finding.last.evidence)} - {""}


def limit_of(line: Line, key: str) -> float | None:
    """The machine's own limit of a channel, from the line file."""
    role, subject = split_key(key)
    if key in line.relative_channels:
        return None
    if role == "feeder_drive":
        return line.feeder_named(subject).drive_limit_pct
    if role == "zone_output":
        return line.zone_named(subject).output_limit_pct
    return {
        "melt_pressure": line.limits.melt_pressure_bar,
        "screw_speed": line.limits.screw_speed_rpm,
        "torque": line.drive.torque_limit_pct,
    }.get(role)
