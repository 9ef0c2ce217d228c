"""Zeros that a controller writes while it restarts are no readings.

Heated zones cannot all be at 0 °C, and one broken couple does not take the others with it. Where all of them read
exactly zero at once, with all their outputs, their controller is starting anew, and no zero of the line is to be
believed until they are back: not of its screw, which the same controller often drives. Silence is said as silence.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ingest.roles import split_key
from monitor.exact import Bools, Floats

LEAST_ZONES = 2


def zeroed(index: Mapping[str, int], values: Floats) -> Bools | None:
    """Readings that are such zeros, [channel, n]; None where there are none, which is nearly always.

    index: row of each channel. values: [channel, n], NaN where nothing is known.
    """
    zones = [row for key, row in index.items() if split_key(key)[0] == "zone_temperature"]
    if len(zones) < LEAST_ZONES or not (values[zones] == 0).any():
        return None
    outputs = [row for key, row in index.items() if split_key(key)[0] == "zone_output"]
    # What is not known says nothing against it.
    nothing = (values == 0) | np.isnan(values)
    together = nothing[zones].all(axis=0) & nothing[outputs].all(axis=0)
    together &= np.count_nonzero(values[zones] == 0, axis=0) >= LEAST_ZONES
    return (values == 0) & together if together.any() else None
