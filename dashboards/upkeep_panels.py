"""The evidence behind an upkeep item: its channels over days, with their usual band, limit and forecast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import DAY, MINUTE, SECOND, duration
from dashboards.data import JournalData
from dashboards.names import channel_title, unit_inside, unit_of
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem, usual_of
from dashboards.upkeep_items import HISTORY_NS, steady_cells
from ingest.roles import channel_key
from monitor.line import Line

LONGEST_NS = HISTORY_NS
MOST_CELLS = 900
WIDTHS = tuple(MINUTE * k for k in (1, 2, 5, 10, 20, 30, 60))


@dataclass(frozen=True)
class Forecast:
    """A trend carried on: from (t, value) with slopes a second, to t_end."""

    t: int
    value: float
    slope: float
    slope_low: float
    slope_high: float
    t_end: int


@dataclass(frozen=True)
class Panel:
    """One quantity over the days, in its fixed unit. y, low, high: means and extremes per cell, shape (m,).

    unit: the reader's, which the chart is drawn in. fixed: the unit of the values.
    """

    title: str
    unit: str
    t: np.ndarray
    y: np.ndarray
    low: np.ndarray
    high: np.ndarray
    usual: tuple[float, float] | None = None
    limit: float | None = None
    wanted: np.ndarray | None = None
    forecast: Forecast | None = None
    fixed: str = ""


@dataclass(frozen=True)
class Panels:
    """Panels of one item over [t0, t1); repaired: when people said it was, UTC ns; steady: which cells."""

    line: Line
    t0: int
    t1: int
    panels: tuple[Panel, ...]
    repaired: tuple[int, ...]
    steady: np.ndarray


def panels_of(data: JournalData, item: UpkeepItem) -> Panels:
    """One or two panels for an item, over as much of the last fortnight as there is."""
    line = data.line(item.line)
    assert line is not None
    first, end = data.span(item.line)
    start = max(first, end - LONGEST_NS)
    step = next((w for w in WIDTHS if (end - start) / w <= MOST_CELLS), WIDTHS[-1])
    main = item.key
    second = {
        "zone": channel_key("zone_temperature", item.subject),
        "feeder": channel_key("feeder_rate", item.subject),
        "drive": "screw_speed",
    }.get(item.kind, "")
    setpoint = {
        "zone": channel_key("zone_setpoint", item.subject),
        "feeder": channel_key("feeder_setpoint", item.subject),
    }.get(item.kind, "")
    keys = [key for key in dict.fromkeys((main, second, setpoint)) if key in line.channels]
    cells = means(data.source, item.line, start, end, keys, step)
    steady = steady_cells(data, item.line, cells)
    found = []
    for key in keys:
        if key == setpoint:
            continue
        row = cells.keys.index(key)
        usual = usual_of(cells.mean[row], steady, step) if key == main else None
        found.append(
            Panel(
                channel_title(line, key),
                unit_of(line, key),
                cells.times(),
                cells.mean[row],
                cells.low[row],
                cells.high[row],
                (usual.low, usual.high) if usual else None,
                item.limit if key == main else None,
                cells.row(setpoint) if key != main and setpoint in keys else None,
                _forecast(item, end) if key == main else None,
                "" if key in line.relative_channels else unit_inside(key),
            )
        )
    ids = {f.last.finding for f in item.findings}
    repaired = tuple(a.at_ns for a in data.actions(item.line) if a.kind == "repaired" and a.finding in ids)
    notes = tuple(n.at_ns for n in data.notes(item.line, start, end) if n.kind == "repair")
    return Panels(
        line,
        start,
        max(end, found[0].forecast.t_end if found and found[0].forecast else end),
        tuple(found),
        repaired + notes,
        steady,
    )


def _forecast(item: UpkeepItem, end: int) -> Forecast | None:
    if item.stop is None or item.trend is None:
        return None
    reach = min(item.stop[0] * 1.15, 2 * DAY / SECOND)
    return Forecast(
        end,
        item.trend.value,
        item.trend.slope,
        item.trend.slope_low,
        item.trend.slope_high,
        end + round(reach) * SECOND,
    )


def before_and_after(panels: Panels, item: UpkeepItem) -> list[tuple[int, float, float | None]]:
    """(when repaired, mean of the main channel up to a day before, mean since) of every repair said.

    Steady cells.
    """
    if not panels.panels:
        return []
    panel = panels.panels[0]
    found = []
    for at in panels.repaired:
        good = panels.steady & np.isfinite(panel.y)
        before, after = good & (panel.t < at) & (panel.t >= at - DAY), good & (panel.t >= at)
        if before.any():
            found.append((at, float(panel.y[before].mean()), float(panel.y[after].mean()) if after.any() else None))
    return found


def stop_words(item: UpkeepItem, short: bool = False) -> str:
    """'meets its limit in 6 h (4 h to 11 h)', '' where no trend does."""
    if item.stop is None:
        return ""
    seconds, low, high = item.stop
    if short:
        return say("upkeep.stop_short", time=duration(seconds))
    latest = duration(high) if high is not None else say("upkeep.much_later")
    return say("upkeep.stop", time=duration(seconds), low=duration(low), high=latest)
