"""How to read the marks: small lines of text beside the drawings and lists that use them."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboards.clock import SECOND
from dashboards.data import RATE_MEAN_NS, SHOWN_MEAN_NS
from dashboards.parts import SHAPES
from dashboards.texts import say


def map_legend() -> html.P:
    """How to read the map."""
    marks = ("over", "under", "far", "near", "unread", "blank")
    return html.P(
        [html.Span([html.I(className=f"swatch {mark}"), say(f"legend.{mark}")]) for mark in marks], className="legend"
    )


def rows_legend() -> html.P:
    """How to read hours folded into one row."""
    halves = [
        html.Span([html.I(className=f"swatch {m}"), say(f"legend.{m}")]) for m in ("row_over", "row_under", "blank")
    ]
    marks = [html.I(SHAPES[look], className=f"shape {look}", **_named(look)) for look in SHAPES]
    return html.P([*halves, html.Span([*marks, say("legend.row_finding")])], className="legend rows")


def shapes_legend() -> html.P:
    """What the shapes before findings say. A screen reader hears the name of each shape before its meaning."""
    return html.P([_shape(look) for look in SHAPES], className="legend shapes")


def strip_legend() -> html.P:
    """What the marks on the barrel strip say, and over how long its readings are means."""
    means = say("legend.means", rates=f"{RATE_MEAN_NS / SECOND:g}", others=f"{SHOWN_MEAN_NS / SECOND:g}")
    # Where nothing has a window, page.css leaves out what windows mean.
    bead = html.Span([html.I("●", className="shape", **_named("bead")), say("legend.bead")], className="of-windows")
    shapes = [_shape(look, "strip", "" if look == "other" else "of-windows") for look in SHAPES]
    edge = html.Span([html.I(className="swatch edge"), say("legend.edge")], className="of-windows")
    return html.P([bead, *shapes, edge, html.Span(means)], className="legend shapes")


CHART_MARKS = ("begins", "lasts", "setpoint", "mean", "changed", "forecast")
"""Marks of charts whose meaning does not stand beside them."""


def chart_legend() -> html.P:
    """What marks on a chart mean. assets/chart.js shows of these what the figure says it has, see `Chart.explain`."""
    told: list[html.Span] = []
    for mark in CHART_MARKS:
        given: dict[str, Any] = {"data-mark": mark}
        told.append(html.Span([html.I(className=f"swatch on-chart {mark}"), say(f"chart.mark_{mark}")], **given))
    return html.P(told, className="legend chart-marks")


def _shape(look: str, where: str = "shape", class_name: str = "") -> html.Span:
    mark = html.I(SHAPES[look], className=f"shape {look}", **_named(look))
    return html.Span([mark, say(f"legend.{where}_{look}")], className=class_name)


def _named(look: str) -> dict[str, Any]:
    return {"role": "img", "aria-label": say(f"legend.name_{look}")}
