"""The window map's cells: which channel stood where in its window, and when."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboards.cells import means, trailing_mean
from dashboards.clock import SECOND
from dashboards.decimate import coarse_width
from dashboards.machine import machine_order
from dashboards.source import Source
from dashboards.views import Segment, WindowGrid
from dashboards.windows import INSIDE, NOT_JUDGED, codes, position, windows_of
from ingest.roles import ROLES, split_key
from monitor.line import Line
from monitor.recipe import Recipe

JUDGED_PHASES = ("steady",)
"""Phases in which a window says anything about product."""

EDGE = 0.75
"""Share of the way from target to inner limit beyond which an inside cell is drawn as near its edge."""

RATE_MEAN_NS = 60 * SECOND
SCATTERING = ("feeder_rate", "line_rate", "torque")
"""Roles judged as a 60 s mean: their single readings scatter more than their window is wide."""


def window_grid(
    source: Source,
    line: Line,
    t0: int,
    t1: int,
    columns: int,
    phases: Sequence[Segment],
    recipes: Sequence[tuple[Segment, Recipe | None]],
    judged_in: Sequence[str] = JUDGED_PHASES,
) -> WindowGrid:
    """The window map of [t0, t1) in at most `columns` columns; channels in machine order.

    judged_in: names of the phases in which windows are judged.
    """
    windows = [(segment, windows_of(line, recipe)) for segment, recipe in recipes]
    keys = machine_order(line, [key for _, judged in windows for key in judged])
    step = coarse_width(t1 - t0, columns)
    cells = means(source, line.name, t0, t1, keys, step)
    middle = cells.times()
    judged_at = _inside_any(middle, [s for s in phases if s.name in judged_in])
    code = np.full(cells.mean.shape, NOT_JUDGED, dtype=np.int8)
    edge = np.zeros(cells.mean.shape, dtype=np.int8)
    for row, key in enumerate(keys):
        role, _ = split_key(key)
        smooth = -(-RATE_MEAN_NS // step) if role in SCATTERING else 1
        values = trailing_mean(cells.mean[row], smooth)
        highest = cells.high[row] if ROLES[role].cell == "max" else None
        for segment, judged in windows:
            if key not in judged:
                continue
            here = (middle >= segment.start) & (middle < segment.end)
            found = codes(values, judged[key], highest)
            code[row, here] = found[here]
            where = position(values, judged[key])
            near = here & (found == INSIDE) & (np.abs(np.nan_to_num(where)) > EDGE)
            edge[row, near] = np.sign(where[near])
    silent = code == 9
    code[:, ~judged_at] = NOT_JUDGED
    edge[:, ~judged_at] = 0
    code[silent] = 9
    return WindowGrid(tuple(keys), cells.t0, step, code, edge)


def _inside_any(at: np.ndarray, segments: Sequence[Segment]) -> np.ndarray:
    inside = np.zeros(at.shape, dtype=bool)
    for segment in segments:
        inside |= (at >= segment.start) & (at < segment.end)
    return inside
