"""Tabular CUSUM. Source of data and sums: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.3."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.statistics.cusum import CusumPath, cusum, shift_began

NIST_MEANS = np.array([
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
])  # fmt: skip
NIST_HIGH = [
    0,
    0,
    0,
    0,
    0.0325,
    0,
    0,
    0,
    0,
    0,
    0,
    0,
    3.0075,
    4.94,
    7.4475,
    10.63,
    11.9875,
    14.445,
    16.0025,
    19.035,
]
NIST_LOW = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0]
H = 4.1959


def nist_path() -> CusumPath:
    return cusum(NIST_MEANS, target=325.0, k=0.3175)


def test_nist_sums() -> None:
    """The page prints two decimals (ties either way) and two sign misprints in a helper column."""
    assert nist_path().high == pytest.approx(NIST_HIGH, abs=1e-9)
    assert nist_path().low == pytest.approx(NIST_LOW, abs=1e-9)


def test_nist_signals_from_group_14_on() -> None:
    signals = np.flatnonzero(nist_path().signals(H)) + 1

    assert signals.tolist() == [14, 15, 16, 17, 18, 19, 20]


def test_the_shift_began_with_group_13() -> None:
    assert shift_began(nist_path().high, 13) + 1 == 13
    assert shift_began(np.array([1.0, 2.0]), 1) == 0


series = st.lists(st.floats(-10, 10) | st.just(np.nan), min_size=1, max_size=40)


@given(series, st.integers(0, 40), st.floats(0, 2))
def test_same_bits_wherever_the_series_is_cut(values: list[float], cut: int, k: float) -> None:
    readings = np.array(values)
    whole = cusum(readings, target=0.5, k=k)

    first = cusum(readings[:cut], target=0.5, k=k)
    high, low = (first.high[-1], first.low[-1]) if first.high.size else (0.0, 0.0)
    second = cusum(readings[cut:], target=0.5, k=k, high=high, low=low)

    assert np.array_equal(np.concatenate([first.high, second.high]), whole.high)
    assert np.array_equal(np.concatenate([first.low, second.low]), whole.low)


@given(series)
def test_sides_mirror(values: list[float]) -> None:
    readings = np.array(values)

    up, down = cusum(readings, target=0.0, k=0.5), cusum(-readings, target=0.0, k=0.5)

    assert np.array_equal(up.high, down.low)
    assert (up.high >= 0).all()


@given(st.lists(st.floats(-10, 10), min_size=1, max_size=40), st.floats(0, 2))
def test_the_sum_is_the_largest_run_that_ends_here(values: list[float], k: float) -> None:
    """Oracle: the upper sum is the largest sum of the last 0, 1, 2, ... distances beyond k."""
    beyond = np.array(values) - k
    largest = [max(0.0, *(beyond[start : end + 1].sum() for start in range(end + 1))) for end in range(beyond.size)]

    assert cusum(np.array(values), target=0.0, k=k).high == pytest.approx(largest, abs=1e-9)


def test_a_negative_k_is_refused() -> None:
    with pytest.raises(ValueError, match=r"k must be >= 0 \(got -0.5\)"):
        cusum(NIST_MEANS, target=325.0, k=-0.5)
