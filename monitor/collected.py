"""What the pieces of one block have given, until they are put together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from monitor.arming import Armed
from monitor.episodes import Turn
from monitor.exact import Floats


@dataclass
class Collected:
    """What the pieces of one block have given so far."""

    turns: list[tuple[Armed, Turn, str, str]] = field(default_factory=list)
    phase: list[NDArray[np.int8]] = field(default_factory=list)
    quantities: list[tuple[NDArray[np.int64], Mapping[str, Floats]]] = field(default_factory=list)

    blind: dict[tuple[str, str, str], float] = field(default_factory=dict)

    def add_blind(self, what: tuple[str, str, str], seconds: float) -> None:
        """Seconds in which a condition could not judge a subject of its own."""
        self.blind[what] = self.blind.get(what, 0.0) + seconds

    def joined(self) -> dict[str, tuple[NDArray[np.int64], Floats]]:
        """Quantities of all pieces, one pair of arrays each."""
        if not self.quantities:
            return {}
        times = np.concatenate([t for t, _ in self.quantities])
        return {
            name: (times, np.concatenate([values[name] for _, values in self.quantities]))
            for name in self.quantities[0][1]
        }
