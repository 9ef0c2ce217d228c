"""Wear of screws and barrel over many runs, with an interval: a fold over what each run was like, not over readings.

Flood-fed: output per turn falls at the same pressure, melt temperature and material, because melt slips back over worn
flights; a melt pump likewise at the same pressure difference. Starve-fed: the feeders set the rate, so wear shows as a
hotter melt and another specific energy at the same rate over speed; die pressure does not fall. Melt pump: output per
turn falls at the same pressure difference. Reference for the signs: common practice, no source. Slopes are Theil-Sen
lines (monitor.statistics.theil_sen).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from monitor.statistics.theil_sen import theil_sen

LEAST_RUNS = 6
"""With fewer points a Theil-Sen interval says nothing."""

SAME_PRESSURE = 0.10
SAME_MELT_C = 5.0
SAME_FILL = 0.05
"""How near another run must be to the first ones to be compared: pressure, melt temperature, rate over speed."""

Sign = Literal["output per turn", "melt temperature", "specific energy"]


@dataclass(frozen=True)
class RunSummary:
    """The steady part of one run, as medians. NaN = not known.

    hours: turned by the screws since the first run. material: recipe or lot family that may be compared.
    specific_throughput: kg/h/rpm. pressure_bar: at the head (pressure difference for a melt pump). sme: kWh/kg.
    """

    hours: float
    material: str
    specific_throughput: float
    pressure_bar: float
    melt_c: float
    sme: float = math.nan


@dataclass(frozen=True)
class Wear:
    """One sign of wear. change, low, high: over all compared runs, percent (C for melt temperature), 95 % interval.

    per_1000_h: the same per thousand hours of turning. runs: how many were compared, of how many. certain: whether the
    interval leaves out zero on the side of wear. The interval is NaN where too few runs compare.
    """

    sign: Sign
    change: float
    low: float
    high: float
    per_1000_h: float
    runs: int
    of: int
    certain: bool


def flood_fed_wear(runs: Sequence[RunSummary]) -> Wear:
    """Output per turn at like pressure (difference), melt temperature and material, percent; wear is a fall."""
    like = _like(runs, fill=False)
    values = [100 * math.log(run.specific_throughput) for run in like]
    return _sign("output per turn", like, values, len(runs), falls=True)


def starve_fed_wear(runs: Sequence[RunSummary]) -> tuple[Wear, Wear]:
    """Melt temperature (C) and specific energy (percent) at like rate over speed and material.

    Wear raises the melt temperature; specific energy may go either way, so its shift is certain on either side.
    """
    like = _like(runs, fill=True)
    warm = _sign("melt temperature", like, [run.melt_c for run in like], len(runs), falls=False)
    energy = [100 * math.log(run.sme) if run.sme > 0 else math.nan for run in like]
    shift = _sign("specific energy", like, energy, len(runs), falls=None)
    return warm, shift


def _like(runs: Sequence[RunSummary], fill: bool) -> list[RunSummary]:
    """Runs of the commonest material near the middle of its first ones."""
    ordered = sorted((run for run in runs if run.specific_throughput > 0), key=lambda run: run.hours)
    if not ordered:
        return []
    materials = [run.material for run in ordered]
    material = max(dict.fromkeys(materials), key=materials.count)
    same = [run for run in ordered if run.material == material]
    first = same[: max(3, len(same) // 4)]
    pressure, melt, specific = (
        float(np.median([getattr(run, name) for run in first]))
        for name in ("pressure_bar", "melt_c", "specific_throughput")
    )
    if fill:
        return [run for run in same if abs(run.specific_throughput / specific - 1) <= SAME_FILL]
    return [
        run
        for run in same
        if not abs(run.pressure_bar / pressure - 1) > SAME_PRESSURE and not abs(run.melt_c - melt) > SAME_MELT_C
    ]


def _sign(sign: Sign, runs: list[RunSummary], values: list[float], of: int, falls: bool | None) -> Wear:
    hours = np.array([run.hours for run in runs])
    y = np.array(values)
    known = np.isfinite(y)
    if known.sum() < LEAST_RUNS or np.ptp(hours[known]) == 0:
        return Wear(sign, math.nan, math.nan, math.nan, math.nan, int(known.sum()), of, False)
    line = theil_sen(hours, y)
    span = float(np.ptp(hours[known]))
    low, high = line.low * span, line.high * span
    certain = high < 0 if falls else low > 0 if falls is not None else high < 0 or low > 0
    return Wear(sign, line.slope * span, low, high, 1000 * line.slope, int(known.sum()), of, bool(certain))
