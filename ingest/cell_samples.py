"""Some cells of a log, all channels at the same times, evenly from its first to its last: what looks at it whole uses.

Cells do not depend on how files were cut up while read, so neither does this. Memory: MOST cells, and EXTREMES
numbers for every channel, however long the log is.
"""

from __future__ import annotations

import numpy as np

from ingest.block import BAD, QUALITY_MASK, Block
from ingest.cell_edges import CellEdges, cell_edges, true_by_row

MOST = 4096
EXTREMES = 8


class CellSamples:
    """Takes Blocks in. samples: float64, shape (channels, up to MOST)."""

    def __init__(self, channels: int) -> None:
        self._channels = channels
        self._kept: list[np.ndarray] = []
        self._count, self._every, self._cells = 0, 1, 0
        self._extremes: tuple[list[dict[float, int]], list[dict[float, int]]] = (
            [{} for _ in range(channels)],
            [{} for _ in range(channels)],
        )

    def add(self, block: Block, edges: CellEdges) -> None:
        """The next Block of the log, with its edges."""
        values = block.values
        bad = block.status & QUALITY_MASK == BAD
        if bad.any():
            values = np.where(bad, np.nan, values)
            edges = cell_edges(values)
        first = -self._cells % self._every
        self._cells += block.n
        if first < block.n:
            self._kept.append(values[:, first :: self._every].copy())
            self._count += self._kept[-1].shape[1]
        while self._count > MOST:
            self._kept = [self.samples()[:, ::2].copy()]
            self._count, self._every = self._kept[0].shape[1], 2 * self._every
        for known, edge, reduce in zip(self._extremes, (edges.least, edges.most), (np.fmin, np.fmax), strict=True):
            edge = edge.copy()
            for i in np.flatnonzero(np.isnan(edge)):  # some cells are empty, perhaps all
                edge[i] = reduce.reduce(values[i])
            counts = true_by_row(values == edge[:, None])
            for numbers, value, count in zip(known, edge.tolist(), counts.tolist(), strict=True):
                if value == value:
                    numbers[value] = numbers.get(value, 0) + count
                    if len(numbers) > EXTREMES:
                        del numbers[min(zip(numbers.values(), numbers, strict=True))[1]]

    def samples(self) -> np.ndarray:
        """The cells kept so far."""
        return np.concatenate(self._kept, axis=1) if self._kept else np.zeros((self._channels, 0))

    def extremes(self, channel: int) -> dict[float, int]:
        """The least and the most of Blocks, with how many cells held them; the most frequent ones."""
        return {**self._extremes[0][channel], **self._extremes[1][channel]}
