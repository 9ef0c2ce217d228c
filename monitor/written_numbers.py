"""Numbers that loggers and controllers write where they have no reading, in channels whose range nobody gave.

32767, 6553.5, -999: where a sensor's role or its range rules them out, the reader of the log has done so already. No
scale, drive or feeder of an extrusion line shows just such a number but by chance, and then one reading in some
thousands is not missed.
"""

from __future__ import annotations

import numpy as np

from ingest.roles import RELATIVE, ROLES, split_key
from ingest.sentinel_numbers import UNMISTAKABLE
from ingest.units import to_unit
from monitor.exact import Bools, Floats
from monitor.full_amounts import is_amount
from monitor.line import Line


class WrittenNumbers:
    """Which readings of a line are such numbers. Holds them in each channel's own unit, nothing of the run."""

    def __init__(self, line: Line) -> None:
        self.known = [_numbers_of(key, line) for key in line.channels]
        ends = [(np.max(k[k < 0], initial=-np.inf), np.min(k[k > 0], initial=np.inf)) for k in self.known]
        self.low, self.high = (np.array(end) for end in zip(*ends, strict=True))

    def of(self, values: Floats) -> Bools | None:
        """Readings that are such numbers, [channel, n]; None where there are none, which is nearly always.

        values: [channel, n], channels in the order of the line, NaN where nothing is known.
        """
        least = np.fmin.reduce(values, axis=1, initial=np.inf)
        far = (least <= self.low) | (np.fmax.reduce(values, axis=1, initial=-np.inf) >= self.high)
        if not far.any():
            return None
        found = np.zeros(values.shape, bool)
        for row in np.flatnonzero(far).tolist():
            found[row] = np.isin(values[row], self.known[row])
        return found if found.any() else None


def _numbers_of(key: str, line: Line) -> Floats:
    """The numbers of one channel, in the unit of its role."""
    role = split_key(key)[0]
    sensor = next(sensor for sensor in reversed(line.sensor) if sensor.key == key)
    counts = role.endswith("_total") or ROLES[role].unit == "1"
    part = sensor.unit == RELATIVE or sensor.full is not None or is_amount(role, sensor.unit)
    if counts or part or sensor.range is not None:
        return np.zeros(0)
    written = np.array(UNMISTAKABLE)
    if role.endswith("setpoint"):  # which somebody may type, and which then stands
        nines = np.array([set(f"{number:.9g}".replace(".", "")) == {"9"} for number in UNMISTAKABLE])
        written = written[~nines]
    written = np.concatenate((written, written.astype(np.float32).astype(np.float64)))
    if sensor.unit:
        written = to_unit(sensor.unit, ROLES[role].unit, atmosphere_mbar=line.line.atmosphere_mbar).apply(written)
    return written
