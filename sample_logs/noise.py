"""Noise of known autocorrelation, drawn in chunks of fixed length so that a longer run begins like a shorter one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.signal import lfilter

CHUNK = 600
"""Steps drawn at a time."""


class NoiseBank:
    """Unit-variance AR(1) noise for several named groups of channels in several runs.

    Each run has its own generator, so a run does not depend on its neighbours in the batch.
    """

    def __init__(self, groups: dict[str, tuple[int, float]], seeds: Sequence[Sequence[int]], step_s: float) -> None:
        """groups: name -> (channels, correlation time in s, 0 = white)."""
        self._generators = [np.random.default_rng(list(seed)) for seed in seeds]
        self._groups = groups
        self._poles = {name: float(np.exp(-step_s / tau)) if tau > 0 else 0.0 for name, (_, tau) in groups.items()}
        self._last = {
            name: np.stack([g.standard_normal(count) for g in self._generators], axis=-1)
            for name, (count, _) in groups.items()
        }

    def draw(self) -> dict[str, np.ndarray]:
        """The next CHUNK steps of every group, [step, channel, run]."""
        chunk: dict[str, np.ndarray] = {}
        for name, (count, _) in self._groups.items():
            white = np.empty((CHUNK, count, len(self._generators)))
            for i, generator in enumerate(self._generators):
                white[..., i] = generator.standard_normal((CHUNK, count))
            pole = self._poles[name]
            if pole > 0.0:
                start = pole * self._last[name][None]
                white, _ = lfilter([np.sqrt(1.0 - pole * pole)], [1.0, -pole], white, axis=0, zi=start)
                self._last[name] = white[-1].copy()
            chunk[name] = white
        return chunk

    def snapshot(self) -> dict[str, object]:
        """Everything needed to go on exactly from here."""
        return {
            "last": {name: value.copy() for name, value in self._last.items()},
            "generators": [g.bit_generator.state for g in self._generators],
        }

    def restore(self, snapshot: dict[str, object]) -> None:
        """Goes on from a snapshot."""
        last, states = snapshot["last"], snapshot["generators"]
        assert isinstance(last, dict) and isinstance(states, list)
        self._last = {name: np.array(value) for name, value in last.items()}
        for generator, state in zip(self._generators, states, strict=True):
            generator.bit_generator.state = state
