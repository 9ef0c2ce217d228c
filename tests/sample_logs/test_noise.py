"""Noise has the scatter and autocorrelation it is meant to have; runs are their own."""

from __future__ import annotations

import numpy as np
import pytest

from sample_logs.noise import CHUNK, NoiseBank


def _draw(seeds, chunks=30, tau=10.0, step=1.0):
    bank = NoiseBank({"a": (3, tau), "w": (2, 0.0)}, seeds, step)
    parts = [bank.draw() for _ in range(chunks)]
    return {name: np.concatenate([p[name] for p in parts]) for name in ("a", "w")}


def test_autocorrelation_across_chunk_borders():
    """AR(1): lag-k autocorrelation exp(-k step / tau); tolerance 4 Bartlett standard errors of 54,000 samples."""
    noise = _draw([(1, 0)])["a"][..., 0]
    assert noise.shape == (30 * CHUNK, 3)
    for lag in (1, 5, 20):
        seen = np.mean([np.corrcoef(noise[:-lag, c], noise[lag:, c])[0, 1] for c in range(3)])
        phi = np.exp(-0.1)
        error = np.sqrt((1 + phi**2) / (1 - phi**2) / noise.size)
        assert seen == pytest.approx(phi**lag, abs=4 * error)
    assert noise.var() == pytest.approx(1.0, abs=4 * np.sqrt(2 * (1 + phi**2) / (1 - phi**2) / noise.size))


def test_white_noise_is_white():
    white = _draw([(1, 0)])["w"][:, 0, 0]
    assert abs(np.corrcoef(white[:-1], white[1:])[0, 1]) < 4 / np.sqrt(len(white))


def test_a_run_does_not_depend_on_its_neighbours():
    assert np.array_equal(_draw([(1, 0), (1, 1)], 2)["a"][..., 1], _draw([(1, 1)], 2)["a"][..., 0])


def test_snapshot_goes_on_exactly():
    bank = NoiseBank({"a": (2, 5.0)}, [(3, 0)], 1.0)
    bank.draw()
    kept = bank.snapshot()
    first = bank.draw()["a"]
    bank.restore(kept)
    assert np.array_equal(bank.draw()["a"], first)
