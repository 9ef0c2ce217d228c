"""The figures a part is judged by before and after a repair, in cells of steady running."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import Means, means
from dashboards.clock import MINUTE
from dashboards.data import JournalData
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import steady_cells
from ingest.roles import channel_key

CELL_NS = 10 * MINUTE
LEAST_DRIVE_PCT = 1.0
LEAST_RATE_SHARE = 0.02


@dataclass(frozen=True)
class KeyFigure:
    """One figure of a part. name: 'reading', 'heat output', 'feed factor', 'spread' or 'off set'. key: its channel.

    t: UTC ns; y: NaN where not steady.
    """

    name: str
    key: str
    t: np.ndarray
    y: np.ndarray


def feed_factor(rate: np.ndarray, drive: np.ndarray) -> np.ndarray:
    """Kilograms an hour for each percent of drive."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return rate / np.where(drive > LEAST_DRIVE_PCT, drive, np.nan)


def spread_pct(cells: Means, key: str) -> np.ndarray:
    """How far highest and lowest of each cell lie apart, in percent of its mean."""
    row = cells.keys.index(key)
    mean, apart = cells.mean[row], cells.high[row] - cells.low[row]
    usual = np.nanmedian(mean) if np.isfinite(mean).any() else np.nan
    with np.errstate(invalid="ignore", divide="ignore"):
        return 100 * apart / np.where(mean > LEAST_RATE_SHARE * usual, mean, np.nan)


def key_figures(data: JournalData, item: UpkeepItem, t0: int, t1: int) -> list[KeyFigure]:
    """What to compare for this kind of part: duty and distance from set-point, feed factor and spread, its reading."""
    line = data.line(item.line)
    if line is None or t1 <= t0:
        return []
    at = item.subject
    of_zone = item.kind in ("zone", "couple") or (item.kind == "cooling" and at not in ("", "throat"))
    wanted = [item.key]
    if of_zone:
        wanted = [channel_key(role, at) for role in ("zone_output", "zone_temperature", "zone_setpoint")]
    elif item.kind == "feeder":
        wanted = [channel_key(role, at) for role in ("feeder_rate", "feeder_drive")]
    keys = [key for key in wanted if key in line.channels]
    cells = means(data.source, item.line, t0, t1, keys, CELL_NS)
    steady, t = steady_cells(data, item.line, cells), cells.times()
    series: list[tuple[str, str, np.ndarray]] = []
    if of_zone:
        output, temperature, asked = wanted
        if output in keys:
            series.append(("heat output", output, cells.row(output)))
        if temperature in keys and asked in keys:
            series.append(("off set", temperature, cells.row(temperature) - cells.row(asked)))
    elif item.kind == "feeder":
        rate, drive = wanted
        if rate in keys and drive in keys:
            series.append(("feed factor", rate, feed_factor(cells.row(rate), cells.row(drive))))
        if rate in keys:
            series.append(("spread", rate, spread_pct(cells, rate)))
    elif keys:
        series.append(("reading", item.key, cells.row(item.key)))
    return [KeyFigure(name, key, t, np.where(steady, y, np.nan)) for name, key, y in series]
