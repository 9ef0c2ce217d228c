"""Limits for readings that resemble each other, held against plain simulation.

The designs promise the wanted run length to about 5 %. 3000 simulated runs have a standard error of 1.8 %,
and run lengths spread about like an exponential; the checks allow 5 % and two standard errors, 8.6 %.
"""

import functools
import math

import numpy as np
import pytest
from scipy.signal import lfilter

from monitor.statistics.autocorrelated_design import design_cusum_autocorrelated, design_ewma_autocorrelated
from monitor.statistics.autocorrelation import lag1_for_design
from monitor.statistics.ewma import variance_factor
from monitor.statistics.run_length import arl_cusum, arl_ewma, design_cusum, design_ewma
from monitor.statistics.run_length_simulation import simulate_cusum, simulate_ewma

ALLOWED = 0.05 + 2 / math.sqrt(3000)
simulated_ewma = functools.partial(simulate_ewma, runs=3000, seed=78)
simulated_cusum = functools.partial(simulate_cusum, runs=3000, seed=78)


@pytest.mark.parametrize(("weight", "width"), [(0.2, 2.5), (0.1, 2.4)])
def test_simulation_of_independent_ewma_is_the_integral_equation(weight: float, width: float) -> None:
    """Three standard errors; over 100 seeds the differences had mean 0.07 and sd 0.92 of them."""
    assert simulated_ewma(weight, width, 0.0).mean() == pytest.approx(arl_ewma(weight, width), rel=3 / math.sqrt(3000))


def test_simulation_of_independent_cusum_is_the_integral_equation() -> None:
    for shift in (0.0, 1.0):
        run_length = simulated_cusum(0.5, 4.0, 0.0, shift=shift).mean()
        assert run_length == pytest.approx(arl_cusum(0.5, 4.0, shift), rel=3 / math.sqrt(3000))


@pytest.mark.parametrize("weight", [0.05, 0.2])
@pytest.mark.parametrize("arl0", [2000, 1_728_000])
def test_ewma_for_independent_readings_agrees_with_the_integral_equation(weight: float, arl0: float) -> None:
    width = design_ewma_autocorrelated(weight, 0.0, arl0)

    assert arl_ewma(weight, width) == pytest.approx(arl0, rel=0.05)
    assert width == pytest.approx(design_ewma(weight, arl0), abs=0.02)


@pytest.mark.parametrize("arl0", [500, 1_728_000])
def test_cusum_for_independent_readings_agrees_with_the_integral_equation(arl0: float) -> None:
    h = design_cusum_autocorrelated(0.5, 0.0, arl0)

    assert arl_cusum(0.5, h) == pytest.approx(arl0, rel=0.05)
    assert h == pytest.approx(design_cusum(0.5, arl0), abs=0.06)


@pytest.mark.parametrize(("weight", "lag1", "arl0"), [(0.2, 0.5, 3000), (0.05, 0.9, 5000), (0.1, 0.95, 4000)])
def test_ewma_holds_its_run_length(weight: float, lag1: float, arl0: float) -> None:
    width = design_ewma_autocorrelated(weight, lag1, arl0)

    assert simulated_ewma(weight, width, lag1).mean() == pytest.approx(arl0, rel=ALLOWED)


@pytest.mark.parametrize(("k", "lag1", "arl0"), [(0.5, 0.3, 3000), (0.5, 0.8, 4000), (1.0, 0.9, 4000)])
def test_cusum_holds_its_run_length(k: float, lag1: float, arl0: float) -> None:
    h = design_cusum_autocorrelated(k, lag1, arl0)

    assert simulated_cusum(k, h, lag1).mean() == pytest.approx(arl0, rel=ALLOWED)


def test_a_textbook_chart_on_such_readings_cries_wolf() -> None:
    """Designed for 3000 independent readings, on readings with lag-1 0.9 an EWMA signals every hundred."""
    width = design_ewma(0.2, 3000) * math.sqrt(variance_factor(0.2) / variance_factor(0.2, 0.9))

    assert simulated_ewma(0.2, width, 0.9).mean() < 100


def test_a_shift_is_still_found() -> None:
    """Three sigma on readings with lag-1 0.9: well before a hundredth of the run length in control."""
    width = design_ewma_autocorrelated(0.1, 0.9, 20_000)

    assert simulated_ewma(0.1, width, 0.9, shift=3.0).mean() < 60


def test_the_same_seed_gives_the_same_runs() -> None:
    assert np.array_equal(simulate_ewma(0.2, 2.0, 0.5, runs=50), simulate_ewma(0.2, 2.0, 0.5, runs=50))
    assert not np.array_equal(simulate_ewma(0.2, 2.0, 0.5, runs=50), simulate_ewma(0.2, 2.0, 0.5, runs=50, seed=1))


def test_sensor_noise_on_a_slow_wave_does_not_shorten_the_run_length() -> None:
    """Not a first-order autoregression: half the variance is white, half a slow wave.

    The design by the larger autocorrelation, of lag 1 and of the integral time, errs on the quiet side.
    """
    generator = np.random.default_rng(41)
    weight, arl0 = 0.1, 3000
    runs, cells = 400, 9000
    wave = lfilter([1.0], [1.0, -0.95], generator.standard_normal((runs, cells)) * math.sqrt(1 - 0.95**2), axis=1)
    readings = math.sqrt(0.5) * (wave + generator.standard_normal((runs, cells)))
    lag1 = round(lag1_for_design(readings[0]), 2)

    limit = design_ewma_autocorrelated(weight, lag1, arl0) * math.sqrt(variance_factor(weight, lag1))
    signals = np.abs(lfilter([weight], [1.0, weight - 1], readings[:, 1000:], axis=1)) > limit

    # With a mean of 3000 cells, 8000 leave at most exp(-8000/3000) = 7 % of the charts silent; more is
    # quieter.
    assert (~signals.any(axis=1)).mean() > math.exp(-8000 / arl0)


@pytest.mark.parametrize("lag1", [-0.1, 0.995, math.nan])
def test_autocorrelation_out_of_bounds(lag1: float) -> None:
    for design in (design_ewma_autocorrelated, design_cusum_autocorrelated):
        with pytest.raises(ValueError, match=r"lag-1 autocorrelation must be 0 to 0\.99"):
            design(0.5, lag1, 10_000)


def test_run_lengths_within_the_memory_of_the_readings_are_refused() -> None:
    with pytest.raises(ValueError, match=r"in-control run length must be 1180 to 1e\+09 readings \(got 500\)"):
        design_ewma_autocorrelated(0.05, 0.5, 500)
    with pytest.raises(ValueError, match=r"must be 380 to 1e\+09 readings \(got 100\)"):
        design_cusum_autocorrelated(0.5, 0.9, 100)
    with pytest.raises(ValueError, match="k must be > 0"):
        design_cusum_autocorrelated(0.0, 0.5, 1000)
