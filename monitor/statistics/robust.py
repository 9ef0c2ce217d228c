"""Location and spread that a few wild readings do not move."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

MAD_TO_SIGMA = 1.482602218505602
"""1 / (third quartile of the standard normal distribution): makes the MAD estimate a normal sigma."""

QuantileDefinition = Literal["R6", "R7", "R8"]
_NUMPY_NAMES: dict[QuantileDefinition, Literal["weibull", "linear", "median_unbiased"]] = {
    "R6": "weibull",
    "R7": "linear",
    "R8": "median_unbiased",
}


def median(values: np.ndarray) -> float:
    """Median, NaN skipped; NaN where nothing is there."""
    there = values[np.isfinite(values)]
    return float(np.median(there)) if there.size else math.nan


def mad_sigma(values: np.ndarray) -> float:
    """Standard deviation by the median absolute deviation from the median, NaN skipped.

    0 where more than half of the readings are equal, as with a coarse sensor: use a floor of about a third of
    the resolution then.
    """
    return MAD_TO_SIGMA * median(np.abs(values - median(values)))


def quantile(values: np.ndarray, share: float, definition: QuantileDefinition = "R8") -> float:
    """The reading below which a share of the distribution lies, NaN skipped; NaN where nothing is there.

    share: 0 to 1. definition: numbering of Hyndman & Fan, The American Statistician 50, 361 (1996), who
    recommend number 8, median-unbiased whatever the distribution.
    """
    there = values[np.isfinite(values)]
    if not there.size:
        return math.nan
    return float(np.quantile(there, share, method=_NUMPY_NAMES[definition]))
