"""Process capability: the spread of a process against the width it is allowed."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Capability:
    """Indices of a normal process inside two limits. They mean nothing while the process is not stable.

    cp: width allowed over 6 sigma. cpl, cpu: distance to the lower, the upper limit over 3 sigma.
    cpk: the smaller of these. cpm: as cp, with the distance from target counted as spread.
    off_centre: 0 in the middle, 1 on a limit.
    """

    cp: float
    cpl: float
    cpu: float
    cpk: float
    cpm: float
    off_centre: float


def capability(*, mean: float, sigma: float, lower: float, upper: float, target: float | None = None) -> Capability:
    """Capability indices. Reference: NIST/SEMATECH e-Handbook 6.1.6.

    target: middle of the limits where none is given. Raises ValueError unless lower < upper and sigma > 0.
    """
    if not lower < upper:
        raise ValueError(f"lower limit {lower} must be below upper limit {upper}")
    if not sigma > 0:
        raise ValueError(f"sigma must be > 0 (got {sigma})")
    middle = (lower + upper) / 2
    wanted = middle if target is None else target
    cpl, cpu = (mean - lower) / (3 * sigma), (upper - mean) / (3 * sigma)
    return Capability(
        cp=(upper - lower) / (6 * sigma),
        cpl=cpl,
        cpu=cpu,
        cpk=min(cpl, cpu),
        cpm=(upper - lower) / (6 * math.hypot(sigma, mean - wanted)),
        off_centre=abs(middle - mean) / ((upper - lower) / 2),
    )
