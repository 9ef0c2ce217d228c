"""Grubbs's test. Source: NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17.1."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.statistics.grubbs import grubbs

MASS_SPECTROMETER = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])


def test_nist_example() -> None:
    result = grubbs(MASS_SPECTROMETER, 0.05, two_sided=False)

    # 2.468765: NIST prints 2.4687, cut and not rounded.
    assert math.floor(result.statistic * 1e4) == 24687
    assert result.critical == pytest.approx(2.032, abs=0.0005)
    assert result.is_outlier
    assert result.index == 7


@given(st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=30))
def test_no_reading_is_farther_than_the_sample_allows(values: list[float]) -> None:
    """(n - 1)/sqrt(n): 2.4749 for eight readings, so a 3-sigma screen of eight can never fire."""
    n = len(values)

    assert grubbs(np.array(values)).statistic <= (n - 1) / math.sqrt(n) * (1 + 1e-9)


def test_eight_readings_never_reach_three_sigma() -> None:
    assert grubbs(np.array([*7 * [0.0], 1e6])).statistic == pytest.approx(2.4749, abs=0.00005)


def test_false_calls_on_normal_samples() -> None:
    """5 % of 4000 samples of ten, standard error 0.34 %; three are allowed."""
    samples = np.random.default_rng(71).standard_normal((4000, 10))

    assert np.mean([grubbs(sample).is_outlier for sample in samples]) == pytest.approx(0.05, abs=0.0104)


def test_constant_readings_hold_no_outlier() -> None:
    assert not grubbs(np.full(5, 2.0)).is_outlier


def test_two_readings_are_too_few() -> None:
    with pytest.raises(ValueError, match=r"at least 3 readings \(got 2\)"):
        grubbs(np.array([1.0, 2.0]))
