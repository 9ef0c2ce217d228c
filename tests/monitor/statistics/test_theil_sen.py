"""Theil-Sen line.

Sources: M. Hollander, D. A. Wolfe & E. Chicken, Nonparametric Statistical Methods, 3rd ed., Example 9.1
(answers from memory, reproduced); manual of the R package statpsych, ci.theil; Wisconsin Administrative
Code, Mann-Kendall tables.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter
from scipy.stats import theilslopes

from monitor.statistics.theil_sen import MAX_POINTS, lag1_about_trend, theil_sen

STATPSYCH_Y = np.array([21, 4, 9, 12, 35, 18, 10, 22, 24, 1, 6, 8, 13, 16, 19.0])
STATPSYCH_X = np.array([67, 28, 30, 28, 52, 40, 25, 37, 44, 10, 14, 20, 28, 40, 51.0])


def test_hollander_example_9_1() -> None:
    line = theil_sen(np.arange(1.0, 6.0), np.array([1.26, 1.27, 1.12, 1.16, 1.03]))

    assert line.slope == pytest.approx(-0.05625)
    assert line.pairs == 10


def test_wisconsin_example() -> None:
    line = theil_sen(np.arange(5.0), np.array([100.0, 50.0, 85.0, 75.0, 50.0]))

    assert line.slope == pytest.approx(-9.166667, abs=5e-7)


def test_statpsych_with_ties() -> None:
    """Equal x make no slope: 101 of 105 pairs are left."""
    line = theil_sen(STATPSYCH_X, STATPSYCH_Y)

    assert (line.slope, line.pairs) == (0.5, 101)
    assert (line.low, line.high) == pytest.approx((0.3243243, 0.75), abs=5e-8)


@given(st.lists(st.floats(-100, 100), min_size=6, max_size=40, unique=True))
def test_agrees_with_scipy(values: list[float]) -> None:
    time = np.arange(float(len(values)))

    line = theil_sen(time, np.array(values))
    expected = theilslopes(values, time, 0.95)

    assert (line.slope, line.intercept) == pytest.approx((expected[0], expected[1]), rel=1e-9, abs=1e-9)
    if not math.isnan(line.low):
        assert (line.low, line.high) == pytest.approx((expected[2], expected[3]), rel=1e-9, abs=1e-9)


@given(st.floats(-5, 5), st.floats(-100, 100), st.integers(8, 40))
def test_a_quarter_of_wild_points_does_not_move_a_straight_line(slope: float, start: float, n: int) -> None:
    time = np.arange(float(n))
    values = start + slope * time
    values[::5] = 1e6

    assert theil_sen(time, values).slope == pytest.approx(slope, abs=1e-6)


def test_interval_covers_and_allows_for_resemblance() -> None:
    """95 % is promised of 300 straight lines under readings with lag-1 0.5.

    About three in four are covered without the allowance, and 90 to 99 % with it.
    """
    generator = np.random.default_rng(81)
    time = np.arange(60.0)
    scatter = np.asarray(lfilter([1.0], [1.0, -0.5], generator.standard_normal((300, 260)), axis=1))[:, 200:]

    def covered(readings: np.ndarray, lag1: float) -> bool:
        line = theil_sen(time, readings, lag1=lag1)
        return line.low <= 0.1 <= line.high

    lines = 0.1 * time + scatter
    assert np.mean([covered(line, 0.0) for line in lines]) < 0.85
    assert 0.90 <= np.mean([covered(line, lag1_about_trend(time, line)) for line in lines]) <= 0.99


@pytest.mark.parametrize(("phi", "n"), [(0.0, 60), (0.5, 60), (0.8, 100)])
def test_autocorrelation_about_a_trend(phi: float, n: int) -> None:
    """Median over 300 series; a steep trend must not count as resemblance."""
    generator = np.random.default_rng(82)
    scatter = np.asarray(lfilter([1.0], [1.0, -phi], generator.standard_normal((300, n + 200)), axis=1))[:, 200:]
    time = np.arange(float(n))

    measured = [lag1_about_trend(time, 3 * time + line) for line in scatter]

    assert np.median(measured) == pytest.approx(phi, abs=0.04)


def test_too_little_and_too_much() -> None:
    assert math.isnan(theil_sen(np.array([1.0, 1.0]), np.array([1.0, 2.0])).slope)
    assert math.isnan(theil_sen(np.arange(3.0), np.array([1.0, 2.0, 4.0])).low)
    assert theil_sen(np.array([0.0, 1.0, math.nan]), np.array([0.0, 2.0, 9.0])).slope == 2.0
    assert lag1_about_trend(np.arange(20.0), np.arange(20.0)) == 0
    with pytest.raises(ValueError, match=f"at most {MAX_POINTS} points"):
        theil_sen(np.arange(MAX_POINTS + 1.0), np.zeros(MAX_POINTS + 1))
