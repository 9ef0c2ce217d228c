"""Line through many readings of which some are wild: Huber's regression.

Reference: P. J. Huber, Annals of Mathematical Statistics 35, 73 (1964); tuning constant 1.345 for 95 % efficiency
under the normal distribution, scale by the median absolute deviation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.statistics.robust import mad_sigma

TUNING = 1.345
MOST_STEPS = 100
CLOSE_ENOUGH = 1e-10


@dataclass(frozen=True)
class HuberFit:
    """level: value where every feature is 0. coefficients: shape (features,). sigma: robust spread about the fit."""

    level: float
    coefficients: np.ndarray
    sigma: float


def huber_fit(features: np.ndarray, values: np.ndarray) -> HuberFit:
    """Regression by weights repeated until they stand. features: (n, features), values: (n,), all finite.

    Raises ValueError where there are not more readings than coefficients or the features do not differ.
    """
    n, count = features.shape
    if n <= count + 1:
        raise ValueError(f"a fit of {count + 1} coefficients needs more than {count + 1} readings (got {n})")
    design = np.column_stack([np.ones(n), features])
    if np.linalg.matrix_rank(design) < count + 1:
        raise ValueError("features move together or not at all: their coefficients cannot be told apart")
    found = np.linalg.lstsq(design, values, rcond=None)[0]
    sigma = 0.0
    for _ in range(MOST_STEPS):
        residual = values - design @ found
        sigma = mad_sigma(residual)
        if sigma <= 1e-12 * max(1.0, float(np.abs(values).max())):
            break
        root = np.sqrt(np.minimum(1.0, TUNING * sigma / np.maximum(np.abs(residual), 1e-300)))
        after = np.linalg.lstsq(design * root[:, None], values * root, rcond=None)[0]
        moved = float(np.abs(design @ (after - found)).max())
        found = after
        if moved <= CLOSE_ENOUGH * sigma:
            break
    return HuberFit(float(found[0]), found[1:], mad_sigma(values - design @ found))
