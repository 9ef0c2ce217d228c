"""A derived quantity: computed once per 10 s cell, however many conditions ask for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.contract import Context, State
from monitor.exact import Floats
from monitor.quantities.asked_rate import Asked
from monitor.view import Readings


@dataclass(frozen=True)
class Inputs:
    """What a quantity is made of: readings of the cells, what is asked of the feeders, the quantities it asked for."""

    readings: Readings
    made: Mapping[str, Floats]
    phase: NDArray[np.int8]
    asked: Asked
    ctx: Context

    def __getitem__(self, name: str) -> Floats:
        return self.made[name]


def _no_state(_: Context) -> State:
    return {}


@dataclass(frozen=True)
class Quantity:
    """name, unit: as shown. needs: other quantities. roles: roles of which the line must log at least one each.

    cells: (state, inputs) -> (state, [n]). possible: whether this line can give it at all.
    """

    name: str
    unit: str
    meaning: str
    cells: Callable[[State, Inputs], tuple[State, Floats]]
    needs: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()
    start: Callable[[Context], State] = _no_state
    possible: Callable[[Context], bool] = field(default=lambda ctx: True)


def pointwise(function: Callable[[Inputs], Any]) -> Callable[[State, Inputs], tuple[State, Floats]]:
    """A quantity without memory: each cell from the same cell of its inputs."""
    return lambda state, inputs: (state, np.asarray(function(inputs), dtype=float))
