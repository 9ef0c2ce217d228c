"""What a cold or stopped machine shows about its sensors."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.sensor_checks import sensor_checks
from ingest.block import FRESH, Block
from monitor.line import Line

SECOND = 1_000_000_000
HOUR = 3600 * SECOND
RUNS_AT = HOUR + 120 * SECOND


def stopped(couples: list[float], pressure: float, hours: float, then_bar: float | None = None) -> MemoryData:
    """then_bar: what the pressure reads from an hour and two minutes on, when the line runs again."""
    zones = [f"Z{i + 1}" for i in range(len(couples))]
    line = Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw", "cadence_s": 10},
            "zone": [{"name": z} for z in zones],
            "sensor": [{"tag": z, "role": "zone_temperature", "at": z} for z in zones]
            + [{"tag": "p", "role": "melt_pressure", "at": "P1"}],
        }
    )
    n = int(hours * 360)
    values = np.repeat(np.array([*couples, pressure])[:, None], n, axis=1)
    phases = [(0, n * 10 * SECOND, "stopped")]
    if then_bar is not None:
        values[-1, RUNS_AT // (10 * SECOND) :] = then_bar
        phases = [(0, RUNS_AT, "stopped"), (RUNS_AT, n * 10 * SECOND, "steady")]
    block = Block(0, 10 * SECOND, line.channels, values, np.full(values.shape, FRESH, np.uint8))
    return MemoryData([MemoryLine(line, [], block, phases)], clock=lambda: block.end)


def keys(data: MemoryData) -> list[tuple[str, float]]:
    return [(c.key, pytest.approx(c.off)) for c in sensor_checks(data, "L", *data.span("L"))]


def test_the_odd_couple_of_a_cold_machine() -> None:
    assert keys(stopped([21, 22, 30, 21.5], 0.4, 12)) == [("zone_temperature:Z3", 8.25)]


def test_a_warm_machine_says_nothing_of_couples() -> None:
    assert keys(stopped([121, 122, 150, 121], 0.4, 12)) == []


def test_a_short_stop_says_nothing_of_couples_but_of_zero() -> None:
    assert keys(stopped([21, 22, 40, 21], 6.0, 1)) == [("melt_pressure:P1", 6.0)]


def test_all_well_is_quiet() -> None:
    assert keys(stopped([21, 22, 23, 21], 1.5, 12)) == []


def test_what_comes_when_the_line_starts_again_is_no_zero_off() -> None:
    """The stop ends two minutes into a cell of five; then 80 bar."""
    assert keys(stopped([21, 22, 23, 21], 0.4, 2, then_bar=80.0)) == []
    assert keys(stopped([21, 22, 23, 21], 6.0, 2, then_bar=80.0)) == [("melt_pressure:P1", 6.0)]
