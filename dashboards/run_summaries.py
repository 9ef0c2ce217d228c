"""What each run of a line was like while steady, for wear over many runs."""

from __future__ import annotations

import math

import numpy as np

from dashboards.cells import Means, means
from dashboards.clock import DAY, HOUR, MINUTE
from dashboards.data import JournalData
from dashboards.grid import JUDGED_PHASES
from ingest.roles import channel_key, split_key
from monitor import pressure_path
from monitor.contract import Context
from monitor.line import Line
from monitor.wear import RunSummary, Wear, flood_fed_wear, starve_fed_wear

OVER_NS = 365 * DAY
CELL_NS = 10 * MINUTE
FEWEST_CELLS = 3
TURNING_RPM = 1.0
QUANTITIES = ("specific_throughput", "sme")


def run_summaries(data: JournalData, name: str) -> list[RunSummary]:
    """One summary a lot that ran steady for half an hour or more, over the last year, by hours turned."""
    line = data.line(name)
    if line is None:
        return []
    first, end = data.span(name)
    start = max(first, end - OVER_NS)
    keys = [k for k in line.channels if split_key(k)[0] in ("screw_speed", "melt_pressure", "melt_temperature")]
    found: list[RunSummary] = []
    turned = 0.0
    pressures, melt = _pressures(line), melt_channel(line)
    for lot in data.lots(name):
        t0, t1 = max(lot.start, start), min(lot.end, end)
        if t1 <= t0:
            continue
        read = means(data.source, name, t0, t1, keys, CELL_NS)
        made = means(data.source, name, t0, t1, QUANTITIES, CELL_NS, "quantity")
        steady = _steady(data, name, read)
        speed = read.row("screw_speed")
        before = turned
        turned += float((speed > TURNING_RPM).sum() * CELL_NS / HOUR)
        if steady.sum() < FEWEST_CELLS:
            continue
        found.append(
            RunSummary(
                (before + turned) / 2,
                lot.recipe or lot.product,
                _middle(made.row("specific_throughput"), steady),
                _pressure(read, pressures, steady),
                _middle(read.row(melt), steady),
                _middle(made.row("sme"), steady),
            )
        )
    return found


def wear_of(line: Line, runs: list[RunSummary]) -> tuple[Wear, ...]:
    """The signs of wear that fit how the line is fed."""
    if _context(line).starve_fed:
        return starve_fed_wear(runs)
    return (flood_fed_wear(runs),)


def _context(line: Line) -> Context:
    return Context(line=line, recipe=None, material=None, step_s=line.line.cadence_s)


def _pressures(line: Line) -> tuple[str, ...]:
    """The pressure the screws work against."""
    return tuple(channel_key("melt_pressure", at) for at in pressure_path.head_group(_context(line)))


def melt_channel(line: Line) -> str:
    """The last melt probe: the nearest to the die."""
    return next((s.key for s in reversed(line.sensor) if s.role == "melt_temperature"), "")


def _pressure(read: Means, keys: tuple[str, ...], steady: np.ndarray) -> float:
    rows = [read.row(key) for key in keys]
    return _middle(np.fmax.reduce(rows, axis=0), steady) if rows else math.nan


def _middle(y: np.ndarray, steady: np.ndarray) -> float:
    known = y[steady & np.isfinite(y)]
    return float(np.median(known)) if len(known) >= FEWEST_CELLS else math.nan


def _steady(data: JournalData, name: str, cells: Means) -> np.ndarray:
    """Cells that lie whole inside steady running."""
    low = cells.t0 + cells.step * np.arange(cells.mean.shape[1], dtype=np.int64)
    inside = np.zeros(low.shape, bool)
    for run in data.phase_run(name, cells.t0, cells.t0 + cells.step * len(low)):
        if run.name in JUDGED_PHASES:
            inside |= (low >= run.start) & (low + cells.step <= run.end)
    return inside
