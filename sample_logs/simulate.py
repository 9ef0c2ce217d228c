"""Simulates many shifts at once: plants and scenarios in, Blocks and truth out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ingest.block import Block, Note
from sample_logs.logger import logged
from sample_logs.noise import CHUNK
from sample_logs.plant import Plant
from sample_logs.runner import Runner
from sample_logs.scenario import Scenario
from sample_logs.truth import Truth, truths

NS = 1_000_000_000


@dataclass(frozen=True)
class SimulatedRuns:
    """What came of it. `shown[i]` are the transmitters' readings of run i, [reading, channel], before its logger."""

    plants: tuple[Plant, ...]
    scenarios: tuple[Scenario, ...]
    seed: int
    seconds: float
    shown: tuple[np.ndarray, ...]

    def __len__(self) -> int:
        return len(self.plants)

    def block(self, run: int) -> Block:
        """Run as the plant's log would give it, on the plant's cadence; notes: recipe and lot at the start, then
        the scenario's notes."""
        plant, scenario = self.plants[run], self.scenarios[run]
        step = round(plant.cadence_s * NS)
        t0 = scenario.start_ns - scenario.start_ns % step
        values, status = logged(plant, scenario, self.shown[run], [self.seed, run])
        end = t0 + step * values.shape[1]
        return Block(t0, step, plant.channels, values, status, tuple(n for n in self._notes(run, t0) if n.at_ns < end))

    def logged_as(self, plants: Sequence[Plant]) -> SimulatedRuns:
        """The same runs in the logs of `plants`: the same lines, with part of the channels logged."""
        shown = [
            all_of_it[:, [whole.channels.index(key) for key in part.channels]]
            for whole, part, all_of_it in zip(self.plants, plants, self.shown, strict=True)
        ]
        return replace(self, plants=tuple(plants), shown=tuple(shown))

    def truth(self, run: int) -> list[Truth]:
        """The faults of a run, by start."""
        return truths(self.plants[run], self.scenarios[run], self.seconds)

    def _notes(self, run: int, t0: int) -> list[Note]:
        scenario = self.scenarios[run]
        notes = [Note(t0, "recipe", self.plants[run].recipe["recipe"]["name"]), Note(t0, "lot", scenario.lot)]
        notes += [
            Note(t0 + round(event.at_s * NS), event.subject, event.text)
            for event in scenario.events
            if event.kind == "note"
        ]
        return sorted(notes)


def simulate(
    plants: Sequence[Plant],
    scenarios: Sequence[Scenario],
    seconds: float,
    seed: int,
    *,
    step_s: float | None = None,
    chance: Sequence[Sequence[int]] | None = None,
) -> SimulatedRuns:
    """Runs plant i through scenario i for `seconds`. Equal arguments give equal runs, whatever else is in the batch.

    step_s: internal step; None = 1 s, and 0.5 s for plants with that cadence. chance: words that seed the noise of
    each run, None = (seed, i); runs with equal words meet the same noise.
    """
    if len(plants) != len(scenarios):
        raise ValueError(f"{len(plants)} plants but {len(scenarios)} scenarios")
    batches: dict[tuple[str, int, float, bool], list[int]] = {}
    for i, plant in enumerate(plants):
        step = step_s or min(1.0, plant.cadence_s)
        around = "surroundings" in plant.facts
        batches.setdefault((plant.kind, len(plant.zones), step, around), []).append(i)
    shown: list[np.ndarray] = [np.empty((0, 0), np.float32)] * len(plants)
    for (_, _, step, _), members in batches.items():
        words = [(seed, i) if chance is None else chance[i] for i in members]
        runner = Runner([plants[i] for i in members], [scenarios[i] for i in members], words, step)
        chunks = -(-round(seconds / step) // CHUNK)
        parts = [runner.advance() for _ in range(chunks)]
        for place, i in enumerate(members):
            count = round(seconds / plants[i].cadence_s)
            shown[i] = np.concatenate([part[place] for part in parts])[:count]
    return SimulatedRuns(tuple(plants), tuple(scenarios), seed, seconds, tuple(shown))
