"""A log without rates of the feeders: the scales tell whether all were switched off, or one has failed."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from monitor import phases
from monitor.contract import Context
from monitor.line import Line
from monitor.phase_names import PHASES
from monitor.recipe import Recipe
from monitor.view import Readings

S = 1_000_000_000
CELLS, OFF, ON = 240, 120, 160
WANTED = {"F1": 300.0, "F2": 60.0, "F3": 40.0}


def context(*extra: str) -> Context:
    sensors = [{"tag": "n", "role": "screw_speed"}]
    sensors += [{"tag": f"w{f}", "role": "feeder_weight", "at": f} for f in WANTED]
    sensors += [{"tag": f"s{f}", "role": "feeder_setpoint", "at": f} for f in WANTED]
    sensors += [{"tag": f"q{f}", "role": "feeder_rate", "at": f} for f in extra]
    line = {"format": 1, "line": {"name": "L", "kind": "twin-screw"}, "zone": [{"name": "Z1"}],
            "feeder": [{"name": f} for f in WANTED], "sensor": sensors}  # fmt: skip
    recipe = {"format": 1, "recipe": {"name": "R", "feed": "starved", "rate_kg_h": 400, "screw_speed_rpm": 300}}
    return Context(Line.model_validate(line), Recipe.model_validate(recipe), None, 10.0)


def hopper(rate: float, seed: int, stands: slice) -> NDArray[np.float64]:
    """Weight of a hopper, kg, with a scale's noise."""
    fed = np.full(CELLS, rate / 360.0)
    fed[stands] = 0.0
    return 200.0 - np.cumsum(fed) + np.random.default_rng(seed).normal(0.0, 0.01, CELLS)


def run(ctx: Context, stands: dict[str, slice], cut: int = CELLS) -> list[str]:
    """Phases of a run whose feeders stand still for a while each; cut: block border."""
    rows = {"screw_speed": np.full(CELLS, 300.0)}
    for seed, (feeder, rate) in enumerate(WANTED.items()):
        rows[f"feeder_weight:{feeder}"] = hopper(rate, seed, stands.get(feeder, slice(0)))
        rows[f"feeder_setpoint:{feeder}"] = np.full(CELLS, rate)
    index, values = {key: i for i, key in enumerate(rows)}, np.array(list(rows.values()))
    state, names = phases.start(ctx), []
    for part in (slice(0, cut), slice(cut, CELLS)):
        state, found = phases.advance(
            state, Readings(part.start * 10 * S, 10 * S, index, values[:, part], values[:, part]), ctx
        )
        names += [PHASES[code] for code in found.phase]
    return names


def test_all_that_stand_still_were_switched_off() -> None:
    names = run(context(), dict.fromkeys(WANTED, slice(OFF, ON)))
    assert set(names[OFF - 60 : OFF]) == {"steady"}
    assert set(names[OFF + 2 : ON]) == {"stopping", "idle"}
    assert not {"stopping", "idle"} & set(names[ON + 1 :])


@pytest.mark.parametrize("feeder", WANTED)
def test_one_that_stands_alone_has_failed(feeder: str) -> None:
    assert set(run(context(), {feeder: slice(OFF, ON)})[60:]) == {"steady"}


def test_one_that_is_filled_meanwhile_does_not_hide_it() -> None:
    ctx = context()
    stands = dict.fromkeys(WANTED, slice(OFF, ON))
    rows = {f"feeder_weight:{f}": hopper(rate, i, stands[f]) for i, (f, rate) in enumerate(WANTED.items())}
    rows["feeder_weight:F2"][OFF : OFF + 10] += np.linspace(0.0, 40.0, 10)
    rows["feeder_weight:F2"][OFF + 10 :] += 40.0
    rows |= {f"feeder_setpoint:{f}": np.full(CELLS, rate) for f, rate in WANTED.items()}
    rows["screw_speed"] = np.full(CELLS, 300.0)
    values = np.array(list(rows.values()))
    readings = Readings(0, 10 * S, {key: i for i, key in enumerate(rows)}, values, values)
    _, found = phases.advance(phases.start(ctx), readings, ctx)
    assert {PHASES[code] for code in found.phase[OFF + 2 : ON]} == {"stopping", "idle"}


@pytest.mark.parametrize("cut", [1, OFF - 1, OFF + 1, OFF + 2, ON])
def test_it_is_the_same_in_two_blocks(cut: int) -> None:
    stands = dict.fromkeys(WANTED, slice(OFF, ON))
    assert run(context(), stands, cut) == run(context(), stands)


def test_rates_in_the_log_go_before_weights() -> None:
    assert set(run(context("F1"), dict.fromkeys(WANTED, slice(OFF, ON)))[60:]) == {"steady"}
