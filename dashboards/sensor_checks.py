"""Free checks of sensors: what a cold machine or a stopped line shows about them without touching a thing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import HOUR, MINUTE
from dashboards.data import JournalData
from dashboards.views import Segment
from ingest.roles import split_key

LONG_STOP_NS = 8 * HOUR
SHORT_STOP_NS = 20 * MINUTE
CELL_NS = 5 * MINUTE
COLD_C = 45.0
COUPLE_OFF_C = 5.0
"""Couples of a cold machine further than this from their median: twice the 2.5 C that class 2 allows a couple
below 333 C (IEC 60584-1:2013)."""

ZERO_OFF_BAR = 3.0
"""A stopped, open line should read no more than 1 to 3 bar of thermal zero shift."""


@dataclass(frozen=True)
class SensorCheck:
    """A sensor that stands off where it should not.

    off: how far, in its unit. at: end of the stop that shows it, UTC ns.
    """

    key: str
    off: float
    at: int


def sensor_checks(data: JournalData, name: str, t0: int, t1: int) -> list[SensorCheck]:
    """Couples that disagree on the last cold machine, and pressures that are not zero after the last stop."""
    line = data.line(name)
    if line is None:
        return []
    stops = [run for run in data.phase_run(name, t0, t1) if run.name == "stopped"]
    couples = [key for key in line.channels if split_key(key)[0] == "zone_temperature"]
    gauges = [k for k in line.channels if split_key(k)[0] == "melt_pressure" and k not in line.relative_channels]
    cold = _last(stops, LONG_STOP_NS)
    found = _couples(data, name, couples, cold) if cold and len(couples) >= 3 else []
    short = _last(stops, SHORT_STOP_NS)
    return found + (_zeros(data, name, gauges, short) if short and gauges else [])


def _last(stops: list[Segment], at_least: int) -> Segment | None:
    return next((stop for stop in reversed(stops) if stop.end - stop.start >= at_least), None)


def _end_means(data: JournalData, name: str, keys: list[str], stop: Segment) -> np.ndarray:
    """Means of the last ten minutes of a stop, without the cell in which the line starts again."""
    end = stop.end // CELL_NS * CELL_NS
    cells = means(data.source, name, end - 2 * CELL_NS, end, keys, CELL_NS)
    there = np.isfinite(cells.mean)
    total = np.where(there, cells.mean, 0.0).sum(axis=1)
    count = there.sum(axis=1)
    return np.divide(total, count, out=np.full(len(keys), np.nan), where=count > 0)


def _couples(data: JournalData, name: str, keys: list[str], stop: Segment) -> list[SensorCheck]:
    shown = _end_means(data, name, keys, stop)
    middle = float(np.nanmedian(shown)) if np.isfinite(shown).any() else np.nan
    if not middle < COLD_C:
        return []
    off = shown - middle
    return [SensorCheck(k, float(o), stop.end) for k, o in zip(keys, off, strict=True) if abs(o) > COUPLE_OFF_C]


def _zeros(data: JournalData, name: str, keys: list[str], stop: Segment) -> list[SensorCheck]:
    shown = _end_means(data, name, keys, stop)
    return [SensorCheck(k, float(v), stop.end) for k, v in zip(keys, shown, strict=True) if abs(v) > ZERO_OFF_BAR]
