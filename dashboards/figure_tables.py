"""What the charts of upkeep and of runs laid over each other show, as rows of text in the reader's units."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from dashboards.clock import PlantClock
from dashboards.csv_text import csv_row
from dashboards.figures.upkeep_chart import in_shown_unit
from dashboards.laid_runs import Overlay
from dashboards.names import with_unit
from dashboards.texts import say
from dashboards.upkeep_panels import Panel, Panels
from dashboards.urls import instant_text


def panel_rows(panels: Panels, t0: int, t1: int) -> Iterator[str]:
    """Lines of a CSV file: each cell of [t0, t1) with mean, lowest and highest, and the set-point where it is drawn."""
    zone = panels.line.line.time_zone
    clock = PlantClock(zone)
    shown = [in_shown_unit(panel) for panel in panels.panels]
    columns = {name: series for panel in shown for name, series in _columns(panel).items()}
    times = np.unique(np.concatenate([panel.t for panel in shown])) if shown else np.empty(0, np.int64)
    times = times[(times >= t0) & (times < t1)]
    yield csv_row(["time_utc", f"time_{zone}", *columns])
    laid = [_at(t, y, times) for t, y in columns.values()]
    for i, at in enumerate(times.tolist()):
        yield csv_row([instant_text(at), clock.local(at).isoformat(), *(float(y[i]) for y in laid)])


def _columns(panel: Panel) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    unit = f" ({panel.unit})" if panel.unit else ""
    told = {"mean": panel.y, "lowest": panel.low, "highest": panel.high, "set": panel.wanted}
    columns: dict[str, tuple[np.ndarray, np.ndarray]] = {}
    for name, series in told.items():
        if series is not None:
            columns[f"{panel.title}, " + say(f"table.{name}") + unit] = panel.t, series
    return columns


def _at(t: np.ndarray, y: np.ndarray, times: np.ndarray) -> np.ndarray:
    """The values at `times`, NaN where the series has none."""
    found = np.full(len(times), np.nan)
    place = np.searchsorted(t, times)
    inside = place < len(t)
    inside[inside] = t[place[inside]] == times[inside]
    found[inside] = y[place[inside]]
    return found


def overlay_rows(laid: Overlay, low: float, high: float) -> Iterator[str]:
    """Lines of a CSV file: lot, place on the axis from `low` to `high`, reading."""
    axis = say(f"overlay.axis_{laid.over}")
    yield csv_row([say("table.lot"), axis, with_unit(laid.title, f"({laid.unit})" if laid.unit else "")])
    for run in laid.runs:
        for x, y in zip(run.x.tolist(), run.y.tolist(), strict=True):
            if low <= x <= high:
                yield csv_row([run.label, x, y])
