"""A line's last hours folded into one row: over its windows above the rule, under below."""

from __future__ import annotations

import numpy as np

from dashboards.clock import PlantClock
from dashboards.figures.svg import box, drawing, stroke, words
from dashboards.figures.time_axis import TimeAxis
from dashboards.figures.window_map import runs
from dashboards.texts import say
from dashboards.views import Run
from dashboards.windows import NO_READING, NOT_JUDGED

HEIGHT = 22.0


class _Flush(TimeAxis):
    """A time axis without a gutter."""

    @property
    def left(self) -> float:
        return 2

    @property
    def right(self) -> float:
        return self.width - 2


def lines_row(run: Run, width: float, *, ticks: bool = True) -> str:
    """SVG text: upper half coloured where any channel is over its window, lower half where any is under."""
    axis = _Flush(run.t0, run.t1, width, PlantClock(run.line.line.time_zone))
    top, half = 1.0, HEIGHT / 2
    parts = [box(axis.left, top, axis.right - axis.left, HEIGHT, "row-ground")]
    code = run.grid.code
    if len(code):
        nothing = np.isin(code, (NO_READING, NOT_JUDGED)).all(axis=0)
        over, under = np.isin(code, (1, 2)).any(axis=0), np.isin(code, (-1, -2)).any(axis=0)
        for flags, y, height, look in (
            (nothing, top, HEIGHT, "blank"),
            (over, top, half, "cell over far"),
            (under, top + half, half, "cell under far"),
        ):
            for first, last, value in runs(np.asarray(flags, dtype=np.int8)):
                if value:
                    x0, x1 = (
                        axis.x(run.grid.t0 + first * run.grid.step),
                        axis.x(run.grid.t0 + last * run.grid.step),
                    )
                    parts.append(box(x0, y, max(x1 - x0, 1.5), height, look))
    else:
        parts.append(box(axis.left, top, axis.right - axis.left, HEIGHT, "blank"))
    parts.append(stroke([(axis.left, top + half), (axis.right, top + half)], "hair"))
    if not len(code):
        parts.append(words(width / 2, top + half + 5, say("lines.row_no_windows"), "soft small halo", "middle"))
    for x, text, _ in axis.ticks() if ticks else ():
        parts.append(stroke([(x, top + HEIGHT), (x, top + HEIGHT + 4)], "day"))
        if axis.left + 20 < x < axis.right - 24:
            parts.append(words(x, top + HEIGHT + 18, text, "soft small", "middle"))
    return drawing(width, HEIGHT + (24 if ticks else 2), say("lines.row", line=run.line.name), *parts)
