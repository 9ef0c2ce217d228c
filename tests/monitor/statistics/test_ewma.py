"""EWMA chart.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.4 (data, z and limits); the variance for
autocorrelated readings follows W. Schmid (1997), here against the double sum it abbreviates and by
simulation.
"""

import functools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from monitor.statistics.ewma import ewma, ewma_limits, start_up_variance_factors, variance_factor

NIST_X = np.array([
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
])  # fmt: skip
NIST_Z = np.array([
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
])  # fmt: skip
nist_limits = functools.partial(ewma_limits, target=50.0, sigma=2.0539, weight=0.3, width=3.0)


def test_nist_averages() -> None:
    assert ewma(NIST_X, 0.3, 50.0) == pytest.approx(NIST_Z, abs=0.005)


def test_nist_limits_and_no_signal() -> None:
    limits = nist_limits()

    # NIST rounds the factor to 0.4201, which moves its limits by 1e-4: printed 52.5884 and 47.4115.
    assert limits.upper == pytest.approx(52.5884, abs=1e-4)
    assert limits.lower == pytest.approx(47.4115, abs=1e-4)
    assert limits.upper == pytest.approx(52.588431738, abs=5e-10)
    averages = ewma(NIST_X, 0.3, 50.0)
    assert ((averages > limits.lower) & (averages < limits.upper)).all()


def test_nist_chart_does_not_signal_against_start_up_limits_either() -> None:
    limits = nist_limits(start_up_readings=20)
    upper = np.asarray(limits.upper)
    averages = ewma(NIST_X, 0.3, 50.0)

    printed = {1: 51.8485, 2: 52.2564, 3: 52.4314, 5: 52.5516, 10: 52.5874, 20: 52.5884}
    assert {t: round(float(upper[t - 1]), 4) for t in printed} == printed
    assert ((averages > limits.lower) & (averages < limits.upper)).all()


weights = st.floats(0.01, 1)
lags = st.floats(-0.95, 0.99)


@given(weights, st.integers(1, 60))
def test_start_up_of_independent_readings(weight: float, readings: int) -> None:
    t = np.arange(1, readings + 1)

    closed_form = weight / (2 - weight) * (1 - (1 - weight) ** (2 * t))

    assert start_up_variance_factors(weight, readings) == pytest.approx(closed_form, rel=1e-9)


@given(weights, lags, st.integers(1, 40))
def test_start_up_against_the_double_sum(weight: float, lag1: float, readings: int) -> None:
    """Var z = weight^2 sum over i, j of (1 - weight)^(i + j) lag1^|i - j|, i and j from 0 to t - 1."""
    i = np.arange(readings)
    kept = np.power(1 - weight, i)
    double_sum = weight**2 * kept @ np.power(lag1, np.abs(i - i[:, np.newaxis])) @ kept

    assert start_up_variance_factors(weight, readings, lag1)[-1] == pytest.approx(double_sum, rel=1e-9)


@given(st.floats(0.05, 1), lags)
def test_start_up_ends_at_the_settled_variance(weight: float, lag1: float) -> None:
    assert start_up_variance_factors(weight, 4000, lag1)[-1] == pytest.approx(variance_factor(weight, lag1))


@pytest.mark.parametrize(("weight", "lag1"), [(0.2, 0.5), (0.05, 0.9)])
def test_settled_variance_by_simulation(weight: float, lag1: float) -> None:
    """800 settled series of 250 z: the standard error of their variance is below 2 %; 4 % allowed."""
    generator = np.random.default_rng(21)
    fresh = generator.standard_normal((800, 900)) * np.sqrt(1 - lag1**2)
    readings = lfilter([1.0], [1.0, -lag1], fresh, axis=1)
    averages = np.asarray(lfilter([weight], [1.0, weight - 1], readings, axis=1))[:, 650:]

    assert averages.var() == pytest.approx(variance_factor(weight, lag1), rel=0.04)


@given(st.lists(st.floats(-1e3, 1e3) | st.just(np.nan), min_size=1, max_size=40), st.integers(0, 40), weights)
def test_same_bits_wherever_the_series_is_cut(values: list[float], cut: int, weight: float) -> None:
    series = np.array(values)
    whole = ewma(series, weight, 5.0)

    first = ewma(series[:cut], weight, 5.0)
    second = ewma(series[cut:], weight, float(first[-1]) if first.size else 5.0)

    assert np.array_equal(np.concatenate([first, second]), whole)


def test_many_series_at_once_are_as_each_alone_and_gaps_hold() -> None:
    series = np.random.default_rng(1).normal(size=(3, 30))
    series[1, 4:9] = np.nan
    together = ewma(series, 0.2, np.array([0.0, 1.0, 2.0]))

    for row, start in enumerate([0.0, 1.0, 2.0]):
        assert np.array_equal(together[row], ewma(series[row], 0.2, start))
    assert (together[1, 4:9] == together[1, 3]).all()


@pytest.mark.parametrize("weight", [0.0, -0.1, 1.1])
def test_weight_outside_its_bounds(weight: float) -> None:
    with pytest.raises(ValueError, match=rf"EWMA weight must be in \(0, 1\] \(got {weight}\)"):
        ewma(NIST_X, weight, 50.0)


def test_lag1_outside_its_bounds() -> None:
    with pytest.raises(ValueError, match="lag-1 autocorrelation must be inside"):
        variance_factor(0.2, 1.0)
