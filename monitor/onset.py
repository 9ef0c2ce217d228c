"""The first cell of something that may flicker, and what held there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from monitor.exact import Bools, run_length

LONG = 1_000_000


def start(rows: int) -> NDArray[np.int64]:
    """Quiet for ever."""
    return np.full(rows, LONG, np.int64)


def onsets(quiet: NDArray[np.int64], holds: Bools, least_quiet: int) -> tuple[Bools, NDArray[np.int64]]:
    """Cells in which `holds` becomes true after at least so many cells in which it was not.

    quiet: [rows], cells it has not held, the state. holds: [rows, n].
    """
    length, after = run_length(quiet, ~holds)
    before = np.concatenate((quiet[:, None], length), axis=1)[:, : holds.shape[1]]
    return holds & (before >= least_quiet), np.minimum(after, LONG)
