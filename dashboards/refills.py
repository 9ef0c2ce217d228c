"""How often a feeder is refilled and how long it takes, from its refill signal or else from its weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboards.cells import means
from dashboards.clock import DAY, MINUTE, SECOND
from dashboards.data import JournalData
from ingest.roles import channel_key
from monitor.line import Feeder, Line

CELL_NS = 10 * SECOND
LEAST_RISE = 0.01
"""Of the hopper, between two cells of 10 s: what a feeder that only delivers never gains; no source."""


@dataclass(frozen=True)
class Refills:
    """Over a stretch. count: refills; longest_s: the longest; days: length of the stretch."""

    count: int
    longest_s: float
    days: float

    @property
    def per_day(self) -> float:
        """Refills a day."""
        return self.count / self.days if self.days else 0.0


def refills_in(active: np.ndarray, cell_s: float) -> Refills:
    """Runs of cells in which it was refilled. active: bool, shape (n,)."""
    edges = np.flatnonzero(np.diff(np.r_[False, active, False].astype(np.int8)))
    lengths = (edges[1::2] - edges[::2]) * cell_s
    longest = float(lengths.max()) if len(lengths) else 0.0
    return Refills(len(lengths), longest, len(active) * cell_s / 86_400)


def rising(weight: np.ndarray, hopper_kg: float | None) -> np.ndarray:
    """Cells in which the weight goes up by more than noise; what was not seen is not counted."""
    known = weight[np.isfinite(weight)]
    if len(known) < 2:
        return np.zeros(weight.shape, bool)
    least = LEAST_RISE * (hopper_kg or float(known.max()))
    return np.r_[False, np.diff(weight) > least]


def refills(data: JournalData, line: Line, feeder: str, t0: int, t1: int) -> Refills | None:
    """Refills of a feeder in [t0, t1); None where neither refill nor weight is logged."""
    signal, weight = channel_key("feeder_refill", feeder), channel_key("feeder_weight", feeder)
    key = next((k for k in (signal, weight) if k in line.channels), None)
    step = max(CELL_NS, round(line.line.cadence_s * SECOND) // CELL_NS * CELL_NS)
    if key is None or t1 - t0 < 10 * MINUTE:
        return None
    cells = means(data.source, line.name, t0, t1, [key], step)
    if not np.isfinite(cells.mean).any():
        return None
    if key == signal:
        return refills_in(np.nan_to_num(cells.high[0]) > 0.5, step / SECOND)
    return refills_in(rising(cells.mean[0], line.feeder_named(feeder).hopper_kg), step / SECOND)


def level_before(weight: np.ndarray, active: np.ndarray) -> float | None:
    """The lowest weight at which a refill began; None where none did. weight, active: shape (n,)."""
    starts = np.flatnonzero(active & ~np.r_[True, active[:-1]])
    before = weight[starts - 1]
    return float(np.nanmin(before)) if np.isfinite(before).any() else None


def refill_level(data: JournalData, line: Line, feeder: Feeder, end: int) -> float | None:
    """The lowest weight at which a refill began in the day before `end`, kg; None where none was seen."""
    key = channel_key("feeder_weight", feeder.name)
    if key not in line.channels:
        return None
    first, _ = data.span(line.name)
    step = max(CELL_NS, round(line.line.cadence_s * SECOND) // CELL_NS * CELL_NS)
    weight = means(data.source, line.name, max(first, end - DAY), end, [key], step).mean[0]
    return level_before(weight, rising(weight, feeder.hopper_kg))


def refills_now_and_before(
    data: JournalData, line: Line, feeder: str, end: int
) -> tuple[Refills | None, Refills | None]:
    """Of the last day, and of the two days before it."""
    first, _ = data.span(line.name)
    split = max(first, end - DAY)
    before = max(first, end - 3 * DAY)
    return refills(data, line, feeder, split, end), refills(data, line, feeder, before, split)
