"""One channel against its window: bands, target, set-point, gaps as gaps, findings marked."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from dashboards.clock import MINUTE, PlantClock, hover_format
from dashboards.figures.chart_base import Chart, base_chart, y_axis
from dashboards.figures.findings_line import finding_look
from dashboards.figures.look import Look
from dashboards.figures.marks import SHAPES
from dashboards.names import shown_figure as number
from dashboards.texts import say
from dashboards.views import ChartData, Trace, end_of
from dashboards.windows import inner_limits
from monitor.recipe import Window


def channel_chart(data: ChartData, look: Look, *, height: int = 300, left: int = 64, ticks: int = 7) -> dict[str, Any]:
    """Line chart of `data`. left: pixels before the axis, to stand under a run sheet.

    Times are drawn on the plant's wall clock with the offset that held at the start, which the axis names.
    """
    clock = PlantClock(data.zone)
    low, high = value_range(data)
    chart = base_chart(look, data.t0, data.t1, clock, height=height, left=left, ticks=ticks)
    chart.layout["uirevision"] = data.key
    chart.layout["yaxis"] = y_axis(look, axis_title(data), range=[low, high])
    _windows(chart, data, low, high)
    _findings(chart, data)
    if data.limit is not None and low <= data.limit <= high:
        chart.rule(0, 1, data.limit, data.limit, look.ink, 1, "dash", xref="paper")
        text = say("chart.limit", limit=number(data.limit, data.key))
        chart.words(text, 0, data.limit, xref="paper", xanchor="left", yanchor="bottom")
    _gaps(chart, data)
    hover = f"%{{y:.4g}} {data.unit}<br>%{{x|{hover_format()}}} {clock.offset_text(data.t0)}<extra></extra>"
    if data.setpoint is not None and len(data.setpoint.t):
        steps = {"dash": "4px,3px", "shape": "hv"}
        chart.line(data.setpoint.t, data.setpoint.y, look.soft, 1.2, line=steps, name=say("chart.setpoint"))
        chart.explain("setpoint")
    t, y = data.trace.t, data.trace.y
    if data.mean is None:
        chart.line(t, y, look.ink, 1.3, name=data.title, hovertemplate=hover, meta="reading")
    else:
        chart.line(t, y, look.soft, 0.7, name=data.title, hovertemplate=hover, opacity=0.55, meta="reading")
        chart.line(data.mean.t, data.mean.y, look.ink, 1.8, name=say("chart.mean"))
        chart.explain("mean")
    _outside(chart, data)
    return chart.figure()


def axis_title(data: ChartData) -> str:
    """Name and unit; says so where the plant's unit is not known."""
    if not data.shown_unit_known:
        return say("chart.unknown_unit")
    return data.unit or " "


def value_range(data: ChartData) -> tuple[float, float]:
    """Readings and inner limits, with a little air; never thinner than a hundredth of the value."""
    shown = data.trace.y[np.isfinite(data.trace.y)]
    values = [float(shown.min()), float(shown.max())] if len(shown) else []
    for _, _, window in data.windows:
        values += [v for v in (*inner_limits(window), window.target) if v is not None]
    if data.setpoint is not None and np.isfinite(data.setpoint.y).any():
        values += [float(np.nanmin(data.setpoint.y)), float(np.nanmax(data.setpoint.y))]
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    if data.limit is not None and high < data.limit < high + 0.8 * max(high - low, abs(high) * 0.2):
        high = data.limit
    air = max((high - low) * 0.12, abs(high) * 0.005, 1e-6)
    return low - air, high + air


def _windows(chart: Chart, data: ChartData, low: float, high: float) -> None:
    for start, end, window in data.windows:
        x0, x1 = chart.x(start), chart.x(end)
        inner = inner_limits(window)
        outer = (
            window.low_outer if window.low_outer is not None else inner[0],
            window.high_outer if window.high_outer is not None else inner[1],
        )
        if outer != inner:
            chart.rect(x0, x1, _or(outer[0], low), _or(outer[1], high), chart.look.band_outer)
        chart.rect(x0, x1, _or(inner[0], low), _or(inner[1], high), chart.look.band)
        if window.target is not None:
            chart.rule(x0, x1, window.target, window.target, chart.look.sheet, 1.6, "solid", layer="below")
    if data.windows:
        _name_limits(chart, data.windows[-1][2], data.key, low, high)


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


