"""Drawn flood-fed single screws: starved, restricted and a stiffer lot are told apart; hundreds of runs.

Metering section and die share the melt: a starved screw gives less at every pressure, a restriction raises pressure
and takes a little of the output, viscosity moves pressure and torque together and leaves the output.
All parameters are drawn from ranges of common practice, no source; the model knows nothing of any threshold.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from monitor.conditions.restricted import Restricted
from monitor.conditions.starved import Starved
from monitor.conditions.viscous_lot import ViscousLot
from tests.monitor.conditions.screw_model import mixed
from tests.monitor.conditions.told import SINGLE, single, told, without
from tests.monitor.scripted_world import Script

LOG_S, FROM, TO, DRAWS = 3000, 1500, 2400, 40
ALL = (Starved(), Restricted(), ViscousLot())
Draw = Callable[[np.random.Generator], tuple[float, float, float, float]]
"""Ratios of torque, pressure and rate, and degrees of melt temperature."""


def starved(rng: np.random.Generator) -> tuple[float, float, float, float]:
    """Output falls; pressure with its power n, torque nearly with it."""
    rate, n = rng.uniform(0.45, 0.8), rng.uniform(0.3, 0.6)
    return rate ** rng.uniform(0.75, 1.0), rate**n, rate, rng.uniform(-2, 4)


def restricted(rng: np.random.Generator) -> tuple[float, float, float, float]:
    """Pressure up by 20 to 60 %; output falls by a twentieth to a fifth of that, torque hardly moves."""
    up = rng.uniform(1.2, 1.6)
    return 1 + rng.uniform(0.0, 0.15) * (up - 1), up, 1 - rng.uniform(0.02, 0.2) * (up - 1), rng.uniform(0, 5)


def stiffer(rng: np.random.Generator) -> tuple[float, float, float, float]:
    """Viscosity up by 15 to 40 %: pressure with it, net torque with its power 0.7 to 1, output holds."""
    up = rng.uniform(1.15, 1.4)
    return up ** rng.uniform(0.7, 1.0), up, rng.uniform(0.99, 1.01), rng.uniform(-1, 3)


def thinner(rng: np.random.Generator) -> tuple[float, float, float, float]:
    """The other way round: that is no starving."""
    down = rng.uniform(0.7, 0.95)
    return down ** rng.uniform(0.7, 1.0), down, rng.uniform(0.99, 1.01), rng.uniform(-1, 5)


def run(draw: Draw, seed: int) -> Script:
    rng = np.random.default_rng([seed, *draw.__name__.encode()])
    torque, pressure, rate, melt_c = draw(rng)
    s = single(LOG_S, seed)
    over, lag = rng.uniform(1, 60), rng.uniform(5, 40)
    shape = np.interp(np.arange(s.n), [FROM, FROM + over, TO, TO + over], [0.0, 1.0, 1.0, 0.0])
    slow = mixed(shape, lag)
    net = (s.x["torque"] - 8) * (1 + (torque - 1) * slow)
    s.x["torque"] = net + 8
    s.x["melt_pressure:P1"] *= 1 + (pressure - 1) * slow
    s.x["line_rate"] *= 1 + (rate - 1) * slow
    s.x["melt_temperature:MT1"] += melt_c * mixed(shape, 300)
    return s


@pytest.mark.parametrize("measured", [True, False], ids=["rate measured", "not measured"])
@pytest.mark.parametrize(
    ("draw", "condition"),
    [(starved, "starved"), (restricted, "restricted"), (stiffer, "viscous_lot"), (thinner, "")],
    ids=["starved", "restricted", "stiffer", "thinner"],
)
def test_each_is_called_by_its_name(draw: Draw, condition: str, measured: bool) -> None:
    line = SINGLE if measured else without(SINGLE, "line_rate")
    right = 0
    for seed in range(DRAWS):
        found = {f.last.condition for f in told(run(draw, seed), *ALL, line=line)}
        assert found <= {condition}, (seed, found)
        right += bool(found)
    assert not condition or right >= 0.9 * DRAWS, right
