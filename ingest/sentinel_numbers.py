"""Numbers that stand for 'no reading' although they look like readings: 32767, -9999, 6553.5, 1e30.

A number is taken as 'no reading' by itself only where both hold: it is one that loggers, controllers and transmitters
are known to write in the place of a reading, and no sensor of its role could show it. Everything else is left alone;
what only looks like such a number is noticed (`ingest.channel_character`), and `missing_values` of the line file names
it. The list and the ranges are common practice, no source.
"""

from __future__ import annotations

import numpy as np

UNMISTAKABLE: tuple[float, ...] = (
    # Largest and smallest of 16 and 32 bits, plain and with one or two decimals.
    *(32767.0, 32766.0, -32768.0, -32767.0, 65535.0, 65534.0, 2147483647.0, -2147483648.0, 4294967295.0),
    *(3276.7, 3276.6, -3276.8, -3276.7, 6553.5, 6553.4, -327.68),
    # Nines.
    *(-999.0, -999.9, -999.99, -999.25, -9999.0, -9999.9, -99999.0, -999999.0, 9999.0, 9999.9, 99999.0, 999999.0),
    # The largest of a 32-bit and a 64-bit float and fill values of data sets are beyond BEYOND anyway.
)
"""Where impossible, these are no readings, even in a unit that is given wrongly."""
OTHER_KNOWN: tuple[float, ...] = (
    *(327.67, 655.35, 999.0, 999.9, 999.99, 8888.0, 88888.0, 7777.0),
    # What an open couple or resistance is read as: the upper end of the range of types J, K, N, R, S, and Pt100.
    *(760.0, 850.0, 870.0, 900.0, 1000.0, 1200.0, 1300.0, 1370.0, 1372.0, 1600.0, 1760.0, 1768.0),
)
"""Also written in the place of a reading, but a reading in another unit could pass through them."""
SHORT_NINES: tuple[float, ...] = (-99.0, -99.9, -99.99, -99.999)
"""No readings where impossible, a pressure of -99.9 MPa say; elsewhere a cooling output of -99 % is one."""
BEYOND = 1e9
"""A number this large where it is impossible is no slip of a decimal mark but a fill value: 1e30, 3.4e38."""

# By unit of the role: the widest that any sensor of such a role could show, and then some.
_POSSIBLE: dict[str, tuple[float, float]] = {
    "C": (-90.0, 600.0),
    "bar": (-2.0, 3500.0),
    "mbar": (-1500.0, 5000.0),
    "%": (-400.0, 400.0),
    "rpm": (-20_000.0, 20_000.0),
    "kg/h": (-5_000.0, 250_000.0),
    "kg": (-1e6, 1e9),
    "A": (-20_000.0, 20_000.0),
    "kW": (-50_000.0, 50_000.0),
    "V": (-50_000.0, 50_000.0),
    "m/min": (-5_000.0, 5_000.0),
    "1": (-100.0, 1_000.0),
}


def possible_range(unit: str) -> tuple[float, float]:
    """What a sensor of a role with this unit could show at the very most."""
    return _POSSIBLE.get(unit, (-np.inf, np.inf))


def is_unmistakable(number: float) -> bool:
    """Whether an impossible number is no reading at all, as a float64 or a float32."""
    return abs(number) >= BEYOND or _is_one_of(number, UNMISTAKABLE)


def is_known(number: float) -> bool:
    """Whether a number is one that is written in the place of a reading."""
    return is_unmistakable(number) or _is_one_of(number, OTHER_KNOWN)


def is_no_reading(number: float) -> bool:
    """Whether a number that is impossible where it stands is no reading at all, whatever the unit is."""
    return is_unmistakable(number) or _is_one_of(number, SHORT_NINES)


def _is_one_of(number: float, numbers: tuple[float, ...]) -> bool:
    return any(number in (known, float(np.float32(known))) for known in numbers)


def without_sentinels(numbers: np.ndarray, low: float, high: float) -> tuple[np.ndarray, dict[float, int]]:
    """Numbers float64 shape (n,) with NaN for those that plainly are none, and how often each was there.

    low, high: what is possible at all, in the unit of the numbers.
    """
    if not len(numbers):
        return numbers, {}
    least, most = np.fmin.reduce(numbers), np.fmax.reduce(numbers)
    if not (least < low or most > high):
        return numbers, {}
    impossible = (numbers < low) | (numbers > high)
    found, counts = np.unique(numbers[impossible], return_counts=True)
    taken = {float(number): int(n) for number, n in zip(found, counts, strict=True) if is_no_reading(float(number))}
    if not taken:
        return numbers, {}
    return np.where(impossible & np.isin(numbers, list(taken)), np.nan, numbers), taken
