"""Quantities in an order in which each finds what it needs already made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter

import numpy as np
from numpy.typing import NDArray

from monitor.contract import Context, State
from monitor.exact import Floats
from monitor.quantities.asked_rate import Asked
from monitor.quantities.per_feeder import per_feeder
from monitor.quantities.quantity import Inputs, Quantity
from monitor.quantities.registry import QUANTITIES
from monitor.view import Readings


@dataclass(frozen=True)
class Plan:
    """The quantities this line can give, each after those it needs."""

    ordered: tuple[Quantity, ...]

    @property
    def names(self) -> frozenset[str]:
        """Names of all quantities of the plan."""
        return frozenset(quantity.name for quantity in self.ordered)

    def start(self, ctx: Context) -> State:
        """State of every quantity before the first cell."""
        return {quantity.name: quantity.start(ctx) for quantity in self.ordered}

    def advance(
        self, state: State, readings: Readings, phase: NDArray[np.int8], asked: Asked, ctx: Context
    ) -> tuple[State, Mapping[str, Floats]]:
        """Each quantity for each cell, computed once."""
        made: dict[str, Floats] = {}
        after = dict(state)
        for quantity in self.ordered:
            after[quantity.name], made[quantity.name] = quantity.cells(
                state[quantity.name], Inputs(readings, made, phase, asked, ctx)
            )
        return after, made


def plan(ctx: Context) -> Plan:
    """Every quantity that the line file's channels and geometry allow."""
    wanted = {q.name: q for q in (*QUANTITIES, *per_feeder(ctx))}
    possible = {name: q for name, q in wanted.items() if q.possible(ctx) and all(ctx.has(role) for role in q.roles)}
    order = TopologicalSorter({name: q.needs for name, q in possible.items()}).static_order()
    ready: dict[str, Quantity] = {}
    for name in order:
        quantity = possible.get(name)
        if quantity is not None and all(need in ready for need in quantity.needs):
            ready[name] = quantity
    return Plan(tuple(ready.values()))
