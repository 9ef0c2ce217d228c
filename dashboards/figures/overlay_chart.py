"""Several runs over each other: told apart by the pattern of their line and a label at its end, never by colour."""

from __future__ import annotations

from typing import Any

import numpy as np

from dashboards.clock import PlantClock
from dashboards.figures.chart_base import base_chart, packed, y_axis
from dashboards.figures.look import Look
from dashboards.figures.svg import spread
from dashboards.laid_runs import Overlay
from dashboards.names import cut, shown_figure
from dashboards.texts import say
from dashboards.windows import inner_limits

PATTERNS = ("solid", "9px,4px", "2px,3px", "14px,4px,3px,4px", "5px,2px", "2px,7px")
RIGHT_PX = 150
LABEL_APART_PX = 17.0
LABEL_SIGNS = 15
"""As many letters as the right margin has room for behind the pattern."""


def overlay_chart(laid: Overlay, look: Look, *, height: int = 360, left: int = 64) -> dict[str, Any]:
    """Line chart of `laid`; the first run is the thickest and lies on top."""
    chart = base_chart(look, 0, 1, PlantClock("UTC"), height=height, left=left)
    low, high = _range(laid)
    small = {"size": 13, "color": look.soft}
    axis = {**chart.layout["xaxis"], "type": "linear", "range": _across(laid), "nticks": 9}
    del axis["tickformatstops"]
    axis["title"] = {"text": say(f"overlay.axis_{laid.over}"), "font": small, "standoff": 8}
    chart.layout |= {"xaxis": axis, "yaxis": y_axis(look, laid.unit, range=[low, high]), "uirevision": laid.key}
    chart.layout["margin"] |= {"r": RIGHT_PX, "b": 46}
    chart.layout["meta"] |= {"whole": axis["range"], "bounds": axis["range"], "zone": ""}
    _band(chart, laid, low, high)
    for place in reversed(range(len(laid.runs))):
        run = laid.runs[place]
        x_unit = say("overlay.unit_kg") if laid.over == "kg" else "h"
        chart.traces.append(
            {
                "type": "scatter",
                "x": packed(run.x, np.float32),
                "y": packed(run.y, np.float32),
                "mode": "lines",
                "line": {"color": look.ink, "width": 2.4 if place == 0 else 1.5, "dash": PATTERNS[place]},
                "opacity": 1.0 if place == 0 else 0.85,
                "connectgaps": False,
                "name": run.label,
                "meta": "reading" if place == 0 else "",
                "hovertemplate": f"{run.label}<br>%{{y:.4g}} {laid.unit}<br>%{{x:.4g}} {x_unit}<extra></extra>",
            }
        )
    _labels(chart, laid, low, high, height)
    return chart.figure()


def _band(chart: Any, laid: Overlay, low: float, high: float) -> None:
    if laid.window is None:
        return
    inner = inner_limits(laid.window)
    bottom, top = (edge if edge is not None else otherwise for edge, otherwise in zip(inner, (low, high), strict=True))
    chart.rect(0, 1, bottom, top, chart.look.band, xref="paper")
    if laid.window.target is not None:
        chart.rule(0, 1, laid.window.target, laid.window.target, chart.look.sheet, 1.6, "solid", xref="paper",
                   layer="below")  # fmt: skip
    for name, value in (("high", inner[1]), ("low", inner[0])):
        if value is not None and low <= value <= high:
            text = f"{say('limit.' + name)} {shown_figure(value, laid.key)}"
            chart.words(text, 0, value, xref="paper", xanchor="left", yanchor="bottom", xshift=4)


def _labels(chart: Any, laid: Overlay, low: float, high: float, height: int) -> None:
    """Every run's pattern and label in the right margin, as near to its last reading as the others leave room."""
    if not laid.runs:
        return
    room = height - 62.0
    ends = [float(run.y[np.isfinite(run.y)][-1]) for run in laid.runs]
    order = sorted(range(len(ends)), key=lambda i: ends[i])
    wanted = [(ends[i] - low) / (high - low) * room for i in order]
    for i, y in zip(order, spread(wanted, LABEL_APART_PX, 4.0, room - 4.0), strict=True):
        text = cut(laid.runs[i].label, LABEL_SIGNS)
        colour = chart.look.ink if i == 0 else ""
        chart.rule(1.006, 1.036, y / room, y / room, chart.look.ink, 2.4 if i == 0 else 1.5, PATTERNS[i], xref="paper",
                   yref="paper")  # fmt: skip
        chart.words(text if i else f"<b>{text}</b>", 1.04, y / room, xref="paper", yref="paper", xanchor="left",
                    yanchor="middle", align="left", colour=colour)  # fmt: skip


def _across(laid: Overlay) -> list[float]:
    known = [run.x for run in laid.runs if len(run.x)]
    first = min((float(x.min()) for x in known), default=0.0)
    last = max((float(x.max()) for x in known), default=1.0)
    return [min(first, 0.0), last if last > first else first + 1.0]


def _range(laid: Overlay) -> tuple[float, float]:
    """What any run read and the inner limits, with a little air."""
    values = [float(v) for run in laid.runs for v in (np.nanmin(run.y), np.nanmax(run.y))]
    if laid.window is not None:
        values += [v for v in (*inner_limits(laid.window), laid.window.target) if v is not None]
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    air = max((high - low) * 0.1, abs(high) * 0.005, 1e-6)
    return low - air, high + air
