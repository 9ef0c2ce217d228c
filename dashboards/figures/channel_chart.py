"""One channel against its window: bands, target, set-point, gaps as gaps, findings marked."""

from __future__ import annotations

import itertools

import numpy as np
import plotly.graph_objects as go

from dashboards.clock import MINUTE, PlantClock
from dashboards.figures.chart_base import base_chart, milliseconds
from dashboards.figures.findings_line import finding_look
from dashboards.figures.look import Look
from dashboards.names import figure as number
from dashboards.texts import say
from dashboards.views import ChartData, Trace
from dashboards.windows import inner_limits
from monitor.recipe import Window


def channel_chart(
    data: ChartData, look: Look, *, height: int = 300, left: int = 64, ticks: int = 7
) -> go.Figure:
    """Line chart of `data`. left: pixels before the axis, to stand under a run sheet.

    Times are drawn on the plant's wall clock with the offset that held at the start, which the axis names.
    """
    clock = PlantClock(data.zone)
    offset = clock.offset_ns(data.t0)
    low, high = value_range(data)
    chart = base_chart(look, data.t0, data.t1, clock, height=height, left=left, ticks=ticks)
    chart.update_layout(
        uirevision=data.key, yaxis={"range": [low, high], "title": {"text": axis_title(data)}}
    )
    _windows(chart, data, look, offset, low, high)
    _findings(chart, data, look, offset)
    if data.limit is not None and low <= data.limit <= high:
        _rule(
            chart, data.limit, look.ink, "dash", say("chart.limit", limit=number(data.limit, data.key)), look
        )
    _gaps(chart, data, look, offset)
    hover = f"%{{y:.4g}} {data.unit}<br>%{{x|%d %b %H:%M:%S}} {clock.offset_text(data.t0)}<extra></extra>"
    if data.setpoint is not None and len(data.setpoint.t):
        chart.add_scatter(
            x=milliseconds(data.setpoint.t, offset),
            y=data.setpoint.y.astype(np.float32),
            mode="lines",
            name=say("chart.setpoint"),
            line={"color": look.soft, "width": 1.2, "dash": "4px,3px", "shape": "hv"},
            hoverinfo="skip",
        )
    pale = data.mean is not None
    chart.add_scatter(
        x=milliseconds(data.trace.t, offset),
        y=data.trace.y.astype(np.float32),
        mode="lines",
        name=data.title,
        line={"color": look.soft if pale else look.ink, "width": 0.7 if pale else 1.3},
        opacity=0.55 if pale else 1,
        hovertemplate=hover,
        connectgaps=False,
    )
    if data.mean is not None:
        chart.add_scatter(
            x=milliseconds(data.mean.t, offset),
            y=data.mean.y.astype(np.float32),
            mode="lines",
            hoverinfo="skip",
            line={"color": look.ink, "width": 1.8},
            name=say("chart.mean"),
            connectgaps=False,
        )
    _outside(chart, data, look, offset)
    return chart


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


def _windows(chart: go.Figure, data: ChartData, look: Look, offset: int, low: float, high: float) -> None:
    for start, end, window in data.windows:
        x0, x1 = (start + offset) / 1e6, (end + offset) / 1e6
        inner_low, inner_high = inner_limits(window)
        outer_low = window.low_outer if window.low_outer is not None else inner_low
        outer_high = window.high_outer if window.high_outer is not None else inner_high
        if (outer_low, outer_high) != (inner_low, inner_high):
            _band(chart, x0, x1, _or(outer_low, low), _or(outer_high, high), look.band_outer)
        _band(chart, x0, x1, _or(inner_low, low), _or(inner_high, high), look.band)
        if window.target is not None:
            chart.add_shape(
                type="line",
                x0=x0,
                x1=x1,
                y0=window.target,
                y1=window.target,
                layer="below",
                line={"color": look.sheet, "width": 1.6},
            )
    if data.windows:
        _name_limits(chart, data.windows[-1][2], data.key, look, low, high)


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


def _band(chart: go.Figure, x0: float, x1: float, low: float, high: float, colour: str) -> None:
    chart.add_shape(
        type="rect", x0=x0, x1=x1, y0=low, y1=high, fillcolor=colour, line={"width": 0}, layer="below"
    )


