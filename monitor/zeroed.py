"""Zeros that a controller writes while it restarts are no readings.

Heated zones cannot all read exactly zero, of °C or °F, and one broken couple does not take the others with it. Where
all do at once, and all their outputs too, or screw and load, their controller is starting anew, and no zero of the
line is to be believed until they are back: not of its screw, which the same controller often drives. Silence is said
as silence.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ingest.roles import ROLES, split_key
from ingest.units import to_unit
from monitor.exact import Bools, Floats
from monitor.line import Line

LEAST_ZONES = 2
LOADS = ("torque", "motor_current", "drive_power", "melt_pressure")


def own_zeros(line: Line) -> Floats:
    """What a zero of the log is in each channel's own unit, [channel, 1]: -17.8 where °F are logged as °C."""
    logged = {sensor.key: sensor for sensor in reversed(line.sensor)}
    zeros = np.zeros((len(line.channels), 1))
    for row, key in enumerate(line.channels):
        role = split_key(key)[0]
        if role.endswith("_temperature") and logged[key].unit:
            zeros[row] = to_unit(logged[key].unit, ROLES[role].unit).apply(np.zeros(1))
    return zeros


def zeroed(index: Mapping[str, int], values: Floats, zeros: Floats) -> Bools | None:
    """Readings that are such zeros, [channel, n]; None where there are none, which is nearly always.

    index: row of each channel. values: [channel, n], NaN where nothing is known. zeros: as `own_zeros` gives them.
    """
    rows = {key: row for key, row in index.items() if values.shape[1]}
    zones = [row for key, row in rows.items() if split_key(key)[0] == "zone_temperature"]
    if len(zones) < LEAST_ZONES or not (values[zones] == zeros[zones]).any():
        return None
    is_zero = values == zeros
    # What is not known says nothing against it.
    nothing = is_zero | np.isnan(values)
    outputs = [row for key, row in rows.items() if split_key(key)[0] == "zone_output"]
    loads = [row for key, row in rows.items() if split_key(key)[0] in LOADS]
    screw = is_zero[rows["screw_speed"]] if "screw_speed" in rows else np.zeros(values.shape[1], bool)
    together = nothing[zones].all(axis=0) & (np.count_nonzero(is_zero[zones], axis=0) >= LEAST_ZONES)
    together &= nothing[outputs].all(axis=0) | (screw & nothing[loads].all(axis=0))
    return is_zero & together if together.any() else None
