"""The hopper over a flood-fed throat: loader cycles (a saw-tooth level) and, on load cells, the line's rate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets


@dataclass
class HopperParameters:
    """capacity_kg; the loader starts below low_kg and stops above high_kg, load_kg_s while it runs.
    filter_s: of the weight-loss rate. weight_noise_kg: white."""

    capacity_kg: np.ndarray
    low_kg: np.ndarray
    high_kg: np.ndarray
    load_kg_s: np.ndarray
    filter_s: np.ndarray
    weight_noise_kg: np.ndarray


@dataclass
class HopperState:
    """content_kg, weight_kg (as weighed), loading 0/1, rate_kg_h (as measured), settle_s after loading, [run]."""

    content_kg: np.ndarray
    weight_kg: np.ndarray
    loading: np.ndarray
    rate_kg_h: np.ndarray
    rate1_kg_h: np.ndarray
    settle_s: np.ndarray
    loaded_kg: np.ndarray


SETTLE_S = 10.0


def advance(
    state: HopperState,
    p: HopperParameters,
    upset: Upsets,
    taken_kg: np.ndarray,
    noise: np.ndarray,
    step_s: float,
) -> None:
    """Takes out what the throat took, loads, weighs. The rate stands still while loading."""
    s = state
    s.content_kg = np.maximum(s.content_kg - taken_kg, 0.0)
    s.loading = np.where(s.content_kg < p.low_kg, 1.0, np.where(s.content_kg > p.high_kg, 0.0, s.loading))
    s.loaded_kg = s.loading * upset.loader * p.load_kg_s * step_s
    s.content_kg = s.content_kg + s.loaded_kg
    weight = s.content_kg + p.weight_noise_kg * noise
    loss = (s.weight_kg - weight) * (3600.0 / step_s)
    s.weight_kg = weight
    s.settle_s = np.where(s.loaded_kg > 0, SETTLE_S, np.maximum(s.settle_s - step_s, 0.0))
    a = (1.0 - np.exp(-step_s / p.filter_s)) * (s.settle_s <= 0)
    s.rate1_kg_h = s.rate1_kg_h + a * (loss - s.rate1_kg_h)
    s.rate_kg_h = s.rate_kg_h + a * (s.rate1_kg_h - s.rate_kg_h)
