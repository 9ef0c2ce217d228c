"""Many plants side by side: every number of a plant becomes an array whose last axis is the run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

Parameters = TypeVar("Parameters")
State = TypeVar("State")


def stack(items: Sequence[Parameters]) -> Parameters:
    """One parameter set of shape [..., run] from one set per run (all of one shape)."""
    first: Any = items[0]
    values: dict[str, Any] = {}
    for field in fields(first):
        parts = [getattr(item, field.name) for item in items]
        if is_dataclass(parts[0]):
            values[field.name] = stack(parts)
        else:
            values[field.name] = np.ascontiguousarray(np.stack([np.asarray(p, float) for p in parts], axis=-1))
    return type(first)(**values)


def join(states: Sequence[State]) -> State:
    """One state of shape [..., all runs] from states of shape [..., some runs], in step with one another.

    Raises ValueError where a number that all runs share (the slot of a delay line) differs between them.
    """
    first: Any = states[0]
    values: dict[str, Any] = {}
    for field in fields(first):
        parts = [getattr(state, field.name) for state in states]
        if is_dataclass(parts[0]):
            values[field.name] = join(parts)
        elif isinstance(parts[0], np.ndarray):
            values[field.name] = np.concatenate(parts, axis=-1)
        elif any(part != parts[0] for part in parts):
            raise ValueError(f"states are not in step: {field.name} is {sorted(set(parts))}")
        else:
            values[field.name] = parts[0]
    return type(first)(**values)


def row(state: State, run: int) -> State:
    """A copy of one run's part of a state, still with a run axis of length 1."""
    source: Any = state
    values: dict[str, Any] = {}
    for field in fields(source):
        part = getattr(source, field.name)
        if is_dataclass(part):
            values[field.name] = row(part, run)
        elif isinstance(part, np.ndarray):
            values[field.name] = np.array(part[..., run : run + 1])
        else:
            values[field.name] = part
    return type(source)(**values)
