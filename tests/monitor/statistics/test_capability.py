"""Capability indices.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods 6.1.6 (inputs from memory, answers reproduced);
piston rings of D. C. Montgomery, Introduction to Statistical Quality Control, with limits of the mean and
range chart.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.statistics.capability import capability
from monitor.statistics.shewhart_constants import shewhart_constants


def test_nist_example() -> None:
    indices = capability(mean=16.0, sigma=2.0, lower=8.0, upper=20.0)

    assert indices.cp == pytest.approx(1.0)
    assert indices.cpu == pytest.approx(0.6667, abs=0.00005)
    assert indices.cpl == pytest.approx(1.3333, abs=0.00005)
    assert indices.cpk == indices.cpu
    assert indices.cpm == pytest.approx(0.7071, abs=0.00005)
    assert indices.off_centre == pytest.approx(0.3333, abs=0.00005)


def test_piston_rings() -> None:
    """Mean 74.00118, mean range 0.02276, samples of five, limits 73.95 and 74.05."""
    constants = shewhart_constants(5)
    indices = capability(mean=74.00118, sigma=0.02276 / constants.d2, lower=73.95, upper=74.05)

    assert indices.cp == pytest.approx(1.70, abs=0.005)
    assert indices.cpk == pytest.approx(1.66, abs=0.005)
    assert 74.00118 + constants.a2 * 0.02276 == pytest.approx(74.0143, abs=0.00005)
    assert 74.00118 - constants.a2 * 0.02276 == pytest.approx(73.98805, abs=0.000005)
    # The book's 0.04812 comes from three-figure d2 and d3; the exact factor gives 0.048126.
    rounded_d4 = 1 + 3 * 0.864 / 2.326
    assert rounded_d4 * 0.02276 == pytest.approx(0.04812, abs=0.000005)
    assert constants.d4_upper * 0.02276 == pytest.approx(0.048126, abs=0.0000005)


@given(st.floats(-0.99, 0.99), st.floats(0.01, 100))
def test_identities(off_centre: float, sigma: float) -> None:
    """Cpk = Cp (1 - k), and Cp, Cpm agree on target."""
    indices = capability(mean=off_centre, sigma=sigma, lower=-1.0, upper=1.0)

    assert indices.cpk == pytest.approx(indices.cp * (1 - indices.off_centre), rel=1e-9)
    on_target = capability(mean=off_centre, sigma=sigma, lower=-1.0, upper=1.0, target=off_centre)
    assert on_target.cpm == pytest.approx(indices.cp)


@pytest.mark.parametrize("sigma", [0.0, -1.0, math.nan])
def test_no_spread_no_index(sigma: float) -> None:
    with pytest.raises(ValueError, match="sigma must be > 0"):
        capability(mean=0.0, sigma=sigma, lower=-1.0, upper=1.0)


def test_swapped_limits() -> None:
    with pytest.raises(ValueError, match=r"lower limit 1.0 must be below upper limit -1.0"):
        capability(mean=0.0, sigma=1.0, lower=1.0, upper=-1.0)
