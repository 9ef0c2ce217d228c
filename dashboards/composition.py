"""What was delivered of every ingredient, against the recipe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dashboards.cells import Means, means
from dashboards.clock import HOUR, MINUTE, SECOND
from dashboards.data import JournalData
from dashboards.machine import mass_known, subject_title

EXCURSION_NS = 5 * MINUTE


@dataclass(frozen=True)
class Delivered:
    """One ingredient over a stretch. Shares in percent of all fed; kg delivered.

    lowest, highest: extreme 5 min means with the start of each, UTC ns; None where too little was read.
    """

    feeder: str
    title: str
    recipe_share: float | None
    share: float
    kg: float
    lowest: tuple[float, int] | None
    highest: tuple[float, int] | None

    @property
    def difference(self) -> float | None:
        """Delivered less recipe, in points of percent."""
        return None if self.recipe_share is None else self.share - self.recipe_share


def delivered(data: JournalData, name: str, t0: int, t1: int) -> list[Delivered]:
    """Every feeder with a share, in the order of the line file; empty where feeders are not logged.

    Empty too where a rate's unit is not known: such numbers cannot be added up.
    """
    line, recipe = data.line(name), data.recipe_at(name, max(t0, t1 - 1))
    assert line is not None
    if not mass_known(line):
        return []
    keys = [f"share:{f.name}" for f in line.feeder]
    step = 10 * SECOND if t1 - t0 <= 48 * HOUR else MINUTE
    cells = means(data.source, name, t0, t1, ("total_feed", *keys), step, "quantity")
    wanted: Mapping[str, float] = recipe.shares if recipe else {}
    found = []
    for feeder in line.feeder:
        item = _one(cells, feeder.name, subject_title(line, f"feeder_rate:{feeder.name}"), wanted.get(feeder.name))
        if item is not None:
            found.append(item)
    return found


def _one(cells: Means, feeder: str, title: str, wanted: float | None) -> Delivered | None:
    share, feed = cells.row(f"share:{feeder}"), cells.row("total_feed")
    there = np.isfinite(share) & np.isfinite(feed) & (feed > 0)
    if not there.any():
        return None
    kg_all = np.where(there, feed, 0.0) * cells.step / SECOND / 3600
    kg = np.where(there, share, 0.0) / 100 * kg_all
    lowest = highest = None
    long = _five_minute_shares(kg, kg_all, cells)
    if long is not None:
        t, y = long
        lowest = (float(y[np.argmin(y)]), int(t[np.argmin(y)]))
        highest = (float(y[np.argmax(y)]), int(t[np.argmax(y)]))
    return Delivered(feeder, title, wanted, float(100 * kg.sum() / kg_all.sum()), float(kg.sum()), lowest, highest)


def _five_minute_shares(kg: np.ndarray, kg_all: np.ndarray, cells: Means) -> tuple[np.ndarray, np.ndarray] | None:
    """Shares of whole 5 min, weighted by kilograms; only those that are at least four fifths fed."""
    size = max(1, EXCURSION_NS // cells.step)
    count = len(kg) // size
    if not count:
        return None
    one, every = kg[: count * size].reshape(count, size), kg_all[: count * size].reshape(count, size)
    full = (every > 0).mean(axis=1) >= 0.8
    if not full.any():
        return None
    t = cells.t0 + cells.step * size * np.arange(count, dtype=np.int64)
    return t[full], 100 * one.sum(axis=1)[full] / every.sum(axis=1)[full]
