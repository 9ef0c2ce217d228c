"""A plotly chart in our look, put together as plain data: a fifth of the time of plotly's own objects.

What is built is checked against plotly's schema by the tests.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from dashboards.clock import PlantClock
from dashboards.figures.look import Look
from dashboards.figures.time_axis import RIGHT
from dashboards.shown_units import chosen
from dashboards.texts import say

FONT = 'system-ui, "Segoe UI", "Helvetica Neue", "Noto Sans", Arial, sans-serif'


@dataclass
class Chart:
    """A chart being built. offset: what is added to UTC to get the wall clock it shows, nanoseconds."""

    look: Look
    offset: int
    layout: dict[str, Any]
    traces: list[dict[str, Any]] = field(default_factory=list)

    def x(self, at_ns: int) -> float:
        """An instant on the time axis."""
        return (at_ns + self.offset) / 1e6

    def line(self, t: np.ndarray, y: np.ndarray, colour: str, width: float, **more: Any) -> None:
        """A line through (t, y), UTC nanoseconds.

        NaN breaks it. It says nothing when hovered unless told to.
        """
        style = {"color": colour, "width": width, **more.pop("line", {})}
        trace = {
            "type": "scatter",
            "x": packed((np.asarray(t) + self.offset) / 1e6, np.float64),
            "y": packed(y, np.float32),
            "mode": "lines",
            "line": style,
            "connectgaps": False,
        }
        if "hovertemplate" not in more:
            trace["hoverinfo"] = "skip"
        self.traces.append({**trace, **more})

    def mark(self, at_ns: int, y: float, colour: str, symbol: str) -> None:
        """One mark."""
        marker = {
            "symbol": symbol,
            "size": 12,
            "color": colour,
            "line": {"color": self.look.paper, "width": 1.5},
        }
        self.traces.append(
            {
                "type": "scatter",
                "x": [self.x(at_ns)],
                "y": [y],
                "mode": "markers",
                "hoverinfo": "skip",
                "marker": marker,
            }
        )

    def rect(self, x0: float, x1: float, y0: float, y1: float, colour: str, **more: Any) -> None:
        """A filled stretch below the lines."""
        self._shape("rect", x0, x1, y0, y1, fillcolor=colour, line={"width": 0}, layer="below", **more)

    def rule(
        self, x0: float, x1: float, y0: float, y1: float, colour: str, width: float, dash: str, **more: Any
    ) -> None:
        """A straight line."""
        self._shape("line", x0, x1, y0, y1, line={"color": colour, "width": width, "dash": dash}, **more)

    def _shape(self, kind: str, x0: float, x1: float, y0: float, y1: float, **more: Any) -> None:
        self.layout["shapes"].append({"type": kind, "x0": x0, "x1": x1, "y0": y0, "y1": y1, **more})

    def words(self, text: str, x: float, y: float, *, colour: str = "", size: int = 13, **more: Any) -> None:
        """A few words without an arrow."""
        font = {"size": size, "color": colour or self.look.soft}
        self.layout["annotations"].append({"text": text, "x": x, "y": y, "showarrow": False, "font": font, **more})

    def explain(self, *marks: str) -> None:
        """The frame is to say what these marks are, see `dashboards.legends.chart_legend`; they are in this chart."""
        told = self.layout["meta"]["marks"]
        told += [mark for mark in marks if mark not in told]

    def figure(self) -> dict[str, Any]:
        """What a Graph takes."""
        return {"data": self.traces, "layout": self.layout}


def packed(values: np.ndarray, kind: type) -> dict[str, str]:
    """An array as plotly's typed array: a third of its size as text."""
    array = np.ascontiguousarray(values, dtype=kind)
    name = {"float64": "f8", "float32": "f4"}[array.dtype.name]
    return {"dtype": name, "bdata": base64.b64encode(array.tobytes()).decode("ascii")}


def base_chart(look: Look, t0: int, t1: int, clock: PlantClock, *, height: int, left: int, ticks: int = 7) -> Chart:
    """An empty chart in our look with a time axis over [t0, t1)."""
    offset = clock.offset_ns(t0)
    small = {"size": 13, "color": look.soft}
    zone = clock.offset_text(t0)
    title = zone if clock.name == zone else say("chart.time", offset=zone, zone=clock.name)
    axis = {"gridcolor": look.line, "linecolor": look.line, "zeroline": False, "ticks": "", "tickfont": small}
    layout: dict[str, Any] = {
        "height": height,
        "margin": {"l": left, "r": RIGHT, "t": 18, "b": 62},
        "showlegend": False,
        "separators": ",\u202f" if chosen.get().mark == "comma" else ".\u202f",
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "hovermode": "closest",
        "dragmode": "zoom",
        "font": {"family": FONT, "color": look.ink, "size": 13},
        "hoverlabel": {
            "bgcolor": look.sheet,
            "bordercolor": look.ink,
            "font": {"color": look.ink, "size": 14, "family": FONT},
        },
        "xaxis": {
            **axis,
            "type": "date",
            "range": [(t0 + offset) / 1e6, (t1 + offset) / 1e6],
            "nticks": ticks,
            "tickformatstops": time_formats(),
            "title": {"text": title, "font": small, "standoff": 8},
        },
        "yaxis": y_axis(look, " "),
        "shapes": [],
        "annotations": [],
        "meta": {
            "zone": title,
            "offset": offset / 1e6,
            "whole": [(t0 + offset) / 1e6, (t1 + offset) / 1e6],
            "bounds": [(t0 + offset) / 1e6, (t1 + offset) / 1e6],
            "paper": look.paper,
            "hours": chosen.get().hours,
            "date": chosen.get().date,
            "mark": chosen.get().mark,
            "marks": [],
        },
    }
    return Chart(look, offset, layout)


def tell(figure: dict[str, Any], *, title: str, name: str, csv: str, unit: str = "", **more: Any) -> dict[str, Any]:
    """The figure with what its frame must know of it, see `assets/chart.js`.

    title: over a picture of it. name: of its files. csv: address of its table. unit: of its readings.
    more: 'whole' and 'bounds', stretches on its x axis: where it goes back to, and how far it can be moved.
    """
    figure["layout"]["meta"] |= {"title": title, "name": name, "csv": csv, "unit": unit, **more}
    return figure


def time_formats() -> list[dict[str, Any]]:
    """Labels of the time axis from fine to coarse; the day stands below the first and where it changes."""
    day = "%b %-d" if chosen.get().date == "month" else "%-d %b"
    hour, half = ("%H", "") if chosen.get().hours == "24" else ("%-I", " %p")
    minute, hours, days = 60_000, 3_600_000, 86_400_000
    return [
        {"dtickrange": [None, minute - 1], "value": f"{hour}:%M:%S{half}\n{day}"},
        {"dtickrange": [minute, days - hours], "value": f"{hour}:%M{half}\n{day}"},
        {"dtickrange": [days - hours + 1, None], "value": day},
    ]


def y_axis(look: Look, unit: str, **more: Any) -> dict[str, Any]:
    """An upright axis with its unit as title and no lines of its own."""
    small = {"size": 13, "color": look.soft}
    return {
        "showgrid": False,
        "showline": False,
        "zeroline": False,
        "ticks": "",
        "nticks": 6,
        "fixedrange": True,
        "tickfont": small,
        "title": {"text": unit or " ", "font": small, "standoff": 8},
        **more,
    }
