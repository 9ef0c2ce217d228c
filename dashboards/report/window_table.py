"""Every channel that has a window, over a whole run: the window, what was read, how long it was outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import SECOND
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from dashboards.machine import machine_order
from dashboards.views import Run
from dashboards.windows import codes, inner_limits, is_plain_start, windows_of
from monitor.recipe import Window

CELL_NS = 10 * SECOND


@dataclass(frozen=True)
class Kept:
    """How one channel kept its window while the line was making product.

    mean, low, high: of the 10 s means, NaN where nothing was read. under_s, over_s: seconds outside the inner limits.
    plain: whether the recipe states a target alone, and the plain start stands for its window.
    """

    key: str
    window: Window
    mean: float
    low: float
    high: float
    under_s: float
    over_s: float
    plain: bool = False

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """The inner limits."""
        return inner_limits(self.window)


def windows_kept(data: JournalData, run: Run) -> list[Kept]:
    """Channels in machine order, in the phases in which windows are judged."""
    line = run.line
    kept: dict[str, list[Kept]] = {}
    for segment, recipe in data.recipe_segments(line.name, run.t0, run.t1):
        windows = windows_of(line, recipe)
        if not windows:
            continue
        keys = [key for key in machine_order(line, list(line.channels)) if key in windows]
        cells = means(data.source, line.name, segment.start, segment.end, keys, CELL_NS)
        judged = np.zeros(cells.mean.shape[1], bool)
        for phase in run.phases:
            if phase.name in JUDGED_PHASES:
                judged |= (cells.times() >= phase.start) & (cells.times() < phase.end)
        for row, key in enumerate(keys):
            kept.setdefault(key, []).append(
                _kept(key, windows[key], cells.mean[row][judged], is_plain_start(recipe, key))
            )
    return [part for parts in kept.values() for part in parts]


def _kept(key: str, window: Window, values: np.ndarray, plain: bool) -> Kept:
    known = values[np.isfinite(values)]
    found = codes(known, window)
    step_s = CELL_NS / SECOND
    mean, low, high = (known.mean(), known.min(), known.max()) if len(known) else (np.nan, np.nan, np.nan)
    return Kept(
        key,
        window,
        float(mean),
        float(low),
        float(high),
        float((found < 0).sum() * step_s),
        float((found > 0).sum() * step_s),
        plain,
    )
