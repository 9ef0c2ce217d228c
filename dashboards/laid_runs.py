"""Runs of one channel as an overlay chart draws them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from monitor.recipe import Window

Over = Literal["time", "kg", "steady"]


@dataclass(frozen=True)
class LaidRun:
    """One run.

    x: hours or the reader's unit of mass since its start, or hours since it was steady. y: readings. Both of
    shape (n,), NaN = no reading.
    """

    label: str
    x: np.ndarray
    y: np.ndarray


@dataclass(frozen=True)
class Overlay:
    """What an overlay chart draws, in the reader's unit. cell_s: what each point is the mean of.

    left_out: labels of runs that cannot be laid so, because they never were steady or log no rate.
    """

    key: str
    title: str
    unit: str
    over: Over
    runs: tuple[LaidRun, ...]
    window: Window | None
    cell_s: float
    left_out: tuple[str, ...]
