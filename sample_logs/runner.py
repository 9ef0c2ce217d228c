"""Runs a batch of lines of equal structure through time, chunk by chunk, and keeps what their logs hold."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

import numpy as np

from sample_logs import single_screw, twin_screw
from sample_logs.agenda import Agenda
from sample_logs.channels import place
from sample_logs.noise import CHUNK, NoiseBank
from sample_logs.plant import Plant
from sample_logs.scenario import Scenario
from sample_logs.sensor_noise import TAU_S
from sample_logs.settle_twin import nominal_commands
from sample_logs.stacking import join, stack
from sample_logs.start_states import cool_down, stand_still
from sample_logs.surroundings import NOISE as SURROUNDINGS_NOISE
from sample_logs.surroundings import Surroundings
from sample_logs.upsets import no_upsets

Line = twin_screw.TwinScrew | single_screw.SingleScrew


class Runner:
    """A batch. `advance()` moves one chunk of CHUNK steps on and returns each run's readings, [reading, channel]."""

    def __init__(
        self,
        plants: Sequence[Plant],
        scenarios: Sequence[Scenario],
        seeds: Sequence[Sequence[int]],
        step_s: float,
    ) -> None:
        """seeds: one per run, words of the generator's seed. All plants of one kind and structure."""
        self.plants, self.step_s, self.time_s = plants, step_s, 0.0
        runs, zones = len(plants), len(plants[0].zones)
        feeders = len(plants[0].nominal.feeder_kg_h)
        parameters: Any = stack([plant.parameters for plant in plants])
        states = [_start(plant, scenario, seed) for plant, scenario, seed in zip(plants, scenarios, seeds, strict=True)]
        core = twin_screw.TwinScrew if plants[0].kind == "twin-screw" else single_screw.SingleScrew
        self.line: Line = core(parameters, join(states), step_s)
        self.command = join([_commands(plant, scenario) for plant, scenario in zip(plants, scenarios, strict=True)])
        self.upset = no_upsets(feeders, zones, runs)
        groups = {name: (k, TAU_S[name]) for name, k in core.noise_groups(feeders, zones).items()}
        self.noise = NoiseBank(groups, seeds, step_s)
        numbers: list[Any] = [plant.facts.get("surroundings") for plant in plants]
        self.around = Surroundings(numbers, step_s) if all(numbers) else None
        self.around_noise = (
            NoiseBank(SURROUNDINGS_NOISE, [[*seed, 21] for seed in seeds], step_s) if self.around else None
        )
        self.agenda = Agenda(plants, self.command, self.upset, self._on_line)
        for run, scenario in enumerate(scenarios):
            for item in (*scenario.events, *scenario.faults):
                self.agenda.add(run, item)
        self._columns: list[list[int]] = []
        self._spans: dict[str, slice] = {}
        self._strides = [max(round(plant.cadence_s / step_s), 1) for plant in plants]

    def advance(self) -> list[np.ndarray]:
        """Readings of the next CHUNK steps, float32, one array per run on its own cadence."""
        noise = self.noise.draw()
        noise |= self.around_noise.draw() if self.around_noise else {}
        book: np.ndarray | None = None
        line, command, upset = self.line, self.command, self.upset
        for k in range(CHUNK):
            self.agenda.play(self.time_s)
            upset.clock_s[:] = self.time_s
            now = {name: values[k] for name, values in noise.items()}
            line.step(command, upset, now)
            readings = line.readings(command, upset, now)
            if self.around is not None:
                readings |= self.around.readings(line, command, upset, now)
            if book is None:
                book = self._open_book(readings)
            page = book[k]
            for name, span in self._spans.items():
                page[span] = readings[name]
            self.time_s += self.step_s
        assert book is not None
        return [
            np.ascontiguousarray(book[:: self._strides[run], :, run][:, self._columns[run]])
            for run in range(len(self.plants))
        ]

    def _open_book(self, readings: dict[str, np.ndarray]) -> np.ndarray:
        if not self._spans:
            start = 0
            for name, values in readings.items():
                count = 1 if values.ndim == 1 else values.shape[0]
                self._spans[name] = slice(start, start + count)
                start += count
            self._width = start
            for plant in self.plants:
                slots = dict(zip(plant.feeders, plant.facts["slots"], strict=True))
                places = [place(key, plant.zones, slots) for key in plant.channels]
                self._columns.append([self._spans[name].start + index for name, index in places])
        return np.empty((CHUNK, self._width, len(self.plants)), dtype=np.float32)

    def _on_line(self, run: int, kind: str) -> None:
        if kind == "screen_change":
            self.line.state.blinding[run] = 0.0
        else:
            self.line.state.drive.tripped[run] = 0.0
            self.line.state.drive.stalled_s[run] = 0.0


def _start(plant: Plant, scenario: Scenario, seed: Sequence[int]) -> Any:
    """The state a run begins in, with hopper levels of its own."""
    state = copy.deepcopy(plant.settled)
    rng = np.random.default_rng([*seed, 7])
    if plant.kind == "twin-screw":
        twin_screw.set_hoppers(state, plant.parameters, rng)
    else:
        single_screw.set_hopper(state, plant.parameters, rng)
    if scenario.start != "steady":
        stand_still(state)
    if scenario.start == "cold":
        cool_down(state)
    return state


def _commands(plant: Plant, scenario: Scenario) -> Any:
    command = nominal_commands(plant.nominal)
    if scenario.start != "steady":
        for name in ("screw_on", "feed_on", "vacuum_on"):
            getattr(command, name)[:] = 0.0
        command.feeder_kg_h[:] = command.feeder_aim
    if scenario.start == "cold":
        command.heat_on[:] = 0.0
    return command
