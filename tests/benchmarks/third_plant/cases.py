"""Which cases a seed holds, and each of them drawn: machine, onset, size, length, and what else goes on."""

from __future__ import annotations

import zlib
from dataclasses import replace

import numpy as np

from tests.benchmarks.third_plant.draw_machine import draw_machine
from tests.benchmarks.third_plant.faults_feed import FEED
from tests.benchmarks.third_plant.faults_heat import HEAT
from tests.benchmarks.third_plant.faults_mixed import MIXED
from tests.benchmarks.third_plant.faults_path import PATHS
from tests.benchmarks.third_plant.knobs import minute
from tests.benchmarks.third_plant.life import (
    QUIET,
    SHIFT,
    Doing,
    hall_moves,
    leans,
    mains_sag,
    minutes_to_heat,
    start_up,
)
from tests.benchmarks.third_plant.machine import Kind, Machine
from tests.benchmarks.third_plant.scene import SIZES, Scenario, Scene
from tests.benchmarks.third_plant.truth import Case

SCENARIOS = (*FEED, *PATHS, *HEAT, *MIXED)
CLEAN = 40
CLEAN_KINDS: tuple[Kind, ...] = (
    "twin",
    "single",
    "twin",
    "pvc",
    "single_starved",
    "twin_flooded",
    "twin",
    "single_pump",
)


def seed_of(seed: int, case: str) -> int:
    """A seed of its own for each case, the same on every machine."""
    return (zlib.crc32(case.encode()) + 1_000_003 * seed) % 2**31


def case_names(seed: int, only: str = "", share: float = 1.0) -> list[str]:
    """Names of the cases of a seed, 'scenario.number' and 'clean.number'; those whose family or name holds `only`."""
    found, counts = list[str](), dict[str, int]()
    for scenario in SCENARIOS:
        for _ in range(scenario.each):
            number = counts[scenario.name] = counts.get(scenario.name, 0) + 1
            if only in scenario.name or only in family_of(scenario):
                found.append(f"{scenario.name}.{number}")
    found += [f"clean.{i + 1}" for i in range(CLEAN) if only in "clean"]
    return [name for name in found if seed_of(seed, f"share {name}") % 1000 < 1000 * share]


def family_of(scenario: Scenario) -> str:
    """Row of the table."""
    from tests.benchmarks.third_plant.answers import ANSWERS

    return scenario.family or ANSWERS[scenario.name].family


def draw_case(seed: int, name: str) -> Case:
    """A case by its name; the same seed and name give the same case."""
    number, rng = int(name.rpartition(".")[2]), np.random.default_rng(seed_of(seed, name))
    if name.startswith("clean."):
        return _clean(name, number, seed, rng)
    scenario, before = _scenario(name.rpartition(".")[0], number)
    turn = seed_of(seed, f"size {scenario.name}") % 3
    kinds = scenario.kinds
    kind = kinds[(before + seed_of(seed, f"kind {scenario.name}")) % len(kinds)]
    machine = draw_machine(rng, kind, scenario.rich, scenario.big, scenario.needs)
    machine = _fitted(machine, scenario.name)
    case = Case(
        name, machine, seed_of(seed, name), 0.0, scenario.start, SIZES[(before + turn) % 3], family_of(scenario)
    )
    scene = Scene(case, rng, float(rng.uniform(62, 105)))
    case.minutes = scene.at + scenario.minutes
    if scenario.start == "steady" and scenario.family != "after change":
        doing = Doing(case, rng, 0.0)
        for act in rng.choice(np.array(QUIET, object), size=int(rng.integers(0, 4)), replace=False):
            doing.at = float(rng.uniform(10, scene.at - 22))
            act(doing)
        if rng.random() < 0.5:
            doing.at = scene.at + float(rng.uniform(20, 40))
            (hall_moves, leans, mains_sag)[int(rng.integers(3))](doing)
    elif scenario.start == "hot":
        case.life.append(minute(0, "vacuum", 985.0))
    scenario.write(scene)
    ends = [replace(t, end_min=min(t.end_min, case.minutes)) for t in case.truths]
    case.truths = ends
    return case


def _scenario(name: str, number: int) -> tuple[Scenario, int]:
    """The scenario that holds the number of a name, and how many cases of the name stand before it."""
    left = number
    for scenario in SCENARIOS:
        if scenario.name == name:
            if left <= scenario.each:
                return scenario, number - 1
            left -= scenario.each
    raise KeyError(f"no case {name}.{number}")


def _fitted(machine: Machine, name: str) -> Machine:
    """A machine that has what the scenario needs."""
    if name in ("side_backs_up", "filler_first") and not any(f.side for f in machine.feeders):
        raise ValueError(f"{name} needs a side feeder")
    if name in ("vacuum_lost", "scale_and_vacuum", "wet"):
        return replace(machine, vent=True)
    if name in ("screen_then_throat", "screen_blinds", "screen_torn") and machine.screen_part < 0.25:
        return replace(machine, screen_part=0.3)
    return machine


def _clean(name: str, number: int, seed: int, rng: np.random.Generator) -> Case:
    kind = CLEAN_KINDS[number % len(CLEAN_KINDS)]
    machine = draw_machine(rng, kind, rich=(number // 2) % 2 == 0)
    cold = number % 8 == 3
    case = Case(
        name, machine, seed_of(seed, name), float(rng.uniform(225, 300)), "cold" if cold else "steady", "-", "clean"
    )
    doing = Doing(case, rng, float(rng.uniform(20, 45)))
    if cold:
        soak = rng.uniform(31, 50) if kind != "pvc" else rng.uniform(11, 16)
        at = minutes_to_heat(case) + float(soak)
        case.life += start_up(machine, at)
        case.story.append(f"heated from cold, started at {at:.0f} min")
        doing.at = at + 45
        case.minutes += 60
    acts = list(rng.permutation(np.array(SHIFT, object)))[: int(rng.integers(4, 9))]
    for act in acts:
        if doing.at > case.minutes - 30:
            break
        act(doing)
        doing.at += float(rng.uniform(24, 50))
    if rng.random() < 0.12 and machine.dialect.shape == "wide":
        case.recorder += ("clock",)
        case.story.append("the clock is put back in this log")
    return case
