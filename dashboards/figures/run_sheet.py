"""One sheet of a run: lots, phases, window map and findings over one time axis."""

from __future__ import annotations

from dashboards.clock import PlantClock
from dashboards.figures.findings_line import findings_lane
from dashboards.figures.phase_ribbon import HEIGHT, ribbon
from dashboards.figures.svg import drawing, words
from dashboards.figures.time_axis import TimeAxis, axis_lane
from dashboards.figures.window_map import map_lane
from dashboards.texts import say
from dashboards.views import Run


def run_sheet(run: Run, width: float, touched: str = "", *, with_findings: bool = True) -> str:
    """SVG text, `width` CSS pixels wide; a drag over it chooses a stretch of time."""
    clock = PlantClock(run.line.line.time_zone)
    axis = TimeAxis(run.t0, run.t1, width, clock)
    top = 2.0
    parts: list[str] = []
    if any(segment.name for segment in run.lots):
        parts += ribbon(axis, run.lots, top, "lot")
        top += HEIGHT
    parts += ribbon(axis, run.phases, top, "phase")
    top += HEIGHT + 4
    rows, bottom = map_lane(run.line, run.grid, axis, top, touched)
    lines, labels = axis_lane(axis, top, bottom)
    labels.append(words(axis.right + 8, top - 9, say("map.outside"), "soft small"))
    end = bottom + 26
    bars: list[str] = []
    if with_findings and run.findings:
        bars, end = findings_lane(run.line, run.findings, axis, bottom + 32)
        end += 8
    return drawing(
        width,
        end,
        say("map.name", line=run.line.name),
        *parts,
        *rows,
        *lines,
        *labels,
        *bars,
        data_t0=run.t0 // 1_000_000,
        data_t1=run.t1 // 1_000_000,
        data_x0=axis.left,
        data_x1=axis.right,
        data_offset=clock.offset_ns(run.t0) // 1_000_000,
    )
