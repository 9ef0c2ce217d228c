"""What moving a chart does to the address, and what a chart over a stretch of the address must say of itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from dash import Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import SECOND, PlantClock
from dashboards.figures.chart_base import tell
from dashboards.texts import say
from dashboards.urls import data_url, instant_text, touched_url, with_parameters
from dashboards.views import ChartData
from monitor.line import Line


def told(
    figure: dict[str, Any], line: Line, chart: ChartData, whole: tuple[int, int], bounds: tuple[int, int]
) -> dict[str, Any]:
    """The figure of a channel with what its frame must know; its stretch stands in the address.

    whole, bounds: see `figures.chart_base.tell`, UTC ns.
    """
    offset = PlantClock(chart.zone).offset_ns(chart.t0)

    def on_axis(ends: tuple[int, int]) -> list[float]:
        return [(end + offset) / 1e6 for end in ends]

    name = line.line.name
    title = ", ".join(part for part in (chart.title, chart.unit) if part)
    return tell(
        figure,
        title=say("chart.picture", line=name, title=title),
        name=f"{name} {chart.key} {instant_text(chart.t0)}".replace(":", "-"),
        csv=data_url(name, chart.key),
        unit=chart.unit,
        whole=on_axis(whole),
        bounds=on_axis(bounds),
        reset="server",
    )


def touch_leads(app: Dash, drawing: str) -> None:
    """What is touched in a drawing becomes the channel of the address. drawing: its id."""

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(drawing, "touched"),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def touch(touched: dict | None, search: str) -> str:
        return touched_url(touched, search)


def asked(moved: dict | None, search: str, clock: PlantClock, t0: int) -> str:
    """The address after a chart that shows a stretch from `t0` on was moved; no stretch stands in it for the whole.

    Raises PreventUpdate where the stretch stays as it is.
    """
    found = zoomed(moved, clock, t0)
    if found is None:
        raise PreventUpdate
    return with_parameters(search, from_=found[0], to=found[1])


def revision(key: str, state: Mapping[str, str]) -> str:
    """Changes where what was moved by hand holds no more: with the channel and with the stretch of the address."""
    return f"{key} {state.get(ids.FROM, '')} {state.get(ids.TO, '')}"


def zoomed(moved: dict | None, clock: PlantClock, t0: int) -> tuple[str, str] | None:
    """What a chart's relayout asks for: (from, to), both '' for everything; None if it asks for nothing.

    The chart shows wall-clock time with the offset that held at `t0`.
    """
    if not moved:
        return None
    if moved.get("xaxis.autorange"):
        return "", ""
    pair = [moved.get("xaxis.range[0]"), moved.get("xaxis.range[1]")]
    if None in pair:
        pair = list(moved.get("xaxis.range") or [])
    edges = [_wall_ns(edge) - clock.offset_ns(t0) for edge in pair if edge is not None]
    if len(edges) != 2:
        return None
    return instant_text(edges[0]), instant_text(edges[1])


def _wall_ns(edge: str | float) -> int:
    if isinstance(edge, (int, float)):
        return round(edge * 10**6)
    found = dt.datetime.fromisoformat(edge.replace(" ", "T")[:26]).replace(tzinfo=dt.UTC)
    return int(found.timestamp()) * SECOND
