"""Zones need much more heat than they did, all alike, and nothing else has moved: their common supply gives less.

Mains a tenth low take 1 / 0.9^2 = 1.23 times the output, a hall 15 C colder a tenth more; a phase lost to heaters in
delta, or a group of bands of each, half as much again.
"""

from __future__ import annotations

import numpy as np

from monitor import cautions
from monitor.conditions.duty_against_reference import LEAST_DUTY_PCT, Duty
from monitor.contract import Explanation
from monitor.exact import Bools, Floats
from monitor.records import Cause, Evidence

LEAST_ZONES = 4
LEAST_RATIO, MEDIAN_RATIO, ALIKE = 1.2, 1.35, 0.12
"""Times the usual heat that counts, the middle of those that count, and how far from it they are at most: bands that
die by themselves do not leave four zones with the same need. Common practice, no source."""


def common(duty: Duty) -> tuple[Bools, Floats, Floats]:
    """Minutes in which several zones need much more than they learned to, all of them alike, [m]; the median of their
    ratios and how many they are, [m] each."""
    with np.errstate(invalid="ignore", divide="ignore"):
        heated = duty.valid & (duty.expected >= LEAST_DUTY_PCT)
        ratio = np.where(heated, duty.mean / duty.expected, np.nan)
        ratio = np.where(ratio >= LEAST_RATIO, ratio, np.nan)
    middle = np.full(ratio.shape[1], np.nan)
    some = np.count_nonzero(np.isfinite(ratio), axis=0) >= LEAST_ZONES
    if some.any():
        middle[some] = np.nanmedian(ratio[:, some], axis=0)
    with np.errstate(invalid="ignore"):
        count = np.count_nonzero(np.abs(ratio / middle - 1.0) <= ALIKE, axis=0)
        holds = (count >= LEAST_ZONES) & (middle >= MEDIAN_RATIO)
    return holds, middle, count.astype(float)


def explain(ratio: float, count: float) -> Explanation:
    """Phase, mains, hall."""
    return Explanation(
        f"{count:.0f} zones need {ratio:.1f} times the heat they took, at the same speed, load and temperatures: their "
        "common supply gives less",
        2,
        "medium",
        (Evidence("heat against usual, middle one of the zones", ratio, "times", 1.0),),
        (
            Cause(
                "heating supply: a phase or fuse lost, or part of each heater's bands off with it",
                ("all alike at once: bands do not die together",),
            ),
            Cause("mains voltage far down", (), ("a tenth less makes 1.2 times",)),
            Cause("hall much colder, or covers and insulation off"),
        ),
        ("voltage of each phase at the heating supply", "fuses and main contactor", "heater currents"),
        cautions.ELECTRICAL,
    )
