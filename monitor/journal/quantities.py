"""Quantities of the monitor as Blocks on the coarse grid, so that they are kept the way readings are."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ingest.block import GOOD, Block
from monitor.journal.codec import ABSENT
from monitor.journal.errors import JournalError

COARSE_NS = 10_000_000_000

Series = tuple[np.ndarray, np.ndarray]
"""Start of each cell, int64 UTC nanoseconds, and its value, float64."""


def coarse_step(step: int) -> int:
    """Cell width of the coarse grid, ns: the fewest cells of `step` that make 10 s."""
    return -(-COARSE_NS // step) * step


def as_block(quantities: Mapping[str, Series], step: int) -> Block | None:
    """The given cells of every quantity side by side; None when there are none.

    step: of the coarse grid, ns. Raises JournalError when a cell is off it.
    """
    given = {name: series for name, series in quantities.items() if len(series[0])}
    if not given:
        return None
    for name, (t, _) in given.items():
        if (np.asarray(t) % step).any():
            raise JournalError(f"quantity {name} has a cell off the grid of {step / 1e9:g} s")
    t0 = min(int(t[0]) for t, _ in given.values())
    end = max(int(t[-1]) for t, _ in given.values()) + step
    shape = (len(given), (end - t0) // step)
    values, status = np.full(shape, np.nan), np.full(shape, ABSENT, np.uint8)
    for row, (t, series) in enumerate(given.values()):
        cell = (np.asarray(t) - t0) // step
        values[row, cell], status[row, cell] = series, GOOD
    return Block(t0, step, tuple(given), values, status)


def as_series(block: Block) -> dict[str, Series]:
    """The cells that were given, quantity by quantity."""
    t = block.times()
    given = block.status != ABSENT
    return {name: (t[given[row]], block.values[row, given[row]]) for row, name in enumerate(block.channels)}
