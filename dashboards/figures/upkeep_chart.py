"""Evidence for maintenance: a quantity over days against its own history, its limit and where it is going."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboards.clock import SECOND, PlantClock
from dashboards.figures.chart_base import base_chart, milliseconds
from dashboards.figures.look import Look
from dashboards.texts import say
from dashboards.upkeep_panels import Panel, Panels

PANEL_PX = 190


def upkeep_chart(panels: Panels, look: Look, *, ticks: int = 6) -> go.Figure:
    """Panels one above the other over one time axis: pale spread of each cell, line of its mean."""
    clock = PlantClock(panels.line.line.time_zone)
    count = max(1, len(panels.panels))
    chart = base_chart(look, panels.t0, panels.t1, clock, height=PANEL_PX * count + 62, left=64, ticks=ticks)
    offset = clock.offset_ns(panels.t0)
    gap = 0.16 if count > 1 else 0.0
    share = (1 - gap * (count - 1)) / count
    for i, panel in enumerate(panels.panels):
        axis = "y" if i == 0 else f"y{i + 1}"
        top = 1 - i * (share + gap)
        style = chart.layout["yaxis"].to_plotly_json()
        chart.update_layout(
            {
                f"yaxis{'' if i == 0 else i + 1}": {
                    **style,
                    "domain": [top - share, top],
                    "title": {"text": panel.unit or " ", "font": {"size": 13, "color": look.soft}},
                    "anchor": "x",
                    "range": list(_range(panel)),
                }
            }
        )
        chart.add_annotation(
            xref="paper",
            yref="paper",
            x=0,
            y=top,
            xanchor="left",
            yanchor="bottom",
            showarrow=False,
            text=panel.title,
            font={"size": 14, "color": look.ink},
        )
        _panel(chart, panel, axis, look, offset, clock.offset_text(panels.t0), top)
    for at in panels.repaired:
        x = (at + offset) / 1e6
        chart.add_shape(
            type="line",
            yref="paper",
            x0=x,
            x1=x,
            y0=0,
            y1=1,
            line={"color": look.ink, "width": 1.2, "dash": "dot"},
        )
        chart.add_annotation(
            x=x,
            yref="paper",
            y=0,
            yanchor="bottom",
            xanchor="left",
            xshift=4,
            showarrow=False,
            text=say("upkeep.repaired_mark"),
            font={"size": 13, "color": look.ink},
        )
    chart.update_layout(
        uirevision="upkeep", margin={"t": 30}, xaxis={"anchor": "y" if count == 1 else f"y{count}"}
    )
    return chart


def _range(panel: Panel) -> tuple[float, float]:
    values = [v for y in (panel.low, panel.high, panel.wanted) if y is not None for v in y[np.isfinite(y)]]
    values += list(panel.usual or ())
    if panel.limit is not None and (
        panel.forecast is not None or (values and panel.limit < max(values) * 1.6)
    ):
        values.append(panel.limit)
    if not values:
        return 0.0, 1.0
    low, high = float(min(values)), float(max(values))
    air = max((high - low) * 0.1, abs(high) * 0.01, 0.5)
    return low - air, high + air


def _panel(chart: go.Figure, panel: Panel, axis: str, look: Look, offset: int, zone: str, top: float) -> None:
    x = milliseconds(panel.t, offset)
    if panel.usual is not None:
        chart.add_shape(
            type="rect",
            xref="paper",
            yref=axis,
            x0=0,
            x1=1,
            y0=panel.usual[0],
            y1=panel.usual[1],
            fillcolor=look.band,
            line={"width": 0},
            layer="below",
        )
        chart.add_annotation(
            xref="paper",
            yref=axis,
            x=1,
            y=sum(panel.usual) / 2,
            xanchor="left",
            xshift=6,
            showarrow=False,
            text=say("upkeep.usual_band"),
            font={"size": 13, "color": look.soft},
        )
    if panel.limit is not None:
        chart.add_shape(
            type="line",
            xref="paper",
            yref=axis,
            x0=0,
            x1=1,
            y0=panel.limit,
            y1=panel.limit,
            line={"color": look.ink, "width": 1, "dash": "dash"},
        )
        chart.add_annotation(
            xref="paper",
            yref=axis,
            x=1,
            y=panel.limit,
            xanchor="left",
            xshift=6,
            showarrow=False,
            text=say("upkeep.limit_mark", limit=f"{panel.limit:.0f}"),
            font={"size": 13, "color": look.soft},
        )
    outline = spread_outline(x, panel.low, panel.high)
    chart.add_scatter(
        x=outline[0],
        y=outline[1],
        mode="lines",
        line={"width": 0, "color": look.line},
        hoverinfo="skip",
        yaxis=axis,
        fill="toself",
        fillcolor=_see_through(look.soft, 0.22),
    )
    if panel.wanted is not None:
        chart.add_scatter(
            x=x,
            y=panel.wanted.astype(np.float32),
            mode="lines",
            hoverinfo="skip",
            yaxis=axis,
            line={"color": look.soft, "width": 1.2, "dash": "4px,3px", "shape": "hv"},
        )
    chart.add_scatter(
        x=x,
        y=panel.y.astype(np.float32),
        mode="lines",
        yaxis=axis,
        connectgaps=False,
        line={"color": look.ink, "width": 1.4},
        hovertemplate=f"%{{y:.4g}} {panel.unit}<br>%{{x|%d %b %H:%M}} {zone}<extra></extra>",
    )
    if panel.forecast is not None:
        f = panel.forecast
        far = (f.t_end - f.t) / SECOND
        ends = milliseconds(np.array([f.t, f.t_end], dtype=np.int64), offset)
        for slope, width, dash in ((f.slope, 2, "solid"), (f.slope_low, 1, "dot"), (f.slope_high, 1, "dot")):
            chart.add_scatter(
                x=ends,
                y=[f.value, f.value + slope * far],
                mode="lines",
                hoverinfo="skip",
                yaxis=axis,
                line={"color": look.over, "width": width, "dash": dash},
            )


def spread_outline(x: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """One closed outline a stretch without gaps, NaN between them."""
    there = np.isfinite(low) & np.isfinite(high)
    edges = np.flatnonzero(np.diff(np.r_[False, there, False].astype(np.int8)))
    xs, ys = [], []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        run = slice(first, last)
        xs += [x[run], x[run][::-1], [np.nan]]
        ys += [low[run], high[run][::-1], [np.nan]]
    if not xs:
        return np.empty(0), np.empty(0, np.float32)
    return np.concatenate(xs), np.concatenate(ys).astype(np.float32)


def _see_through(colour: str, alpha: float) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{alpha})"
