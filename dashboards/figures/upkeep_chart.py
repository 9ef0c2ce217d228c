"""Evidence for maintenance: a quantity over days against its own history, its limit and where it is going."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from dashboards.clock import SECOND, PlantClock, hover_format
from dashboards.figures.chart_base import Chart, base_chart, y_axis
from dashboards.figures.look import Look
from dashboards.figures.text_width import in_lines
from dashboards.names import number as written
from dashboards.shown_units import shown_difference, shown_value
from dashboards.texts import say
from dashboards.upkeep_panels import Panel, Panels

PANEL_PX = 190
GAP = 0.16
LEFT, TITLE_PX, LINE_PX = 64, 14, 19
"""Pixels: where the panels begin, and a title's height and line."""
STACKED = 1044
"""Below this width of the page's content the chart takes all of it, as `assets/page.css` has it."""


def upkeep_chart(panels: Panels, look: Look, *, ticks: int = 6, room: float = 900.0) -> dict[str, Any]:
    """Panels one above the other over one time axis: pale spread of each cell, line of its mean.

    room: pixels that a panel's title has; a longer one is broken into lines.
    """
    clock = PlantClock(panels.line.line.time_zone)
    count = max(1, len(panels.panels))
    height = PANEL_PX * count + 62
    titles = [in_lines(panel.title, room, TITLE_PX) for panel in panels.panels]
    below = LINE_PX * (max(map(len, titles), default=1) - 1)
    height += below * count
    chart = base_chart(look, panels.t0, panels.t1, clock, height=height, left=LEFT, ticks=ticks)
    gap = GAP + below / height if count > 1 else 0.0
    share = (1 - gap * (count - 1)) / count
    for i, (panel, title) in enumerate(zip(map(in_shown_unit, panels.panels), titles, strict=True)):
        number = "" if i == 0 else str(i + 1)
        top = 1 - i * (share + gap)
        domain = [max(0.0, top - share), top]
        chart.layout[f"yaxis{number}"] = y_axis(look, panel.unit, domain=domain, anchor="x", range=_range(panel))
        chart.words("<br>".join(title), 0, top, colour=look.ink, size=TITLE_PX, xref="paper", yref="paper",
                    xanchor="left", yanchor="bottom", align="left")  # fmt: skip
        _panel(chart, panel, f"y{number}", clock.offset_text(panels.t0))
    corner: dict[str, Any] = {"yref": "paper", "xanchor": "left", "yanchor": "bottom", "xshift": 4}
    for at in panels.repaired:
        chart.rule(chart.x(at), chart.x(at), 0, 1, look.ink, 1.2, "dot", yref="paper")
        chart.words(say("upkeep.repaired_mark"), chart.x(at), 0, colour=look.ink, **corner)
    for at in panels.changed:
        chart.rule(chart.x(at), chart.x(at), 0, 1, look.soft, 1, "dot", yref="paper")
        chart.explain("changed")
    chart.layout["margin"]["t"] = 30 + below
    chart.layout["xaxis"]["anchor"] = "y" if count == 1 else f"y{count}"
    return chart.figure()


def title_room(width: float) -> float:
    """Pixels for a panel's title on a page of that width: on a wide one the list of parts stands beside the chart."""
    return (width if width < STACKED else width * 0.58) - LEFT


def in_shown_unit(panel: Panel) -> Panel:
    """The panel's values in the reader's unit."""
    unit, coming = panel.fixed, panel.forecast
    if coming is not None:
        coming = replace(
            coming,
            value=shown_value(coming.value, unit),
            slope=shown_difference(coming.slope, unit),
            slope_low=shown_difference(coming.slope_low, unit),
            slope_high=shown_difference(coming.slope_high, unit),
        )
    return replace(
        panel,
        y=shown_value(panel.y, unit),
        low=shown_value(panel.low, unit),
        high=shown_value(panel.high, unit),
        usual=None if panel.usual is None else (shown_value(panel.usual[0], unit), shown_value(panel.usual[1], unit)),
        limit=None if panel.limit is None else shown_value(panel.limit, unit),
        wanted=None if panel.wanted is None else shown_value(panel.wanted, unit),
        forecast=coming,
    )


def _range(panel: Panel) -> list[float]:
    values = [v for y in (panel.low, panel.high, panel.wanted) if y is not None for v in y[np.isfinite(y)]]
    values += list(panel.usual or ())
    if panel.limit is not None and (panel.forecast is not None or (values and panel.limit < max(values) * 1.6)):
        values.append(panel.limit)
    if not values:
        return [0.0, 1.0]
    low, high = float(min(values)), float(max(values))
    air = max((high - low) * 0.1, abs(high) * 0.01, 0.5)
    return [low - air, high + air]


def _panel(chart: Chart, panel: Panel, axis: str, zone: str) -> None:
    look = chart.look
    edge: dict[str, Any] = {"xref": "paper", "yref": axis, "xanchor": "left", "xshift": 6}
    if panel.usual is not None:
        chart.rect(0, 1, panel.usual[0], panel.usual[1], look.band, xref="paper", yref=axis)
        chart.words(say("upkeep.usual_band"), 1, sum(panel.usual) / 2, **edge)
    if panel.limit is not None:
        chart.rule(0, 1, panel.limit, panel.limit, look.ink, 1, "dash", xref="paper", yref=axis)
        chart.words(say("upkeep.limit_mark", limit=written(panel.limit, 0)), 1, panel.limit, **edge)
    t, y = spread_outline(panel.t, panel.low, panel.high)
    pale = _see_through(look.soft, 0.22)
    chart.line(t, y, look.line, 0, yaxis=axis, fill="toself", fillcolor=pale)
    if panel.wanted is not None:
        chart.line(panel.t, panel.wanted, look.soft, 1.2, yaxis=axis, line={"dash": "4px,3px", "shape": "hv"})
        chart.explain("setpoint")
    hover = f"%{{y:.4g}} {panel.unit}<br>%{{x|{hover_format(seconds=False)}}} {zone}<extra></extra>"
    chart.line(panel.t, panel.y, look.ink, 1.4, yaxis=axis, hovertemplate=hover, meta="reading")
    if panel.forecast is not None:
        f = panel.forecast
        chart.explain("forecast")
        far = (f.t_end - f.t) / SECOND
        ends = np.array([f.t, f.t_end], dtype=np.int64)
        for slope, width, dash in ((f.slope, 2, "solid"), (f.slope_low, 1, "dot"), (f.slope_high, 1, "dot")):
            carried = np.array([f.value, f.value + slope * far])
            chart.line(ends, carried, look.over, width, yaxis=axis, line={"dash": dash})


def spread_outline(t: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """One closed outline a stretch without gaps, NaN between them."""
    there = np.isfinite(low) & np.isfinite(high)
    edges = np.flatnonzero(np.diff(np.r_[False, there, False].astype(np.int8)))
    xs, ys = [], []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        run = slice(first, last)
        xs += [t[run], t[run][::-1], t[run][-1:]]
        ys += [low[run], high[run][::-1], [np.nan]]
    if not xs:
        return np.empty(0, np.int64), np.empty(0)
    return np.concatenate(xs), np.concatenate(ys)


def _see_through(colour: str, alpha: float) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{alpha})"
