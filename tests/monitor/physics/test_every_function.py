"""What holds for the physics as a whole: an element depends on nothing but its own inputs."""

import inspect
from collections.abc import Callable

import numpy as np
import pytest

from monitor.physics import (
    energy,
    fill_and_residence,
    melt_pressure,
    residence_lag,
    single_screw,
    twin_screw,
)

MODULES = (energy, fill_and_residence, melt_pressure, residence_lag, single_screw, twin_screw)
FUNCTIONS = [
    function
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
]
CELLS = 257


def _inputs(function: Callable) -> dict[str, np.ndarray]:
    """Plausible cells for every argument, with a few gaps; a root diameter inside its outer one."""
    generator = np.random.default_rng(17)
    inputs = {}
    for name in inspect.signature(function).parameters:
        low, high = {"outer_mm": (60, 70), "root_mm": (35, 45), "torque_pct": (10, 90)}.get(name, (0.5, 30))
        inputs[name] = generator.uniform(low, high, CELLS)
        inputs[name][generator.integers(0, CELLS, 3)] = np.nan
    inputs.pop("starts", None)
    return inputs


def _outputs(function: Callable, inputs: dict[str, np.ndarray]) -> list[np.ndarray]:
    if function is residence_lag.plug_flow_and_mixing_s:
        result = function(inputs["mean_residence_s"])
    else:
        result = function(**inputs)
    if isinstance(result, single_screw.OperatingPoint):
        result = (result.pressure_pa, result.flow_m3_s)
    return [np.asarray(array) for array in (result if isinstance(result, tuple) else (result,))]


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_blocks_may_be_cut_anywhere(function: Callable) -> None:
    """Equal to the bit, whole or in pieces: or the record of a live line differs from that of a re-run."""
    inputs = _inputs(function)
    whole = _outputs(function, inputs)

    for first, last in [(0, 1), (1, 8), (8, 8), (8, 100), (100, CELLS)]:
        piece = _outputs(function, {name: cells[first:last] for name, cells in inputs.items()})
        for full, cut in zip(whole, piece, strict=True):
            assert np.array_equal(full[first:last], cut, equal_nan=True)


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_a_gap_in_any_input_is_a_gap_in_the_result(function: Callable) -> None:
    inputs = _inputs(function)
    gaps = np.zeros(CELLS, dtype=bool)
    for cells in inputs.values():
        gaps |= np.isnan(cells)
    results = _outputs(function, inputs)

    # Where there are two results, each may leave an input out.
    unknown = np.logical_or.reduce([np.isnan(result) for result in results])
    assert unknown[gaps].all()
