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
"""Room that a date takes."""

APART_PX = 24.0
"""Of an hour's label from its neighbour's end."""


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
    if ticks:
        parts += _labels(axis, top + HEIGHT)
    height = LANE + HEIGHT + (24 if ticks else 2)
    return drawing(width, height, say("lines.row", line=run.line.name), *parts)


def _labels(axis: TimeAxis, y: float) -> list[str]:
    """Hours under the row; the day where it begins, and the new one at midnight, where hours too near give way."""
    parts, days = [], [(axis.left, axis.clock.day(axis.t0), "start")]
    # The newest of the midnights in the row; a row is of some hours.
    midnight = axis.clock.parse_day(axis.clock.local(axis.t1).date().isoformat())
    if midnight is not None and axis.t0 < midnight < axis.t1:
        x, room = axis.x(midnight), DATE_PX / 2
        if x < axis.left + 2 * DATE_PX:
            days = []
        days.append((min(max(x, axis.left + room), axis.right - room), axis.clock.day(midnight), "middle"))
        parts.append(stroke([(x, y), (x, y + 7)], "day"))
    taken = [(x, x + DATE_PX) if anchor == "start" else (x - DATE_PX / 2, x + DATE_PX / 2) for x, _, anchor in days]
    parts += [words(x, y + 18, text, "soft small", anchor) for x, text, anchor in days]
    for x, text, dated in axis.ticks():
        parts.append(stroke([(x, y), (x, y + 4)], "day"))
        free = all(x < first - APART_PX or x > last + APART_PX for first, last in taken)
        if not dated and free and axis.left + APART_PX < x < axis.right - APART_PX:
            parts.append(words(x, y + 18, text, "soft small", "middle"))
    return parts


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
