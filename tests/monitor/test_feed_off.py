"""Feeders that run out together were switched off, each at the pace of its filter; one alone has failed."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from monitor.contract import Context
from monitor.line import Line
from monitor.quantities import feed_off
from monitor.recipe import Recipe
from monitor.view import Readings

S = 1_000_000_000
CELLS, OFF = 60, 30
WANTED = {"F1": 50.0, "F2": 8.0, "F3": 0.5}
PACE_S = {"F1": 12.0, "F2": 45.0, "F3": 35.0}
"""Time constants of the filters the controllers report their rates through."""


def context() -> Context:
    sensors = [{"tag": f"q{f}", "role": "feeder_rate", "at": f} for f in WANTED]
    sensors += [{"tag": f"s{f}", "role": "feeder_setpoint", "at": f} for f in WANTED]
    sensors += [{"tag": f"d{f}", "role": "feeder_drive", "at": f} for f in WANTED]
    line = {"format": 1, "line": {"name": "L", "kind": "twin-screw"}, "zone": [{"name": "Z1"}],
            "feeder": [{"name": f} for f in WANTED], "sensor": sensors}  # fmt: skip
    recipe = {"format": 1, "recipe": {"name": "R", "feed": "starved", "rate_kg_h": 58.5, "screw_speed_rpm": 300}}
    return Context(Line.model_validate(line), Recipe.model_validate(recipe), None, 10.0)


def running_out(rate: float, pace_s: float, left: float = 0.0) -> NDArray[np.float64]:
    """A rate that runs out to a share `left` of itself from cell OFF on."""
    after = np.arange(1, CELLS - OFF + 1) * 10.0
    return np.append(np.full(OFF, rate), rate * (left + (1.0 - left) * np.exp(-after / pace_s)))


def off(rows: dict[str, NDArray[np.float64]], ctx: Context, cut: int = CELLS) -> list[bool]:
    rows = {**{f"feeder_setpoint:{f}": np.full(CELLS, w) for f, w in WANTED.items()}, **rows}
    index, values = {key: i for i, key in enumerate(rows)}, np.array(list(rows.values()))
    state, found = feed_off.start(ctx), []
    for part in (slice(0, cut), slice(cut, CELLS)):
        cells = values[:, part]
        now, state = feed_off.advance(state, Readings(part.start * 10 * S, 10 * S, index, cells, cells), ctx)
        found += now.tolist()
    return found


def all_out() -> dict[str, NDArray[np.float64]]:
    return {f"feeder_rate:{f}": running_out(w, PACE_S[f]) for f, w in WANTED.items()}


def test_all_that_run_out_are_off_within_twenty_seconds_and_stay_so() -> None:
    found = off(all_out(), context())
    assert not any(found[:OFF]) and all(found[OFF + 1 :])


@pytest.mark.parametrize("cut", [1, OFF - 1, OFF, OFF + 1, OFF + 3])
def test_it_is_the_same_in_two_blocks(cut: int) -> None:
    assert off(all_out(), context(), cut) == off(all_out(), context())


def test_one_that_runs_out_alone_has_failed() -> None:
    rows = {f"feeder_rate:{f}": np.full(CELLS, w) for f, w in WANTED.items()}
    assert not any(off({**rows, "feeder_rate:F1": all_out()["feeder_rate:F1"]}, context()))


def test_all_trimmed_to_half_still_feed() -> None:
    rows = {f"feeder_rate:{f}": running_out(w, PACE_S[f], left=0.5) for f, w in WANTED.items()}
    assert not any(off(rows, context()))


def test_a_drive_that_runs_has_not_been_switched_off() -> None:
    rows = all_out() | {f"feeder_drive:{f}": np.full(CELLS, 0.0) for f in ("F2", "F3")}
    assert not any(off({**rows, "feeder_drive:F1": np.full(CELLS, 98.0)}, context()))


def test_a_rate_that_is_a_copy_of_its_set_point_tells_nothing() -> None:
    rows = all_out() | {"feeder_rate:F2": np.full(CELLS, WANTED["F2"])}
    assert all(off(rows, context())[OFF + 1 :])
    rows["feeder_rate:F2"] = WANTED["F2"] * (1.0 + 0.002 * np.sin(np.arange(CELLS)))
    assert not any(off(rows, context()))
