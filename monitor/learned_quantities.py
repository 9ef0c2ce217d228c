"""Which quantities have a learned normal value on a line, how near counts as unchanged, and their cells.

A tolerance is a share of the value for loads, pressures and rates, and an absolute figure for temperatures and for
outputs in percent: 3 % of 230 C is no tolerance for a melt, and 3 % of a duty of 4 % none for a heater. Beside plain
channels two are made here: `zone_deviation:Z`, zone temperature less set-point, C, and `feed_factor:F`, kg/h per
percent of feeder drive. Figures are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ingest.roles import channel_key, split_key
from monitor.exact import Floats
from monitor.goes_with import GOES_WITH, GoesWith
from monitor.quantities.registry import LEARNED
from monitor.view import Readings

LEAST_DRIVE_PCT = 3.0
"""A feed factor below this drive speed is a quotient of two small figures."""


@dataclass(frozen=True)
class Kind:
    """How a quantity is learned.

    share, absolute: a minute further off than share * |reference| + absolute (and than 4 sigma) does not move it.
    kept: it stands over a small change of speed or rate and is learned anew within half an hour, as what hangs on
    the steel does; else any change starts it afresh.
    at_point: it belongs to the speed, rate and set-points it was borne out at, and is learned in haste only at others.
    switched: it may be switched on and off, so that a minute has its mean.
    goes_with: what a change of speed and rate can make of it; None where nothing is held against it.
    """

    share: float = 0.0
    absolute: float = 0.0
    kept: bool = False
    at_point: bool = False
    switched: bool = False
    goes_with: GoesWith | None = None


LOAD = Kind(share=0.03)
KINDS: dict[str, Kind] = {
    "melt_pressure": replace(LOAD, goes_with=GOES_WITH["melt_pressure"]),
    "net_torque": replace(LOAD, goes_with=GOES_WITH["net_torque"]),
    "sme": replace(LOAD, goes_with=GOES_WITH["sme"]),
    "melt_temperature": Kind(absolute=3.0),
    "zone_deviation": Kind(absolute=1.5, kept=True, at_point=True),
    "zone_output": Kind(absolute=4.0, kept=True, at_point=True, switched=True),
    "zone_cooling": Kind(absolute=4.0, kept=True, at_point=True, switched=True),
    "feeder_drive": Kind(absolute=2.0),
    "feed_factor": Kind(share=0.03, kept=True),
    "vacuum": Kind(absolute=10.0, kept=True),
}
"""By role or by the name before the colon; C, %, mbar. Every other quantity is a load."""


def kind_of(name: str, relative: Collection[str] = ()) -> Kind:
    """How a learned quantity is learned. relative: channels whose unit is not known: only shares mean anything."""
    kind = KINDS.get(split_key(name)[0], LOAD)
    return replace(kind, share=LOAD.share, absolute=0.0) if name in relative else kind


def learned_names(channels: Sequence[str], derived: Collection[str], relative: Collection[str] = ()) -> tuple[str, ...]:
    """What is learned on a line with these channels and derived quantities, in a fixed order."""
    there = set(channels)
    names = [name for name in LEARNED if name in derived or (name == "screw_speed" and name in there)]
    names += [key for key in channels if split_key(key)[0] in KINDS]
    for key in channels:
        role, at = split_key(key)
        if role == "zone_temperature" and channel_key("zone_setpoint", at) in there and key not in relative:
            names.append(f"zone_deviation:{at}")
        if role == "feeder_rate" and channel_key("feeder_drive", at) in there:
            names.append(f"feed_factor:{at}")
    return tuple(names)


def learned_cells(names: Sequence[str], readings: Readings, derived: Mapping[str, Floats]) -> Floats:
    """Their cells, [quantity, n]; NaN where not known."""
    out = np.empty((len(names), readings.n))
    for row, name in enumerate(names):
        role, at = split_key(name)
        if name in derived:
            out[row] = derived[name]
        elif role == "zone_deviation":
            out[row] = readings.get(f"zone_temperature:{at}") - readings.get(f"zone_setpoint:{at}")
        elif role == "feed_factor":
            drive = readings.get(f"feeder_drive:{at}")
            out[row] = readings.get(f"feeder_rate:{at}") / np.where(drive >= LEAST_DRIVE_PCT, drive, np.nan)
        else:
            out[row] = readings.get(name)
    return out


def operating_point(readings: Readings, derived: Mapping[str, Floats], starve_fed: bool) -> Floats:
    """Screw speed, rpm, and what is fed, kg/h, [2, n]; NaN where not logged.

    A flood-fed screw takes what its speed gives: where no rate is known, speed stands for it.
    """
    speed = readings.get("screw_speed")
    fed = derived.get("total_feed")
    if fed is None:
        fed = np.full(readings.n, np.nan) if starve_fed else speed
    return np.array([speed, fed])


def sets_c(readings: Readings) -> Floats:
    """Sum of the zones' set-points, C, [n]; NaN where one is missing or none is logged."""
    keys = [key for key in readings.index if split_key(key)[0] == "zone_setpoint"]
    if not keys:
        return np.full(readings.n, np.nan)
    total = np.zeros(readings.n)
    for key in keys:
        total = total + readings.get(key)
    return total
