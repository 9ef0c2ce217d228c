"""Where one fault acts on the plant, and how it sets what it moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sample_logs.plant import Plant
from sample_logs.upsets import Upsets


@dataclass(frozen=True)
class Hit:
    """Where one fault acts: the run, the index of its feeder or zone, its size now (0..severity), hours since it
    began, the plant, its full severity."""

    upset: Upsets
    run: int
    index: int
    size: float
    hours: float
    plant: Plant
    full: float

    def put(self, name: str, value: float) -> None:
        """Sets an upset of the run, or of its feeder or zone."""
        array = getattr(self.upset, name)
        if array.ndim == 2:
            array[self.index, self.run] = value
        else:
            array[self.run] = value

    @property
    def since_s(self) -> float:
        """Seconds since the fault began."""
        return self.hours * 3600.0

    @property
    def grown(self) -> float:
        """Part of the full severity reached, 0..1."""
        return self.size / self.full

    def put_all(self, name: str, value: float) -> None:
        """Sets an upset of all feeders or zones of the run."""
        getattr(self.upset, name)[:, self.run] = value

    def times(self, name: str, factor: float) -> None:
        """Multiplies an upset of the run."""
        getattr(self.upset, name)[self.run] *= factor

    def add(self, name: str, amount: float) -> None:
        """Adds to an upset of the run."""
        getattr(self.upset, name)[self.run] += amount


Effect = Callable[[Hit], None]


def puts(name: str, value: Callable[[float], float]) -> Effect:
    """Sets one upset to a function of the fault's size."""
    return lambda h: h.put(name, value(h.size))
