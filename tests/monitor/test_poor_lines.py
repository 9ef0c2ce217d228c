"""No line is too poor to be judged: any few of its channels, and nothing breaks."""

from __future__ import annotations

import random

import numpy as np
import pytest

from ingest.block import Block
from monitor.core import Monitor
from monitor.line import Line
from tests.monitor.worlds import WORLDS


@pytest.mark.parametrize("world", ["twin", "single"])
@pytest.mark.parametrize("seed", range(12))
def test_any_few_channels_are_judged_without_breaking(world: str, seed: int) -> None:
    made, rng = WORLDS[world](), random.Random(seed)
    roles = sorted({sensor.role for sensor in made.line.sensor})
    kept = set(rng.sample(roles, rng.randint(1, len(roles))))
    data = made.line.model_dump()
    rows = [row for row, sensor in enumerate(data["sensor"]) if sensor["role"] in kept]
    data["sensor"] = [data["sensor"][row] for row in rows]
    line = Line.model_validate(data)
    values, status = (np.ascontiguousarray(part[rows]) for part in (made.block.values, made.block.status))
    block = Block(made.block.t0, made.block.step, line.channels, values, status, made.block.notes)

    for recipes in (made.recipes, ()):
        monitor = Monitor(line, recipes)
        state, _ = monitor.advance(monitor.start(), block)
        monitor.finish(state)