def _name_limits(chart: go.Figure, window: Window, key: str, look: Look, low: float, high: float) -> None:
    """Limits are named at the right edge, where the newest readings are."""
    limits = {name: getattr(window, name) for name in ("high_outer", "high", "target", "low", "low_outer")}
    taken: list[float] = []
    for name in ("high", "low", "target", "high_outer", "low_outer"):
        value = limits[name]
        if (
            value is None
            or not low <= value <= high
            or any(abs(value - t) < (high - low) * 0.075 for t in taken)
        ):
            continue
        taken.append(value)
        chart.add_annotation(
            x=1,
            xref="paper",
            y=value,
            xanchor="left",
            xshift=6,
            showarrow=False,
            align="left",
            text=f"{say('limit.' + name)} {number(value, key)}",
            font={"size": 13, "color": look.soft},
        )


def _rule(chart: go.Figure, value: float, colour: str, dash: str, text: str, look: Look) -> None:
    chart.add_shape(
        type="line",
        xref="paper",
        x0=0,
        x1=1,
        y0=value,
        y1=value,
        line={"color": colour, "width": 1, "dash": dash},
    )
    chart.add_annotation(
        x=0,
        xref="paper",
        y=value,
        xanchor="left",
        yanchor="bottom",
        showarrow=False,
        text=text,
        font={"size": 13, "color": look.soft},
    )


def _findings(chart: go.Figure, data: ChartData, look: Look, offset: int) -> None:
    for finding in data.findings:
        side = finding_look(finding)
        until = finding.last.until if finding.last.until is not None else data.t1
        x0, x1 = max(finding.last.since, data.t0), min(until, data.t1)
        chart.add_shape(
            type="rect",
            yref="paper",
            x0=(x0 + offset) / 1e6,
            x1=(x1 + offset) / 1e6,
            y0=1.0,
            y1=1.022,
            fillcolor=getattr(look, side),
            line={"width": 0},
        )
        chart.add_shape(
            type="line",
            yref="paper",
            x0=(x0 + offset) / 1e6,
            x1=(x0 + offset) / 1e6,
            y0=0,
            y1=1.022,
            line={"color": getattr(look, side), "width": 1, "dash": "2px,3px"},
        )


def _gaps(chart: go.Figure, data: ChartData, look: Look, offset: int) -> None:
    """Long gaps carry the words; short ones are just gaps."""
    for start, end in gaps(data.trace, data.t0, data.t1):
        if end - start > max((data.t1 - data.t0) * 0.06, MINUTE):
            chart.add_annotation(
                x=((start + end) / 2 + offset) / 1e6,
                y=0.04,
                yref="paper",
                showarrow=False,
                text=say("place.no reading"),
                font={"size": 13, "color": look.soft},
            )


def gaps(trace: Trace, t0: int, t1: int) -> list[tuple[int, int]]:
    """Stretches of [t0, t1) without readings, as far as the thinned trace tells."""
    finite = np.isfinite(trace.y)
    if not finite.any():
        return [(t0, t1)]
    found: list[tuple[int, int]] = []
    at = np.flatnonzero(finite)
    for a, b in itertools.pairwise(at):
        if b - a > 1:
            found.append((int(trace.t[a]), int(trace.t[b])))
    if trace.t[at[0]] - t0 > MINUTE:
        found.insert(0, (t0, int(trace.t[at[0]])))
    if t1 - trace.t[at[-1]] > MINUTE:
        found.append((int(trace.t[at[-1]]), t1))
    return found


def _outside(chart: go.Figure, data: ChartData, look: Look, offset: int) -> None:
    """What lies outside its inner window again in colour, its worst point with the mark and the word."""
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
        chart.add_scatter(
            x=milliseconds(t, offset),
            y=np.where(out, y, np.nan).astype(np.float32),
            mode="lines",
            hoverinfo="skip",
            line={"color": getattr(look, side), "width": 2.2},
            connectgaps=False,
            name=say(f"place.{side}"),
        )
        chart.add_scatter(
            x=[(int(t[worst]) + offset) / 1e6],
            y=[float(y[worst])],
            mode="markers",
            hoverinfo="skip",
            name="",
            marker={
                "symbol": "triangle-up" if sign > 0 else "triangle-down",
                "size": 12,
                "color": getattr(look, side),
                "line": {"color": look.paper, "width": 1.5},
            },
        )
