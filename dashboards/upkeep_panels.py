"""The evidence behind an upkeep item: its channels over days, with their usual band, limit and forecast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import Means, means
from dashboards.clock import DAY, HOUR, MINUTE, SECOND, PlantClock, duration
from dashboards.data import JournalData
from dashboards.names import channel_title, unit_inside, unit_known, unit_of
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem, told_cells, usual_of
from dashboards.upkeep_items import HISTORY_NS, steady_cells
from ingest.roles import channel_key
from monitor.line import Line

LONGEST_NS = HISTORY_NS
MOST_CELLS = 900
FINE_NS = 2 * HOUR
"""The newest part, drawn by minutes: what began minutes ago would not show in a mean of half an hour."""
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
    """Panels of one item over [t0, t1); repaired: when people said it was, UTC ns; steady: which cells.

    changed: when the pressure ahead of the screen stepped down.
    """

    line: Line
    t0: int
    t1: int
    panels: tuple[Panel, ...]
    repaired: tuple[int, ...]
    steady: np.ndarray
    changed: tuple[int, ...] = ()


def panels_of(data: JournalData, item: UpkeepItem, changed: tuple[int, ...] = ()) -> Panels:
    """A panel or more for an item, over as much of the last fortnight as there is."""
    line = data.line(item.line)
    assert line is not None
    first, end = data.span(item.line)
    start = max(first, end - LONGEST_NS)
    step = next((w for w in WIDTHS if (end - start) / w <= MOST_CELLS), WIDTHS[-1])
    main = item.key
    second = {
        "zone": channel_key("zone_temperature", item.subject),
        "couple": channel_key("zone_output", item.subject),
        "cooling": channel_key("zone_output", item.subject),
        "feeder": channel_key("feeder_rate", item.subject),
        "drive": "screw_speed",
        "gearbox": "gearbox_oil_pressure",
        "pump": "melt_pump_speed",
    }.get(item.kind, "")
    setpoint = {
        "zone": channel_key("zone_setpoint", item.subject),
        "feeder": channel_key("feeder_setpoint", item.subject),
    }.get(item.kind, "")
    beside = item.keys if item.kind in ("screen", "die", "pressure") else ()
    keys = [key for key in dict.fromkeys((main, second, *beside, setpoint)) if key in line.channels]
    cells = means(data.source, item.line, start, end, keys, step)
    steady = steady_cells(data, item.line, cells)
    newest = means(data.source, item.line, max(start, end - FINE_NS), end, keys, MINUTE)
    findings, found = data.findings(item.line, start, end), []
    for key in keys:
        if key == setpoint:
            continue
        row = cells.keys.index(key)
        told = told_cells(findings, key, cells, end)
        usual = usual_of(cells.mean[row], steady, step, told) if key == main else None
        found.append(
            Panel(
                channel_title(line, key),
                unit_of(line, key),
                *finer_end(cells, newest, row),
                (usual.low, usual.high) if usual else None,
                item.limit if key == main else None,
                finer_end(cells, newest, cells.keys.index(setpoint))[1] if key != main and setpoint in keys else None,
                _forecast(item, end, cells.mean[row]) if key == main else None,
                unit_inside(key) if unit_known(line, key) else "",
            )
        )
    return Panels(
        line,
        start,
        max(end, found[0].forecast.t_end if found and found[0].forecast else end),
        tuple(found),
        repairs_of(data, item, start, end),
        steady,
        tuple(at for at in changed if at >= start),
    )


def finer_end(cells: Means, newest: Means, row: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Times, means, lowest and highest of a row: the cells, and by minutes from where `newest` begins."""
    before = cells.times() < newest.t0
    coarse = (cells.times(), cells.mean[row], cells.low[row], cells.high[row])
    fine = (newest.times(), newest.mean[row], newest.low[row], newest.high[row])
    t, y, low, high = (np.concatenate([a[before], b]) for a, b in zip(coarse, fine, strict=True))
    return t, y, low, high


def repairs_of(data: JournalData, item: UpkeepItem, start: int, end: int) -> tuple[int, ...]:
    """When people said that it was repaired, on a page or in the log's notes."""
    ids = {f.last.finding for f in item.findings}
    done = tuple(a.at_ns for a in data.actions(item.line) if a.kind == "repaired" and a.finding in ids)
    return done + tuple(n.at_ns for n in data.notes(item.line, start, end) if n.kind == "repair")


def _forecast(item: UpkeepItem, end: int, y: np.ndarray) -> Forecast | None:
    """The trend of the last hours carried on; else straight to the limit in the time a finding forecast."""
    if item.stop is None:
        return None
    middle, first, last = item.stop
    reach = end + round(min(middle * 1.15, 2 * DAY / SECOND)) * SECOND
    if item.trend is not None and item.trend.slope > 0:
        trend = item.trend
        return Forecast(end, trend.value, trend.slope, trend.slope_low, trend.slope_high, reach)
    known = y[np.isfinite(y)]
    if item.limit is None or not len(known) or middle <= 0 or known[-1] >= item.limit:
        return None
    room = item.limit - float(known[-1])
    slopes = (room / middle, room / last if last else 0.0, room / first if first else room / middle)
    return Forecast(end, float(known[-1]), *slopes, reach)


def left_words(item: UpkeepItem) -> str:
    """How long until it stops the line, for the head of its entry."""
    if item.stop is not None:
        return say("upkeep.left", time=duration(item.stop[0])) if item.stop[0] > 0 else say("upkeep.left_reached")
    if any(f.last.priority == 1 for f in item.standing):
        return say("upkeep.left_now" if item.live else "upkeep.left_ended")
    return say("upkeep.left_unknown")


def stop_words(item: UpkeepItem) -> str:
    """'meets its limit in 6 h (4 h to 11 h)', '' where no trend does."""
    if item.stop is None:
        return ""
    seconds, low, high = item.stop
    if seconds <= 0:
        return say("upkeep.stop_reached")
    latest = duration(high) if high is not None else say("upkeep.much_later")
    at = PlantClock(item.zone).since(item.end + round(seconds * SECOND), item.end)
    return say("upkeep.stop", time=duration(seconds), at=at, low=duration(low), high=latest)
