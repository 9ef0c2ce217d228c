"""Draws loss-in-weight feeders sized to their share of the rate."""

from __future__ import annotations

import numpy as np

from sample_logs.feeder import FeederParameters


def draw_feeders(rng: np.random.Generator, feeder_kg_h: np.ndarray) -> FeederParameters:
    """Four feeders: main polymer, additive, stabiliser, filler at the side. Share 0 = slot unused."""
    count = len(feeder_kg_h)
    present = (feeder_kg_h > 0).astype(float)
    rate = np.where(feeder_kg_h > 0, feeder_kg_h, 1.0)
    hours = np.array([rng.uniform(0.12, 0.3), rng.uniform(0.8, 2.5), rng.uniform(1.5, 4.0), rng.uniform(0.15, 0.4)])
    capacity = rate * hours / 0.5
    capacity = np.maximum(capacity, 2.0)
    drive = rng.uniform(28, 62, count)
    small = rate < 5.0
    filter_s = np.where(small, rng.uniform(18, 35, count), rng.uniform(5, 12, count))
    return FeederParameters(
        present=present,
        side=np.array([0.0, 0.0, 0.0, 1.0]),
        factor_kg_h=rate / drive * 100.0,
        fill_effect=rng.uniform(0.03, 0.15, count),
        capacity_kg=capacity,
        refill_low_kg=capacity * rng.uniform(0.28, 0.38, count),
        refill_high_kg=capacity * rng.uniform(0.78, 0.9, count),
        refill_s=np.where(small, rng.uniform(15, 60, count), rng.uniform(10, 30, count)),
        refill_limit_s=np.full(count, 90.0),
        drive_limit_pct=np.full(count, 100.0),
        filter_s=filter_s,
        adapt_s=filter_s * rng.uniform(1.5, 3.0, count),
        settle_s=rng.uniform(5, 15, count),
        weight_noise_kg=capacity * rng.uniform(2e-5, 8e-5, count),
        rate_noise=np.where(small, rng.uniform(0.02, 0.05, count), rng.uniform(0.01, 0.03, count)),
        lag_s=np.array([rng.uniform(1, 3), rng.uniform(1, 5), rng.uniform(1, 5), rng.uniform(2, 6)]),
    )
