"""Mass flow from weights.

Arithmetic examples follow from the definitions; the line fit is checked with numpy.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.loss_in_weight import (
    feed_factor_kg_h_rpm,
    mass_flow,
    repeatability_2_sigma_pct,
    time_to_empty_s,
)


def test_600_g_in_two_minutes_is_18_kg_h() -> None:
    flow = mass_flow(np.linspace(0, 120, 121), np.linspace(50.0, 49.4, 121))

    assert flow.rate_kg_h == pytest.approx(18.0, rel=1e-12)
    assert flow.standard_error_kg_h == pytest.approx(0, abs=1e-9)
    assert flow.readings == 121


def test_feed_factor() -> None:
    """18 kg/h at 90 rpm is 0.2 kg/h per rpm, 3.333 g a turn."""
    factor = feed_factor_kg_h_rpm(rate_kg_h=18.0, screw_speed_rpm=90.0)

    assert factor == pytest.approx(0.2)
    assert factor * 1000 / 60 == pytest.approx(3.333, abs=0.0005)


def test_repeatability() -> None:
    """Ten catch samples; trade practice quotes two standard deviations in percent of the mean."""
    samples = np.array([100.2, 99.7, 100.4, 99.9, 100.1, 99.5, 100.3, 99.8, 100.0, 100.1])

    assert samples.mean() == pytest.approx(100)
    assert repeatability_2_sigma_pct(samples) == pytest.approx(0.557773, abs=5e-7)


def test_slope_and_error_agree_with_polyfit_with_gaps_left_out() -> None:
    generator = np.random.default_rng(5)
    time = np.arange(60.0)
    weight = 30 - 0.005 * time + 0.01 * generator.standard_normal(60)
    weight[[7, 8, 33]] = np.nan
    there = np.isfinite(weight)

    flow = mass_flow(time, weight)
    line, covariance = np.polyfit(time[there], weight[there], 1, cov=True)

    assert flow.rate_kg_h == pytest.approx(-3600 * line[0], rel=1e-10)
    assert flow.standard_error_kg_h == pytest.approx(3600 * np.sqrt(covariance[0, 0]), rel=1e-10)
    assert flow.readings == 57


def test_many_windows_at_once_are_as_each_alone() -> None:
    weights = np.random.default_rng(6).normal(20, 0.1, (9, 31))
    weights[2, 5] = np.nan
    time = np.arange(31.0)

    together = mass_flow(time, weights)

    for row, rate, error in zip(weights, together.rate_kg_h, together.standard_error_kg_h, strict=True):
        alone = mass_flow(time, row)
        assert (alone.rate_kg_h, alone.standard_error_kg_h) == (rate, error)


@given(st.floats(-200, 2000), st.floats(0, 500), st.floats(1, 3600))
def test_any_straight_line(rate: float, start_kg: float, span_s: float) -> None:
    time = np.linspace(0, span_s, 30)

    flow = mass_flow(time, start_kg - rate / 3600 * time)

    assert flow.rate_kg_h == pytest.approx(rate, rel=1e-9, abs=1e-6)


def test_too_little_to_tell() -> None:
    time = np.arange(5.0)

    assert np.isnan(mass_flow(time, np.array([1.0, np.nan, np.nan, np.nan, 0.9])).rate_kg_h)
    assert np.isnan(mass_flow(np.zeros(5), np.arange(5.0)).rate_kg_h)
    assert np.isnan(time_to_empty_s(weight_kg=10.0, rate_kg_h=0.0))


def test_time_to_empty() -> None:
    assert time_to_empty_s(weight_kg=6.0, rate_kg_h=18.0) == pytest.approx(1200)
