"""The hand with which faults are written: machine, rng, onset, size, and how truth is put down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.third_plant.knobs import Change, minute
from tests.benchmarks.third_plant.machine import Feeder, Kind, Machine, Zone
from tests.benchmarks.third_plant.truth import Case, Truth

SIZES = ("S", "M", "L")


@dataclass
class Scene:
    """A case in the making. at: onset, min."""

    case: Case
    rng: np.random.Generator
    at: float

    @property
    def m(self) -> Machine:
        """The machine."""
        return self.case.machine

    def between(self, low: float, high: float) -> float:
        """Drawn evenly."""
        return float(self.rng.uniform(low, high))

    def sized(self, *ranges: tuple[float, float]) -> float:
        """Drawn from the range of the case's size: small, medium, large."""
        return self.between(*ranges[SIZES.index(self.case.size)])

    def does(self, *changes: Change) -> None:
        """What the fault does."""
        self.case.faulty += [(len(self.case.truths), change) for change in changes]

    def goes(self, knob: str, value: float, ramp_s: float = 0.0, of: int | None = None, after: float = 0.0) -> None:
        """The fault moves a knob at its onset (min after it)."""
        self.does(minute(self.at + after, knob, value, ramp_s, of))

    def passes(
        self, knob: str, value: float, ramp_s: float, lasts: float, of: int | None = None, back: float = 1.0
    ) -> None:
        """The fault moves a knob for some minutes."""
        self.goes(knob, value, ramp_s, of)
        self.goes(knob, back, 5.0, of, lasts)

    def true(self, fault: str, *at: str, lasts: float = 0.0, begins: float = 0.0, given: float = float("nan")) -> None:
        """Put the truth down. lasts: min, 0 to the end of the log. begins: min after the onset."""
        start = self.at + begins
        end = start + lasts if lasts else self.case.minutes
        self.case.truths.append(Truth(fault, at, start, end, given_min=given))

    def zone(self, choose: Callable[[Zone], bool] = lambda z: True) -> int:
        """A zone drawn from those that fit, else any but the first."""
        fits = [i for i, zone in enumerate(self.m.zones) if zone.kind != "feed" and choose(zone)]
        return int(self.rng.choice(fits or range(1, len(self.m.zones))))

    def feeder(self, choose: Callable[[Feeder], bool] = lambda f: True) -> int:
        """A feeder drawn from those that fit."""
        return int(self.rng.choice([i for i, feeder in enumerate(self.m.feeders) if choose(feeder)]))


@dataclass(frozen=True)
class Scenario:
    """A kind of fault and the lines it is put on. each: how many a seed. start: of the simulation."""

    name: str
    write: Callable[[Scene], None]
    kinds: tuple[Kind, ...]
    each: int = 2
    rich: bool | None = None
    big: bool = False
    needs: tuple[str, ...] = ()
    start: str = "steady"
    family: str = ""
    minutes: float = 55.0
    """Simulated after the onset."""


TWIN: tuple[Kind, ...] = ("twin",)
FED: tuple[Kind, ...] = ("twin", "twin", "single_starved", "pvc")
WEIGHED: tuple[Kind, ...] = ("twin", "twin", "single_starved")
FULL: tuple[Kind, ...] = ("single", "twin_flooded")
PUMPED: tuple[Kind, ...] = ("single_pump",)
ANY: tuple[Kind, ...] = ("twin", "twin", "pvc", "single", "single_pump", "single_starved", "twin_flooded")
NO_PUMP: tuple[Kind, ...] = ("twin", "twin", "pvc", "single", "single_starved", "twin_flooded")
