"""A case with its truth, as it stands before the log is judged."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.benchmarks.third_plant.answers import ANSWERS, Answer
from tests.benchmarks.third_plant.knobs import Change
from tests.benchmarks.third_plant.line_files import Product
from tests.benchmarks.third_plant.machine import Machine

TAIL_MIN = 10.0
"""A finding may still come this much after the fault has gone."""


@dataclass(frozen=True)
class Truth:
    """One fault. at: zones, feeders or sensors that are its own. known_min: when the log could first show it, else NaN.

    given_min: when it can be known, where that follows from a rule of the trade and not from a change in the log.
    """

    fault: str
    at: tuple[str, ...]
    start_min: float
    end_min: float
    known_min: float = float("nan")
    given_min: float = float("nan")

    @property
    def answer(self) -> Answer:
        """What is right for it."""
        return ANSWERS[self.fault]


@dataclass
class Case:
    """One log. life: what goes on anyway. faulty: what faults do, with the number of the truth.

    allowed: findings that what was done deserves.
    recorder: what the recorder does: gap, zeros, spikes. family: for the table, 'clean' without a fault.
    """

    case: str
    machine: Machine
    seed: int
    minutes: float
    start: str
    size: str
    family: str
    life: list[Change] = field(default_factory=list)
    faulty: list[tuple[int, Change]] = field(default_factory=list)
    truths: list[Truth] = field(default_factory=list)
    allowed: set[str] = field(default_factory=set)
    recorder: tuple[str, ...] = ()
    product: Product | None = None
    story: list[str] = field(default_factory=list)
