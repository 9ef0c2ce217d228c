"""When the run of a fault leaves a recipe window, from the run with it and the same run, same noise, without it."""

from __future__ import annotations

import numpy as np

from ingest.roles import split_key
from sample_logs.faults import FAULTS, Fault
from sample_logs.plant import Plant

AVERAGED_S = 60.0
"""One reading out of its window is noise: the mean over a minute is held against it; common practice, no source."""
FAST_S, SLOW_S = 60.0, 600.0
"""A fault that comes on within a minute is fast, one that takes ten minutes or grows on and on is slow; own choice."""
PACES = ("fast", "between", "slow")


def pace_of(kind: str) -> str:
    """fast, between or slow: by how long the fault takes to come on."""
    ramp = FAULTS[kind].ramp_s
    return "slow" if ramp < 0.0 or ramp >= SLOW_S else "fast" if ramp <= FAST_S else "between"


def window_left_s(plant: Plant, fault: Fault, with_it: np.ndarray, without: np.ndarray) -> tuple[float, float]:
    """Seconds from the fault's start to the first minute's mean outside an inner, and outside an outer, limit of any
    recipe window while the run without the fault is inside it; inf where it never is.

    with_it, without: readings of the two runs, [reading, channel of the log].
    """
    n = max(round(AVERAGED_S / plant.cadence_s), 1)
    first = round(fault.start_s / plant.cadence_s)
    left = {"": np.inf, "_outer": np.inf}
    for c, key in enumerate(plant.channels):
        window = _window_of(plant, key)
        if window is None:
            continue
        there, usual = (v[first:, c].astype(float) for v in (with_it, without))
        whole = len(there) // n * n
        there, usual = (v[:whole].reshape(-1, n).mean(1) for v in (there, usual))
        for ring in left:
            low, high = window.get(f"low{ring}", -np.inf), window.get(f"high{ring}", np.inf)
            out = ((there < low) | (there > high)) & (usual >= low) & (usual <= high)
            if out.any():
                left[ring] = min(left[ring], (int(np.argmax(out)) + 1) * n * plant.cadence_s)
    return left[""], left["_outer"]


def _window_of(plant: Plant, key: str) -> dict[str, float] | None:
    role, at = split_key(key)
    return next((w for w in plant.recipe["window"] if w["role"] == role and w.get("at", "") == at), None)
