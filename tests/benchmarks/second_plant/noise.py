"""Noise with memory: a first-order autoregressive process (Box & Jenkins, Time Series Analysis, ch. 3)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter


def coloured(rng: np.random.Generator, n: int, sd: float, memory: float) -> NDArray[np.float64]:
    """n samples of standard deviation sd whose correlation falls to 1/e in `memory` samples."""
    if sd <= 0:
        return np.zeros(n)
    phi = float(np.exp(-1 / max(memory, 1e-3)))
    shocks = rng.standard_normal(n) * sd * np.sqrt(1 - phi * phi)
    shocks[0] = rng.standard_normal() * sd
    return np.asarray(lfilter([1.0], [1.0, -phi], shocks), dtype=np.float64)
