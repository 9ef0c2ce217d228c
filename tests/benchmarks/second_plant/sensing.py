"""From the truth to what a plant's recorder writes: scatter with memory, steps, dead bands, sensor faults, cadence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.second_plant.noise import coloured
from tests.benchmarks.second_plant.plant import Raw

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Signal:
    """One tag. truth: key in the raw log; noise: sd, with memory in s; step: resolution; band: recorder's dead band."""

    tag: str
    truth: str
    role: str
    at: str = ""
    noise: float = 0.0
    memory: float = 2.0
    step: float = 0.0
    band: float = 0.0
    scale: float = 1.0
    offset: float = 0.0
    unit: str = ""
    lag_s: float = 0.0
    position: str = ""
    relative_noise: float = 0.0


def logged(signals: tuple[Signal, ...], raw: Raw, cadence_s: int, seed: int) -> dict[str, Floats]:
    """Tag to values, one each `cadence_s`."""
    rng = np.random.default_rng(seed + 7919)
    return {signal.tag: _one(signal, raw, cadence_s, rng) for signal in signals}


def _one(signal: Signal, raw: Raw, cadence_s: int, rng: np.random.Generator) -> Floats:
    truth = raw.values[signal.truth]
    if signal.lag_s:
        truth = _lagged(truth, signal.lag_s)
    noise = coloured(rng, truth.size, signal.noise, signal.memory)
    noise = noise + truth * coloured(rng, truth.size, signal.relative_noise, signal.memory)
    if signal.role == "melt_pressure":
        turning = np.clip(raw.values["rpm"] / (raw.values["rpm"].max() + 1e-9), 0, 1)
        noise = noise * (0.1 + 0.9 * turning) + coloured(rng, truth.size, 0.3, 20000)
    if signal.truth in raw.sensor:
        kind, size, onset = raw.sensor[signal.truth]
        after = np.arange(truth.size) >= onset
        if kind == "noisy":
            noise = np.where(after, noise * size, noise)
        elif kind == "drift":
            truth = truth + np.where(after, size * np.clip((np.arange(truth.size) - onset) / 7200, 0, 1), 0)
    read = (truth + noise)[::cadence_s] * signal.scale + signal.offset
    if signal.truth in raw.sensor and raw.sensor[signal.truth][0] == "stuck":
        first = raw.sensor[signal.truth][2] // cadence_s
        read[first:] = read[first]
    if signal.role.endswith(("rate", "power", "current", "speed", "load")) or signal.role == "torque":
        read = np.maximum(read, 0.0)
    if signal.band:
        read = _banded(read, signal.band)
    return np.round(read / signal.step) * signal.step if signal.step else read


def _lagged(values: Floats, lag_s: float) -> Floats:
    from scipy.signal import lfilter

    keep = float(np.exp(-1 / lag_s))
    return np.asarray(lfilter([1 - keep], [1, -keep], values, zi=[keep * values[0]])[0])


def _banded(values: Floats, band: float) -> Floats:
    """A recorder that writes only what moved by more than its band."""
    kept, out = float(values[0]), values.copy()
    for i, value in enumerate(values.tolist()):
        if abs(value - kept) > band:
            kept = value
        out[i] = kept
    return out
