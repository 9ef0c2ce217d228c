"""What a nuisance is: something everyday that deserves no finding, with the words a process engineer has for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sample_logs.plant import Kind, Plant
from sample_logs.scenario import Event

BOTH: tuple[Kind, ...] = ("twin-screw", "single-screw")
TWIN: tuple[Kind, ...] = ("twin-screw",)
Draw = Callable[[np.random.Generator, Plant, float], tuple[Event, ...]]
Log = Callable[[np.random.Generator, Plant], Plant]


def no_events(rng: np.random.Generator, plant: Plant, at_s: float) -> tuple[Event, ...]:
    """Nothing happens."""
    return ()


@dataclass(frozen=True)
class Nuisance:
    """name; words: what it is called. lasts_s: time to leave to it. draw: its events when it begins at a time.
    log: what it makes of the plant's log, for those that sit in the logger. stops: whether the line stops for it.
    """

    name: str
    words: str
    lasts_s: float
    draw: Draw = no_events
    log: Log | None = None
    lines: tuple[Kind, ...] = BOTH
    stops: bool = False


def held(name: str, value: float, at_s: float, lasts_s: float) -> Event:
    """An upset that stands at a value for a time."""
    return Event(at_s, "upset", name, value, lasts_s)


def remark(at_s: float, text: str) -> Event:
    """A note written by the operator."""
    return Event(at_s, "note", "remark", text=text)
