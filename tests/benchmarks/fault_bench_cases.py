"""The cases of the bench: which fault, how large, on which drawn plant, when; simulated many at a time."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sample_logs.cooled_barrel import cooled_barrels
from sample_logs.draw_plant import draw_plants
from sample_logs.draw_scenario import draw_nuisances
from sample_logs.fault_scenes import LASTS_ITS_SEVERITY, Scene, run_of, scene_of
from sample_logs.fault_subjects import subjects
from sample_logs.faults import FAULTS, Fault
from sample_logs.log_views import plain_log, rich_log
from sample_logs.plant import Kind, Plant
from sample_logs.rich_plant import enriched
from sample_logs.scenario import Event, Scenario
from sample_logs.simulate import SimulatedRuns, simulate

RUN_S = 9000.0
COLD_START_S = 6000.0
BATCH = 96
SLOW = (
    "feeder_empty",
    "hopper_empty",
    "hot_hold",
    "melt_temperature_drift",
    "pressure_drift",
    "feed_factor_drift",
    "vacuum_pot_full",
    "gearbox_filter_clogging",
    "pressure_zero_drift",
    "pressure_plugged",
)
"""Faults that need longer than an hour to show; they last to the end of the run."""
POOL = {"twin-screw": 16, "single-screw": 12}
"""Plants drawn for a seed; the faults are spread over them."""
SPARE, TORQUE_OF_USE_PCT = 1.3, 85.0
"""Nobody runs a line day by day at the torque where it must be warned of: such plants are drawn and left out."""
SIZES = ("small", "medium", "large")


@dataclass(frozen=True)
class BenchPlant:
    """A drawn plant, measured in full, and its two logs. events: the everyday nuisances of its runs."""

    number: int
    seed: int
    whole: Plant
    plain: Plant
    rich: Plant
    start_s: float
    events: tuple[Event, ...]


@dataclass(frozen=True)
class Case:
    """One fault on one plant. size: small, medium, large, or whole where it is all or nothing."""

    plant: BenchPlant
    fault: Fault
    size: str


def draw_pool(seed: int, kind: Kind) -> list[BenchPlant]:
    """The plants of one seed."""
    words = [seed, zlib.crc32(kind.encode())]
    rngs = [np.random.default_rng([*words, i]) for i in range(round(SPARE * POOL[kind]))]
    drawn = [
        p for p in cooled_barrels(rngs, draw_plants(rngs, kind)) if p.facts["steady"]["torque"] < TORQUE_OF_USE_PCT
    ]
    pool = []
    for number, bare in enumerate(drawn[: POOL[kind]]):
        rng = np.random.default_rng([*words, number, 1])
        plant = enriched(rng, bare)
        start = float(np.round(rng.uniform(3000, 4500)))
        events = draw_nuisances(rng, plant, RUN_S, often=0.5)
        quiet = tuple(e for e in events if not start - 60 <= e.at_s <= start + 300)
        pool.append(BenchPlant(number, seed, plant, plain_log(rng, plant), rich_log(rng, plant), start, quiet))
    return pool


def draw_cases(seed: int, kind: Kind, pool: Sequence[BenchPlant], names: Sequence[str]) -> list[Case]:
    """Every fault of `names` this kind of line can have, once small, once medium, once large, on different plants."""
    cases = []
    for name in names:
        entry = FAULTS[name]
        able = [p for p in pool if kind in entry.lines and subjects(p.whole, name)]
        if not able:
            continue
        rng = np.random.default_rng([seed, zlib.crc32(f"{kind} {name}".encode())])
        order = rng.permutation(len(able))
        for j, label in enumerate(SIZES):
            plant = able[order[j % len(able)]]
            whole = len(entry.sizes) == 1
            subject = str(rng.choice(subjects(plant.whole, name)))
            start, severity = start_of(plant, scene_of(name)), entry.sizes[0 if whole else j]
            lasts = RUN_S - start + 1.0 if name in SLOW else float(np.round(rng.uniform(1800, 3600)))
            fault = Fault(name, subject, start, start + (severity if name in LASTS_ITS_SEVERITY else lasts), severity)
            cases.append(Case(plant, fault, "whole" if whole else label))
    return cases


def start_of(plant: BenchPlant, scene: Scene) -> float:
    """When the fault begins: a cold start needs time to heat up, everything else the line's steady running."""
    return COLD_START_S if scene == "cold" else plant.start_s


def scenario_of(plant: BenchPlant, scene: Scene, *faults: Fault) -> Scenario:
    """The run of one case, or without its fault."""
    rng = np.random.default_rng([plant.seed, plant.number, 2])
    return run_of(rng, plant.whole, scene, start_of(plant, scene), plant.events, *faults)


@dataclass(frozen=True)
class Batch:
    """Cases of plants of one structure, simulated side by side with the same runs free of faults.
    free: plants and scenes."""

    cases: tuple[Case, ...]
    free: tuple[tuple[BenchPlant, Scene], ...]

    def simulate(self) -> SimulatedRuns:
        """First the cases, then the runs free of faults; a case meets the same noise as its free run."""
        plants = [c.plant for c in self.cases] + [p for p, _ in self.free]
        scenarios = [scenario_of(c.plant, scene_of(c.fault.kind), c.fault) for c in self.cases]
        scenarios += [scenario_of(p, scene) for p, scene in self.free]
        chance = [(p.seed, p.number, 3) for p in plants]
        return simulate([p.whole for p in plants], scenarios, RUN_S, 0, chance=chance)


def batches(pool: Sequence[BenchPlant], cases: Sequence[Case]) -> Iterator[Batch]:
    """The cases in batches of plants that step together."""
    groups: dict[tuple[int, float], list[BenchPlant]] = {}
    used = {case.plant.number for case in cases}
    for plant in (p for p in pool if p.number in used):
        groups.setdefault((len(plant.whole.zones), min(plant.whole.cadence_s, 1.0)), []).append(plant)
    for plants in groups.values():
        members: list[Case] = []
        numbers: set[int] = set()
        for plant in plants:
            ours = [c for c in cases if c.plant is plant]
            if members and len(members) + len(ours) > BATCH:
                yield _batch(members, [p for p in plants if p.number in numbers])
                members, numbers = [], set()
            members += ours
            numbers.add(plant.number)
        yield _batch(members, [p for p in plants if p.number in numbers])


def _batch(cases: list[Case], plants: list[BenchPlant]) -> Batch:
    scenes = {(c.plant.number, scene_of(c.fault.kind)) for c in cases}
    special: tuple[Scene, ...] = ("stop", "cold", "hot")
    free: list[tuple[BenchPlant, Scene]] = [(p, "steady") for p in plants]
    free += [(p, scene) for p in plants for scene in special if (p.number, scene) in scenes]
    return Batch(tuple(cases), tuple(free))
