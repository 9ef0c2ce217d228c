"""One invented plant of each kind, and its noise-free line, for the physical checks."""

from __future__ import annotations

import copy
from collections.abc import Callable

import numpy as np
import pytest

from sample_logs.commands import Commands
from sample_logs.draw_plant import draw_plant
from sample_logs.plant import Plant
from sample_logs.settle_twin import nominal_commands
from sample_logs.single_screw import SingleScrew
from sample_logs.stacking import stack
from sample_logs.twin_screw import TwinScrew
from sample_logs.upsets import Upsets, no_upsets


class QuietLine:
    """A plant's line in its steady state, without noise, to be pushed about."""

    def __init__(self, plant: Plant, step_s: float = 1.0) -> None:
        core = TwinScrew if plant.kind == "twin-screw" else SingleScrew
        feeders, zones = len(plant.nominal.feeder_kg_h), len(plant.zones)
        self.plant = plant
        self.line = core(stack([plant.parameters]), copy.deepcopy(plant.settled), step_s)
        self.command: Commands = nominal_commands(plant.nominal)
        self.upset: Upsets = no_upsets(feeders, zones, 1)
        self.quiet = {name: np.zeros((k, 1)) for name, k in core.noise_groups(feeders, zones).items()}

    def run(self, seconds: float, watch: Callable[[], float] | None = None) -> np.ndarray:
        """Steps on; what `watch` says after each step."""
        seen: list[float] = []
        for _ in range(round(seconds / self.line.step_s)):
            self.line.step(self.command, self.upset, self.quiet)
            if watch is not None:
                seen.append(watch())
        return np.array(seen)

    def torque(self) -> float:
        """Part of rated."""
        return float(self.line.state.drive.torque[0])

    def pressure(self) -> float:
        """Ahead of the screen, bar."""
        return float(self.line.state.barrel.pressure_bar[0])

    def rate(self) -> float:
        """Through the die, kg/h."""
        return float(self.line.state.barrel.passed_kg[-1, 0]) / self.line.step_s * 3600.0


@pytest.fixture(scope="session")
def twin() -> Plant:
    return draw_plant(np.random.default_rng(6), "twin-screw", plain=False, cadence_s=1.0)


@pytest.fixture(scope="session")
def single() -> Plant:
    return draw_plant(np.random.default_rng(3), "single-screw", plain=False, cadence_s=1.0)


@pytest.fixture
def quiet_twin(twin: Plant) -> QuietLine:
    return QuietLine(twin)


@pytest.fixture
def quiet_single(single: Plant) -> QuietLine:
    return QuietLine(single)


@pytest.fixture
def quiet_line() -> type[QuietLine]:
    return QuietLine
