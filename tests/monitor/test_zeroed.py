"""Zeros of a controller that restarts are no readings; zeros of a line that stands are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ingest.block import BAD, FRESH
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.core import Monitor
from monitor.line import Line
from monitor.records import findings
from monitor.zeroed import Zeroed
from tests.monitor.conditions.told import TWIN, block_of, twin
from tests.monitor.scripted_world import TARGETS, scripted_line

KEYS = ("zone_temperature:Z1", "zone_temperature:Z2", "zone_output:Z1", "zone_output:Z2", "screw_speed", "torque")
INDEX = {key: row for row, key in enumerate(KEYS)}
NAN = float("nan")


def line_of(*keys: str) -> Line:
    """A line that logs these, in this order."""
    logged = {sensor.key: sensor for sensor in scripted_line().sensor}
    return scripted_line().model_copy(update={"sensor": tuple(logged[key] for key in keys)})


@pytest.mark.parametrize(
    ("reading", "blank"),
    [
        pytest.param((0, 0, 0, 0, 0, 0), KEYS, id="everything at once: nothing is known"),
        pytest.param((0, 0, 0, 0, 200, 50), KEYS[:4], id="the zone controller alone"),
        pytest.param((0, 0, 0, 0, 0, 50), KEYS[:5], id="and the drive with it"),
        pytest.param((0, 0, NAN, NAN, 200, 50), KEYS[:2], id="outputs are not logged in this cell"),
        pytest.param((0, 220, 100, 20, 200, 50), (), id="one broken couple"),
        pytest.param((0, 0, 100, 100, 200, 50), (), id="an input card fails: the outputs answer"),
        pytest.param((0, 0, 25, 30, 0, 0), (*KEYS[:2], *KEYS[4:]), id="outputs are written on, screw and load are not"),
        pytest.param((23, 22, 0, 0, 0, 0), (), id="a cold line that stands"),
        pytest.param((0, NAN, 0, 0, 0, 0), (), id="one zone alone proves nothing"),
    ],
)
def test_which_zeros_are_no_readings(reading: tuple[float, ...], blank: tuple[str, ...]) -> None:
    values = np.array([(220.0, 230.0, 20.0, 30.0, 200.0, 50.0), reading], float).T
    found = Zeroed(line_of(*KEYS)).of(values)
    assert {key for key in KEYS if found is not None and found[INDEX[key], 1]} == set(blank)
    assert found is None or not found[:, 0].any()


def test_a_line_without_two_zones_is_left_alone() -> None:
    assert Zeroed(line_of("zone_temperature:Z1", "torque")).of(np.zeros((2, 5))) is None


def test_a_zero_of_fahrenheit_is_a_zero() -> None:
    sensors = tuple(
        sensor.model_copy(update={"unit": "F"}) if sensor.role == "zone_temperature" else sensor
        for sensor in scripted_line().sensor
    )
    line = scripted_line().model_copy(update={"sensor": sensors})
    index = {key: row for row, key in enumerate(line.channels)}
    values = np.full((len(index), 3), 50.0)
    for key, row in index.items():
        values[row, 1] = -160 / 9 if key.startswith("zone_temperature") else 0.0

    found = Zeroed(line).of(values)
    assert found is not None and found[:, 1].all() and not found[:, [0, 2]].any()


def test_zeros_below_a_sensors_range_open_no_couple() -> None:
    """Marked as out of range by the reader, they are zeros all the same; a couple that opens alone is said. Zones that
    stand on their set-points, which are zeros too, look like copies of them: the others do not."""
    said = []
    for zones in (tuple(TARGETS), ("Z3",)):
        script = twin(2400)
        for zone in ("Z2", "Z3"):
            script.x[f"zone_temperature:{zone}"] += 1.0
        for key in script.x if len(zones) > 1 else [f"zone_temperature:{zone}" for zone in zones]:
            script.put(key, 1800, 1810, 0.0)
        block = block_of(script, TWIN)
        out = (block.values == 0.0) & np.array([[key.startswith("zone_temperature")] for key in block.channels])
        block = replace(block, status=np.where(out, FRESH | BAD, block.status).astype(np.uint8))
        monitor = Monitor(TWIN, [], conditions=[ThermocoupleOpen()])
        state, step = monitor.advance(monitor.start(), block)
        said.append(len(findings([*step.records, *monitor.finish(state)])))

    assert said == [0, 1]
