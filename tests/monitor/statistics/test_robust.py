"""Median, MAD and quantiles.

Source of the percentile: NIST/SEMATECH e-Handbook of Statistical Methods 7.2.6.2, twelve wafer measurements.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, norm

from monitor.statistics.robust import MAD_TO_SIGMA, QuantileDefinition, mad_sigma, median, quantile

WAFERS = np.array(
    [
        95.1772,
        95.1567,
        95.1937,
        95.1959,
        95.1442,
        95.0610,
        95.1591,
        95.1195,
        95.1065,
        95.0925,
        95.1990,
        95.1682,
    ]
)


@pytest.mark.parametrize(("definition", "printed"), [("R6", 95.1981), ("R7", 95.1957), ("R8", 95.1972)])
def test_nist_90th_percentile(definition: QuantileDefinition, printed: float) -> None:
    assert quantile(WAFERS, 0.9, definition) == pytest.approx(printed, abs=0.00005)


def test_mad_constant() -> None:
    assert pytest.approx(1 / norm.ppf(0.75), rel=1e-15) == MAD_TO_SIGMA


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40))
def test_mad_agrees_with_scipy(values: list[float]) -> None:
    assert mad_sigma(np.array(values)) == pytest.approx(median_abs_deviation(values) * MAD_TO_SIGMA)


def test_sigma_of_a_normal_sample() -> None:
    """40,000 readings: standard error of the MAD's sigma is 0.58 %."""
    sample = np.random.default_rng(61).normal(5.0, 2.0, 40_000)

    assert mad_sigma(sample) == pytest.approx(2.0, rel=0.018)


@given(st.lists(st.floats(-10, 10), min_size=9, max_size=30), st.floats(1e3, 1e9))
def test_a_third_of_wild_readings_moves_neither_far(values: list[float], wild: float) -> None:
    spoiled = np.concatenate([values, np.full(len(values) // 3, wild)])

    assert -10 <= median(spoiled) <= 10
    assert mad_sigma(spoiled) <= 20 * MAD_TO_SIGMA


def test_gaps_are_skipped() -> None:
    gappy = np.array([3.0, math.nan, 1.0, 2.0])

    assert (median(gappy), quantile(gappy, 0.5)) == (2.0, 2.0)
    assert mad_sigma(gappy) == pytest.approx(MAD_TO_SIGMA)
    assert all(math.isnan(f(np.array([math.nan]))) for f in (median, mad_sigma))
    assert math.isnan(quantile(np.array([]), 0.5))
