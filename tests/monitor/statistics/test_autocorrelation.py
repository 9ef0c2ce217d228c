"""Autocorrelation. Certified lag-1 values of NIST StRD are checked in test_moments, beside mean and sd.

The bias -(1 + 4 phi)/n: M. G. Kendall, Biometrika 41, 403 (1954); F. H. C. Marriott & J. A. Pope,
Biometrika 41, 390 (1954); from memory, and confirmed here by simulation.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from monitor.statistics.autocorrelation import (
    autocorrelation,
    integral_time,
    lag1,
    lag1_corrected,
    lag1_for_design,
)


def autoregression(phi: float, series: int, n: int, seed: int) -> np.ndarray:
    fresh = np.random.default_rng(seed).standard_normal((series, n + 400))
    return np.asarray(lfilter([1.0], [1.0, -phi], fresh, axis=1))[:, 400:]


@pytest.mark.parametrize(("phi", "n"), [(0.0, 30), (0.5, 30), (0.5, 60), (0.8, 200)])
def test_bias_on_short_series(phi: float, n: int) -> None:
    """4000 series: standard error about 0.0025 at n 30; second-order bias below 0.004."""
    measured = [lag1(series) for series in autoregression(phi, 4000, n, seed=51)]

    assert np.mean(measured) - phi == pytest.approx(-(1 + 4 * phi) / n, abs=0.009)


@pytest.mark.parametrize(("phi", "n", "left"), [(0.0, 60, 0.008), (0.5, 60, 0.008), (0.9, 60, 0.02), (0.9, 200, 0.008)])
def test_the_correction_takes_it_out(phi: float, n: int, left: float) -> None:
    corrected = [lag1_corrected(series) for series in autoregression(phi, 3000, n, seed=52)]

    assert np.mean(corrected) == pytest.approx(phi, abs=left)


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_integral_time_of_an_autoregression(phi: float) -> None:
    """(1 + phi)/(1 - phi).

    The variance of the estimate over its square is 2 (2 W + 1)/n, W the window (Sokal 1997). Allowed are
    three standard errors of 40 series of 4000 readings, and 3 % that the floor of 1 adds at phi 0.
    """
    exact = (1 + phi) / (1 - phi)
    times = [integral_time(series) for series in autoregression(phi, 40, 4000, seed=53)]

    allowed = 3 * math.sqrt(2 * (2 * 5 * exact + 1) / 4000 / 40) + 0.03
    assert np.mean(times) == pytest.approx(exact, rel=allowed)


def test_integral_time_says_how_well_a_mean_is_known() -> None:
    series = autoregression(0.8, 400, 1000, seed=54)

    variance_of_mean = series.mean(axis=1).var()

    assert variance_of_mean == pytest.approx(
        series.var() * np.mean([integral_time(s) for s in series[:40]]) / 1000, rel=0.2
    )


def test_design_value_sees_the_wave_behind_the_noise() -> None:
    wave = autoregression(0.95, 1, 5000, seed=55)[0] * math.sqrt(1 - 0.95**2)
    noisy = wave + np.random.default_rng(56).standard_normal(5000)

    assert lag1(noisy) == pytest.approx(0.475, abs=0.05)
    # Integral time 1 + 2 * 0.5 * 0.95/0.05 = 20, that of phi = 19/21.
    assert lag1_for_design(noisy) == pytest.approx(19 / 21, abs=0.03)


def test_design_value_is_never_negative() -> None:
    assert lag1_for_design(np.tile([1.0, -1.0], 50)) == 0


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=40), st.integers(1, 5))
def test_within_one_and_unmoved_by_scale_and_offset(values: list[float], lag: int) -> None:
    series = np.array(values)
    r = autocorrelation(series, lag)

    if series.std() > 1e-3:
        assert lag >= series.size or abs(r) <= 1 + 1e-9
        assert autocorrelation(3 * series + 7, lag) == pytest.approx(r, abs=1e-6, nan_ok=True)


def test_gaps_are_left_out_and_not_taken_for_zero() -> None:
    full = autoregression(0.9, 1, 4000, seed=57)[0]
    gappy = full.copy()
    gappy[np.random.default_rng(58).random(4000) < 0.3] = math.nan

    assert lag1(gappy) == pytest.approx(lag1(full), abs=0.02)


def test_nothing_to_tell() -> None:
    assert math.isnan(lag1(np.full(10, 3.0)))
    assert math.isnan(lag1(np.array([])))
    assert math.isnan(integral_time(np.full(10, 3.0)))
    assert math.isnan(lag1_corrected(np.arange(9.0)))
    assert math.isnan(lag1_for_design(np.full(100, 3.0)))
