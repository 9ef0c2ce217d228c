"""Cells in which the drive does not hold the speed that it is told, its load at the limit.

Nobody chose that operating point: what the line does there is the upset itself, and no normal value is learned from it.
"""

from __future__ import annotations

import numpy as np

from monitor.contract import Context
from monitor.exact import Bools
from monitor.quantities.load import gross_torque_known, gross_torque_of
from monitor.view import Readings

AT_LIMIT_SHARE = 0.95
"""Of the torque limit. Common practice, no source."""

SPEED_SHORT = 0.02
"""Of the speed set-point; where none is logged, the load alone has to tell, at the limit itself."""


def drive_limited(readings: Readings, ctx: Context) -> Bools:
    """Whether the drive is held back by its limit, [n]; False where load or speed are not known."""
    if not gross_torque_known(ctx):
        return np.zeros(readings.n, bool)
    limit = ctx.line.drive.torque_limit_pct
    with np.errstate(invalid="ignore", divide="ignore"):
        load = gross_torque_of(readings, ctx)
        if not ctx.has("screw_speed_setpoint"):
            return load >= limit
        short = readings.get("screw_speed") <= (1 - SPEED_SHORT) * readings.get("screw_speed_setpoint")
        return short & (load >= AT_LIMIT_SHARE * limit)
