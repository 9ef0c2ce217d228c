"""An empty chart in our look, and how times are put on it."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboards.clock import PlantClock, time_ticks
from dashboards.figures.look import Look
from dashboards.figures.time_axis import RIGHT
from dashboards.texts import say

FONT = 'system-ui, "Segoe UI", "Helvetica Neue", "Noto Sans", Arial, sans-serif'


def base_chart(
    look: Look, t0: int, t1: int, clock: PlantClock, *, height: int, left: int, ticks: int = 7
) -> go.Figure:
    """An empty chart in our look with a time axis over [t0, t1)."""
    offset = clock.offset_ns(t0)
    marks = time_ticks(clock, t0, t1, ticks)
    axis = {
        "gridcolor": look.line,
        "linecolor": look.line,
        "zeroline": False,
        "ticks": "",
        "fixedrange": False,
        "title": {"font": {"size": 13, "color": look.soft}, "standoff": 8},
        "tickfont": {"size": 13, "color": look.soft},
    }
    chart = go.Figure()
    chart.update_layout(
        height=height,
        margin={"l": left, "r": RIGHT, "t": 18, "b": 44},
        showlegend=False,
        template="none",
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        hovermode="closest",
        dragmode="zoom",
        font={"family": FONT, "color": look.ink, "size": 13},
        hoverlabel={
            "bgcolor": look.sheet,
            "bordercolor": look.ink,
            "font": {"color": look.ink, "size": 14, "family": FONT},
        },
        modebar={"bgcolor": "rgba(0,0,0,0)", "color": look.soft, "activecolor": look.ink},
        xaxis={
            **axis,
            "type": "date",
            "range": [(t0 + offset) / 1e6, (t1 + offset) / 1e6],
            "tickvals": [(at + offset) / 1e6 for at, _ in marks],
            "ticktext": [text for _, text in marks],
            "title": {
                **axis["title"],
                "text": say("chart.time", offset=clock.offset_text(t0), zone=clock.name),
            },
        },
        yaxis={**axis, "showgrid": False, "showline": False, "nticks": 6},
    )
    return chart


def milliseconds(t: np.ndarray, offset_ns: int) -> np.ndarray:
    """UTC nanoseconds as wall-clock milliseconds, what a date axis takes."""
    return (t + offset_ns) / 1e6
