"""Readings that are absurd in the unit that the line file gives, with the unit that would make sense: a question.

Nothing is converted because of it. What a role can be on a running machine is common practice, no source; how units
follow from one another is exact (`ingest.unit_table`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ingest.account import GUESS, LIKELY, ReadingAccount
from ingest.cell_samples import CellSamples
from ingest.channel_values import ChannelValues
from ingest.roles import RELATIVE, ROLES, channel_key, split_key
from ingest.set_point_copies import PAIRS
from ingest.units import to_unit

# By role: what nine tenths of the highest readings of a running machine lie between, in the unit of the role.
_WORKING = {
    "zone_temperature": (15.0, 450.0),
    "melt_temperature": (15.0, 450.0),
    "throat_temperature": (0.0, 150.0),
    "bath_temperature": (0.0, 110.0),
    "gearbox_oil_temperature": (0.0, 130.0),
    "cooling_water_temperature": (-5.0, 95.0),
    "ambient_temperature": (-40.0, 60.0),
    "melt_pressure": (0.0, 900.0),
    "vacuum": (0.0, 1200.0),
    "torque": (2.0, 250.0),
    "zone_output": (-100.0, 101.0),
    "screw_speed": (0.5, 3000.0),
    "feeder_rate": (0.0, 120_000.0),
    "line_rate": (0.0, 120_000.0),
}
# Units that are written for one another, by the unit of the role.
_OTHERS = {
    "C": ("C", "F", "K"),
    "bar": ("bar", "psi", "MPa", "kPa", "kgf/cm2", "mbar"),
    "mbar": ("mbar", "bar", "kPa", "Pa", "Torr"),
    "%": ("%", "fraction", "‰"),
    "rpm": ("rpm", "rev/s", "rad/s"),
    "kg/h": ("kg/h", "lb/h", "t/h", "g/min", "kg/min", "g/s"),
}
FEWEST = 60
_SAME_RATIO, _SAME_DIFFERENCE_C = 0.02, 3.0
_COURSE, _NEIGHBOUR = 0.95, 1.6


def ask_about_units(samples: CellSamples, channels: Sequence[ChannelValues], account: ReadingAccount) -> None:
    """Asks once for a tag, by the plainest evidence there is: impossible, set-point, neighbours."""
    table = samples.samples()
    by_key = {channel.source.key: i for i, channel in enumerate(channels)}
    turning = "screw_speed" in by_key and bool(np.nanquantile(np.append(table[by_key["screw_speed"]], 0.0), 0.9) > 5)
    for i, channel in enumerate(channels):
        role, subject = split_key(channel.source.key)
        if channel.source.unit == RELATIVE or ROLES[role].unit not in _OTHERS or role.endswith("setpoint"):
            continue
        values = table[i][~np.isnan(table[i])]
        if len(values) < FEWEST:
            continue
        partner = by_key.get(channel_key(PAIRS[role], subject)) if role in PAIRS else None
        said = _impossible(channel, role, values, turning)
        level = LIKELY
        if not said and partner is not None and channels[partner].source.unit != RELATIVE:
            said = _against_set_point(channel, role, table[i], table[partner], channels[partner].source.tag)
        if not said and role == "melt_pressure":
            level = GUESS
            others = [j for j, one in enumerate(channels) if one.source.key.startswith("melt_pressure:") and j != i]
            said = _against_neighbours(channel, role, table, i, others)
        if said:
            account.notice(
                f"'{channel.source.tag}': {said}; the unit of the line file, {channel.source.unit}, counts", level
            )


def _as_if(channel: ChannelValues, role: str, values: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """The readings as they would be if the log were in another unit."""
    unit = ROLES[role].unit
    written = (values - channel.conversion.offset) / channel.conversion.scale
    for other in _OTHERS[unit]:
        conversion = to_unit(other, unit)
        if not np.allclose(
            [conversion.scale, conversion.offset], [channel.conversion.scale, channel.conversion.offset]
        ):
            yield other, conversion.apply(written)


def _high(values: np.ndarray) -> float:
    return float(np.quantile(values, 0.9))


def _impossible(channel: ChannelValues, role: str, values: np.ndarray, turning: bool) -> str:
    if role not in _WORKING:
        return ""
    low, high = _WORKING[role]
    here = _high(values)
    # Standing still, everything but a temperature is near nothing: only what is too much tells then.
    if low <= here <= high or (ROLES[role].unit != "C" and here < low and not turning):
        return ""
    fitting = [
        f"{other} ({_high(as_if):.4g} {ROLES[role].unit})"
        for other, as_if in _as_if(channel, role, values)
        if low <= _high(as_if) <= high
    ]
    told = f"readings of {here:.4g} {ROLES[role].unit} are hardly possible for a {ROLES[role].meaning.split(',')[0]}"
    return told + (f"; is it in {' or '.join(fitting[:3])}?" if fitting else "; is the unit right?")


def _against_set_point(channel: ChannelValues, role: str, actual: np.ndarray, target: np.ndarray, tag: str) -> str:
    """On the whole an actual value is at its set-point; where it plainly is in another unit, that is asked."""
    both = ~np.isnan(actual) & ~np.isnan(target) & (target > 0) & (actual > 0)
    if both.sum() < FEWEST:
        return ""
    if _near(actual[both], target[both], role, 3.0):
        return ""
    for other, as_if in _as_if(channel, role, actual[both]):
        if _near(as_if, target[both], role, 1.0):
            return (
                f"half of its readings are where its set-point '{tag}' is only if one of the two is in {other}; is it?"
            )
    return ""


def _near(actual: np.ndarray, target: np.ndarray, role: str, wide: float) -> bool:
    if ROLES[role].unit == "C":
        return bool(np.median(np.abs(actual - target)) <= wide * _SAME_DIFFERENCE_C)
    return bool(np.median(np.abs(actual / target - 1)) <= wide * _SAME_RATIO)


def _against_neighbours(channel: ChannelValues, role: str, table: np.ndarray, i: int, others: Sequence[int]) -> str:
    """A pressure that runs exactly like another one at a tenth of it: MPa among bars."""
    for j in others:
        both = ~np.isnan(table[i]) & ~np.isnan(table[j])
        here, there = table[i][both], table[j][both]
        if len(here) < FEWEST or np.ptp(here) == 0 or np.ptp(there) == 0 or np.median(here) <= 0:
            continue
        ratio = float(np.median(there) / np.median(here))
        if 1 / 5 < ratio < 5 or np.corrcoef(here, there)[0, 1] < _COURSE:
            continue
        for other, as_if in _as_if(channel, role, here):
            if 1 / _NEIGHBOUR < np.median(there) / np.median(as_if) < _NEIGHBOUR:
                return (
                    f"it runs like another melt pressure at {1 / ratio:.3g} times its height "
                    f"({np.median(here):.3g} against {np.median(there):.3g} bar); is it in {other}?"
                )
    return ""
