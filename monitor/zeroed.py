"""Zeros that a controller writes while it restarts are no readings.

Heated zones cannot all read exactly zero, of °C or °F, and one broken couple does not take the others with it. Where
all do at once, and all their outputs too, or screw and load, their controller is starting anew, and no zero of the
line is to be believed until they are back: not of its screw, which the same controller often drives. Silence is said
as silence. So are numbers that stand for no reading (`monitor.written_numbers`).
"""

from __future__ import annotations

import numpy as np

from ingest.roles import ROLES, split_key
from ingest.units import to_unit
from monitor.exact import Bools, Floats
from monitor.line import Line
from monitor.written_numbers import WrittenNumbers

LEAST_ZONES = 2
LOADS = ("torque", "motor_current", "drive_power", "melt_pressure")


class Zeroed:
    """Which readings of a line are such zeros. Holds the rows it looks at, nothing of the run."""

    def __init__(self, line: Line) -> None:
        roles = [split_key(key)[0] for key in line.channels]
        self.zones = [row for row, role in enumerate(roles) if role == "zone_temperature"]
        self.outputs = [row for row, role in enumerate(roles) if role == "zone_output"]
        self.loads = [row for row, role in enumerate(roles) if role in LOADS]
        self.screw = [row for row, role in enumerate(roles) if role == "screw_speed"]
        self.zeros = _own_zeros(line)
        self.written = WrittenNumbers(line)

    def of(self, values: Floats) -> Bools | None:
        """Readings that are such zeros, or numbers that stand for none, [channel, n]; None where there are none, which
        is nearly always. values: as in `zeros_of`."""
        zeros, written = self.zeros_of(values), self.written.of(values)
        if zeros is None or written is None:
            return written if zeros is None else zeros
        return zeros | written

    def zeros_of(self, values: Floats) -> Bools | None:
        """Readings that are such zeros, [channel, n]; None where there are none, which is nearly always.

        values: [channel, n], channels in the order of the line, NaN where nothing is known.
        """
        zones = self.zones
        # Row by row: a copy of them all takes longer than to look at them.
        if len(zones) < LEAST_ZONES or not any(np.count_nonzero(values[row] == self.zeros[row]) for row in zones):
            return None
        is_zero = values == self.zeros
        # What is not known says nothing against it.
        nothing = is_zero | np.isnan(values)
        together = nothing[zones].all(axis=0) & (np.count_nonzero(is_zero[zones], axis=0) >= LEAST_ZONES)
        stands = is_zero[self.screw].any(axis=0) & nothing[self.loads].all(axis=0)
        together &= nothing[self.outputs].all(axis=0) | stands
        return is_zero & together if together.any() else None


def _own_zeros(line: Line) -> Floats:
    """What a zero of the log is in each channel's own unit, [channel, 1]: -17.8 where °F are logged as °C."""
    logged = {sensor.key: sensor for sensor in reversed(line.sensor)}
    zeros = np.zeros((len(line.channels), 1))
    for row, key in enumerate(line.channels):
        role = split_key(key)[0]
        if role.endswith("_temperature") and logged[key].unit:
            zeros[row] = to_unit(logged[key].unit, ROLES[role].unit).apply(np.zeros(1))
    return zeros
