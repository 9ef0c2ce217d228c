"""One invented line: its numbers, what its log holds, and its line and recipe files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

Kind = Literal["twin-screw", "single-screw"]


@dataclass(frozen=True)
class Logger:
    """How the plant's logger spoils readings.

    resolution: per role, step of the shown number (0 = as it is). deadband: per role, change below which nothing
    is stored. longest_s: a reading is stored at least so often all the same.
    """

    resolution: dict[str, float]
    deadband: dict[str, float]
    longest_s: float = 300.0


@dataclass(frozen=True)
class Nominal:
    """What the recipe asks for: feeder_kg_h [feeder], zone_c [zone], speed_rpm."""

    feeder_kg_h: np.ndarray
    zone_c: np.ndarray
    speed_rpm: float


@dataclass(frozen=True)
class Plant:
    """A drawn plant. `parameters` and `settled` are TwinParameters/TwinState or their single-screw kin;
    `channels` are the keys in its log; `line` and `recipe` are dicts ready for TOML."""

    name: str
    kind: Kind
    plain: bool
    cadence_s: float
    zones: tuple[str, ...]
    zone_kinds: tuple[str, ...]
    elements: tuple[str, ...]
    feeders: tuple[str, ...]
    materials: tuple[str, ...]
    nominal: Nominal
    parameters: Any
    settled: Any
    channels: tuple[str, ...]
    logger: Logger
    facts: dict[str, Any]
    line: dict[str, Any]
    recipe: dict[str, Any]
