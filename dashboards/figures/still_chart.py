"""One channel against its window as an SVG drawing, for reports: bands, target, gaps as gaps, findings marked."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from dashboards.clock import PlantClock
from dashboards.figures.channel_chart import value_range
from dashboards.figures.findings_line import finding_look
from dashboards.figures.svg import box, drawing, stroke, words
from dashboards.figures.time_axis import TimeAxis, axis_lane
from dashboards.names import shown_figure
from dashboards.texts import say
from dashboards.views import ChartData, Trace, end_of
from dashboards.windows import inner_limits

TOP = 26.0
TICKS = 4


def still_chart(data: ChartData, width: float, height: float = 190.0) -> str:
    """SVG text, `width` by `height` CSS pixels with room for the axis below."""
    axis = TimeAxis(data.t0, data.t1, width, PlantClock(data.zone))
    low, high = value_range(data)
    bottom = height - 26.0

    def y(value: float) -> float:
        share = (value - low) / (high - low)
        return bottom - max(0.0, min(1.0, share)) * (bottom - TOP)

    bands = []
    for start, end, window in data.windows:
        lower, upper = inner_limits(window)
        x0, x1 = axis.x(start), axis.x(end)
        top, base = (TOP if upper is None else y(upper)), (bottom if lower is None else y(lower))
        bands.append(box(x0, top, x1 - x0, base - top, "band"))
        if window.target is not None:
            bands.append(stroke([(x0, y(window.target)), (x1, y(window.target))], "target"))
    marks = []
    for finding in data.findings:
        x0, x1 = axis.x(finding.last.since), axis.x(end_of(finding, data.t1))
        marks.append(box(x0, bottom + 1, max(2.0, x1 - x0), 4, f"fill {finding_look(finding)}"))
    lines, labels = axis_lane(axis, TOP, bottom)
    for value in _round_values(low, high):
        labels.append(words(axis.left - 8, y(value) + 4, shown_figure(value, data.key), "soft small", "end"))
        lines.append(stroke([(axis.left, y(value)), (axis.right, y(value))], "hair"))
    curves = [stroke(points, "profile") for points in _pieces(data.setpoint, axis, y)] if data.setpoint else []
    curves += [stroke(points, "axis curve") for points in _pieces(data.trace, axis, y)]
    title = " ".join(part for part in (data.title, data.unit) if part)
    return drawing(
        width, height + 6, title, *bands, *lines, *labels, *curves, *marks,
        words(axis.left, 15, title, "strong small"),
        *([] if data.windows else [words(axis.right, 15, say("chart.no_window"), "soft small", "end")]),
    )  # fmt: skip


def _pieces(trace: Trace, axis: TimeAxis, y: Callable[[float], float]) -> Iterator[list[tuple[float, float]]]:
    """Runs of known points; a gap stays a gap."""
    points: list[tuple[float, float]] = []
    for at, value in zip(trace.t.tolist(), trace.y.tolist(), strict=True):
        if math.isfinite(value) and axis.t0 <= at <= axis.t1:
            points.append((axis.x(at), y(value)))
        elif points:
            yield points
            points = []
    if points:
        yield points


def _round_values(low: float, high: float) -> list[float]:
    """Three to six round values between."""
    rough = (high - low) / TICKS
    base = 10.0 ** math.floor(math.log10(rough))
    step = next(base * m for m in (1, 2, 2.5, 5, 10) if base * m >= rough)
    return [float(v) for v in np.arange(math.ceil(low / step), math.floor(high / step) + 1) * step]
