"""A line's last hours folded into one row: over its windows above the rule, under below."""

from __future__ import annotations

from xml.sax.saxutils import escape

import numpy as np

from dashboards.clock import PlantClock
from dashboards.figures.findings_line import finding_look
from dashboards.figures.marks import mark
from dashboards.figures.svg import box, drawing, stroke, tag, words
from dashboards.figures.time_axis import TimeAxis
from dashboards.figures.window_map import runs
from dashboards.texts import say
from dashboards.views import Run, end_of
from dashboards.windows import NO_READING, NOT_JUDGED

HEIGHT, LANE = 22.0, 14.0
"""Pixels: of the row of windows, and of the findings' lane above it."""

MOST_PRIORITY = 3
"""Notes are no marks here."""

DATE_PX = 76.0


class _Flush(TimeAxis):
    """A time axis without a gutter."""

    @property
    def left(self) -> float:
        return 2

    @property
    def right(self) -> float:
        return self.width - 2


def lines_row(run: Run, width: float, *, ticks: bool = True) -> str:
    """SVG text: upper half coloured where any channel is over its window, lower half where any is under.

    Above it every finding has its bar with its mark where it began, whether or not a window tells of it.
    """
    axis = _Flush(run.t0, run.t1, width, PlantClock(run.line.line.time_zone))
    top, half = 1.0 + LANE, HEIGHT / 2
    parts = [box(axis.left, top, axis.right - axis.left, HEIGHT, "row-ground"), *_findings(run, axis)]
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
    first = axis.left + 4.0
    if ticks:
        # The day stands where the row begins; a new one is in its own label.
        day = axis.clock.day(axis.t0)
        parts.append(words(axis.left, top + HEIGHT + 18, day, "soft small"))
        first += DATE_PX + 24
    for x, text, _ in axis.ticks() if ticks else ():
        parts.append(stroke([(x, top + HEIGHT), (x, top + HEIGHT + 4)], "day"))
        if first < x < axis.right - 24:
            parts.append(words(x, top + HEIGHT + 18, text, "soft small", "middle"))
    height = LANE + HEIGHT + (24 if ticks else 2)
    return drawing(width, height, say("lines.row", line=run.line.name), *parts)


def _findings(run: Run, axis: TimeAxis) -> list[str]:
    """A bar from when a finding began to when it ended, and its mark; what only follows from another has none."""
    here = {f.last.finding for f in run.findings}
    parts = []
    for finding in sorted(run.findings, key=lambda f: -f.last.priority):
        last = finding.last
        if last.priority > MOST_PRIORITY or (last.part_of in here and last.priority > 1):
            continue
        look, y = finding_look(finding), LANE / 2
        x0, x1 = axis.x(last.since), axis.x(max(last.since, end_of(finding, run.t1)))
        told = tag("title", escape(f"{axis.clock.since(last.since, run.t1)} {last.summary}"))
        bar = stroke([(x0, y), (max(x1, x0 + 2), y)], f"span {look} p3")
        parts.append(tag("g", told, bar, mark(max(x0, axis.left + 5), y, look, 10)))
    return parts
