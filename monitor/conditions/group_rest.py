"""How long a whole group of channels must rest until its silence is none of chance."""

from __future__ import annotations

import numpy as np

from monitor.exact import Bools

MISSED, LONGER = 20.0, 3.0
"""Moves that a whole group should have made meanwhile, and times its longest rest of the hour before, from which its
silence is none of chance: a deadband lets each channel rest for many minutes, but not all of them at once. Twenty that
come one by one are missed by chance once in 10^8. Common practice, no source."""

CLUSTERS = 30
"""Coarse cells, five minutes."""

LIVELY_CHANNELS, LIVELIEST = 3, 3
"""Channels that moved, at least, in a group that is judged as a whole: fewer are each a frozen sensor's matter. The
liveliest third is left out of the count: what flickers between two digits does so until it drifts to the middle of
one."""

MOST = 0.5
"""More than this part of a group's channels moved in that hour: where most rest for hours, as whole degrees do, the
others may too."""


def cells_needed(marks: Bools, runs: Bools, least: int) -> float:
    """Cells that a group must rest to be silent, by the moves of its channels [channel, cell] in the cells judged
    [cell] of the hour before; inf where that hour does not tell."""
    count = np.count_nonzero(marks, axis=1)
    lively = np.argsort(count, kind="stable")[len(count) - np.count_nonzero(count) :]
    lively = lively[: len(lively) - -(-len(lively) // LIVELIEST)]
    seen = int(np.count_nonzero(runs))
    if seen < least or len(lively) < LIVELY_CHANNELS or np.count_nonzero(count) <= MOST * len(count):
        return np.inf
    moved = np.flatnonzero(marks[lively].any(axis=0))
    longest = int(np.diff(np.concatenate(([-1], moved, [len(runs)]))).max())
    pace = -np.log1p(-min(len(moved) / seen, 0.999))
    return max(LONGER * longest, MISSED * _clustered(np.logical_or.reduce(marks[lively], axis=0)[runs]) / pace)


def _clustered(moves: Bools) -> float:
    """How much more the moves of `CLUSTERS` cells scatter than chance would have it, variance over mean; 1 at least.

    What flickers between two digits does so for minutes at a time, and all of a group may drift to the middle of one.
    """
    whole = len(moves) // CLUSTERS
    counts = np.count_nonzero(moves[: whole * CLUSTERS].reshape(whole, CLUSTERS), axis=1)
    return max(1.0, float(counts.var(ddof=1) / counts.mean())) if whole > 1 and counts.any() else 1.0
