"""Chart of individual readings and their moving ranges."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from monitor.statistics.autocorrelation import lag1
from monitor.statistics.shewhart_constants import ShewhartConstants, shewhart_constants

MAX_LAG1 = 0.25
"""Above this autocorrelation the moving range understates the spread by more than 13 %: no limits then."""


class AutocorrelatedError(ValueError):
    """Limits for independent readings were asked for readings that are not."""


@dataclass(frozen=True)
class IndividualsLimits:
    """Three-sigma limits of single readings, and the upper limit of their moving ranges (the lower is 0)."""

    centre: float
    lower: float
    upper: float
    mean_moving_range: float
    upper_moving_range: float


def moving_ranges(values: np.ndarray) -> np.ndarray:
    """Distance of each reading from the one before; shape (n - 1,), NaN next to a gap."""
    return np.abs(np.diff(values))


def individuals_limits(values: np.ndarray, constants: ShewhartConstants | None = None) -> IndividualsLimits:
    """Limits from reference readings by their mean moving range, NaN skipped.

    constants: those of samples of two; a textbook's rounded ones may be given to reproduce its figures.

    The moving range of readings with lag-1 autocorrelation phi gives only sqrt(1 - phi) of their sigma. So
    AutocorrelatedError is raised where the readings' own lag-1 autocorrelation is above `MAX_LAG1` and more
    than two standard errors, 2/sqrt(n), from zero. Thin the readings, or chart an EWMA with the limits of
    `monitor.statistics.autocorrelated_design`. Raises ValueError where no two readings are neighbours.
    """
    used = constants or shewhart_constants(2)
    ranges = moving_ranges(values)
    if not np.isfinite(ranges).any():
        raise ValueError("limits of individual readings need at least two readings next to each other")
    _refuse_autocorrelated(values)
    centre = float(np.nanmean(values))
    mean_range = float(np.nanmean(ranges))
    reach = 3 * mean_range / used.d2
    return IndividualsLimits(centre, centre - reach, centre + reach, mean_range, used.d4_upper * mean_range)


def _refuse_autocorrelated(values: np.ndarray) -> None:
    resemblance = lag1(values)
    n = int(np.isfinite(values).sum())
    if resemblance > max(MAX_LAG1, 2 / math.sqrt(n)):
        raise AutocorrelatedError(
            f"readings resemble their neighbours (lag-1 autocorrelation {resemblance:.2f}): limits for "
            f"independent readings would be about {math.sqrt(1 - resemblance):.2f} of the right width"
        )
