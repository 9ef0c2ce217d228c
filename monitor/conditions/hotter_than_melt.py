"""A zone far hotter than the melt and than both its neighbours: what heats it is its own.

Shear heats the melt, and the melt its zone: no zone comes to stand above all that touches it by that. Only its own
heater does it, or a reading that is wrong.
"""

from __future__ import annotations

import numpy as np

from monitor.conditions.zone_minutes import left_right
from monitor.exact import Floats

FAR_C = 20.0
"""So far above both is beyond what the melt may have cooled by on its way to the probe, and what sheared melt may be
hotter here than there. Common practice, no source."""


def above_c(value: Floats, melt: Floats) -> Floats:
    """How far each zone is above the hottest of melt and neighbours, C [zone, n]; NaN where the melt is not known.

    value: zones in machine order, C [zone, n]. melt: C [n].
    """
    before, behind = left_right(value)
    return value - np.maximum(np.fmax(np.fmax(before, behind), -np.inf), melt[None, :])


def words(above: float) -> str:
    """What it says."""
    return f"it is {above:.0f} °C hotter than the melt and its neighbours: these do not heat it"