def _name_limits(chart: Chart, window: Window, key: str, low: float, high: float) -> None:
    """Limits are named at the right edge, where the newest readings are."""
    taken: list[float] = []
    for name in ("high", "low", "target", "high_outer", "low_outer"):
        value = getattr(window, name)
        if value is None or not low <= value <= high:
            continue
        if any(abs(value - t) < (high - low) * 0.075 for t in taken):
            continue
        taken.append(value)
        text = f"{say('limit.' + name)} {number(value, key)}"
        chart.words(text, 1, value, xref="paper", xanchor="left", xshift=6, align="left")


FOOT, POST = 0.022, 0.09
"""Parts of the chart's height: of the time axis where a finding lasts, of what stands on it where one begins."""


def _findings(chart: Chart, data: ChartData) -> None:
    """The time axis is as thick as this where a finding lasts; where it begins its shape stands on a post."""
    for finding in sorted(data.findings, key=lambda f: f.last.since):
        colour = getattr(chart.look, finding_look(finding))
        until = end_of(finding, data.t1)
        x0, x1 = chart.x(max(finding.last.since, data.t0)), chart.x(min(until, data.t1))
        chart.rect(x0, x1, 0, FOOT, colour, yref="paper")
        chart.explain("lasts")
        # One that began before the chart has no beginning to be seen in it.
        begins = finding.last.since >= data.t0
        if begins:
            chart.rule(x0, x0, 0, POST, colour, 2, "solid", yref="paper")
            chart.explain("begins")
        # The shape the list of findings has for it.
        sign = SHAPES.get(finding_look(finding), "")
        chart.words(sign, x0, POST if begins else FOOT, colour=colour, size=11, yref="paper",
                    xanchor="center" if begins else "left", yanchor="bottom")  # fmt: skip


def _gaps(chart: Chart, data: ChartData) -> None:
    """Long gaps carry the words; short ones are just gaps."""
    for start, end in gaps(data.trace, data.t0, data.t1):
        if end - start > max((data.t1 - data.t0) * 0.12, MINUTE):
            chart.words(say("place.no reading"), chart.x((start + end) // 2), 0.04, yref="paper")


def gaps(trace: Trace, t0: int, t1: int) -> list[tuple[int, int]]:
    """Stretches of [t0, t1) without readings, as far as the thinned trace tells."""
    at = np.flatnonzero(np.isfinite(trace.y))
    if not len(at):
        return [(t0, t1)]
    found = [(int(trace.t[a]), int(trace.t[b])) for a, b in itertools.pairwise(at) if b - a > 1]
    if trace.t[at[0]] - t0 > MINUTE:
        found.insert(0, (t0, int(trace.t[at[0]])))
    if t1 - trace.t[at[-1]] > MINUTE:
        found.append((int(trace.t[at[-1]]), t1))
    return found


def _outside(chart: Chart, data: ChartData) -> None:
    """What lies outside its inner window again in colour, its worst point with the mark."""
    judged = data.mean or data.trace
    t, y = judged.t, judged.y
    for sign, side in ((1, "over"), (-1, "under")):
        out = np.zeros(len(t), dtype=bool)
        for start, end, window in data.windows:
            limit = inner_limits(window)[1 if sign > 0 else 0]
            if limit is not None:
                out |= (t >= start) & (t < end) & (sign * (y - limit) > 0)
        if not out.any():
            continue
        worst = int(np.flatnonzero(out)[np.argmax(sign * y[out])])
        colour = getattr(chart.look, side)
        chart.line(t, np.where(out, y, np.nan), colour, 2.2, name=say(f"place.{side}"))
        chart.mark(int(t[worst]), float(y[worst]), colour, "triangle-up" if sign > 0 else "triangle-down")
