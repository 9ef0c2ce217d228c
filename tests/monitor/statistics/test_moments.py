"""Mean and standard deviation against certified values.

Source: NIST Statistical Reference Datasets (StRD), univariate summary statistics: data sets Michelso,
Lottery, Mavro, PiDigits, NumAcc1 to NumAcc4 with their certified values; autocorrelations of the same sets
are in test_autocorrelation.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.statistics.autocorrelation import lag1
from monitor.statistics.moments import Moments, mean_and_sd

MEASURED = json.loads((Path(__file__).parent / "nist_strd.json").read_text())


def digits_of_pi(count: int) -> np.ndarray:
    """Leading 3 included, by Machin's formula in whole numbers."""
    unity = 10 ** (count + 20)

    def arctan_of_inverse(x: int) -> int:
        term = total = unity // x
        divisor, sign = 1, 1
        while term:
            term //= x * x
            divisor, sign = divisor + 2, -sign
            total += sign * (term // divisor)
        return total

    pi = 4 * (4 * arctan_of_inverse(5) - arctan_of_inverse(239)) // 10**21
    digits = []
    for _ in range(count):
        pi, digit = divmod(pi, 10)
        digits.append(digit)
    return np.array(digits[::-1], dtype=float)


def nist_pi_digits() -> np.ndarray:
    """The NIST file has 3 where pi has 8 at index 956; true pi does not meet the certified values."""
    digits = digits_of_pi(5000)
    assert digits[956] == 8
    digits[956] = 3
    return digits


def _accuracy_set(centre: float) -> np.ndarray:
    return np.array([centre, *(500 * [centre - 0.1, centre + 0.1])])


# name, values, mean, sd, lag-1 autocorrelation, relative tolerance of the last two
CERTIFIED = [
    *((name, np.array(data["values"]), data["mean"], data["sd"], data["lag1"], 1e-12)
      for name, data in MEASURED.items() if name != "source"),
    ("PiDigits", nist_pi_digits(), 4.5348, 2.86733906028871, -0.00355099287237972, 1e-12),
    ("NumAcc1", np.array([10000001.0, 10000003.0, 10000002.0]), 10000002.0, 1.0, -0.5, 1e-12),
    ("NumAcc2", _accuracy_set(1.2), 1.2, 0.1, -0.999, 1e-12),
    # The input itself, stored in double precision, is off by 5e-9 of a standard deviation here.
    ("NumAcc3", _accuracy_set(1000000.2), 1000000.2, 0.1, -0.999, 5e-9),
    ("NumAcc4", _accuracy_set(10000000.2), 10000000.2, 0.1, -0.999, 5e-8),
]  # fmt: skip
each_set = pytest.mark.parametrize(
    ("values", "mean", "sd", "autocorrelation", "tolerance"),
    [row[1:] for row in CERTIFIED],
    ids=[r[0] for r in CERTIFIED],
)


@each_set
def test_certified_values(values: np.ndarray, mean: float, sd: float, autocorrelation: float, tolerance: float) -> None:
    computed_mean, computed_sd = mean_and_sd(values)

    assert computed_mean == pytest.approx(mean, rel=1e-13)
    assert computed_sd == pytest.approx(sd, rel=tolerance)
    assert lag1(values) == pytest.approx(autocorrelation, rel=tolerance)


@each_set
def test_running_moments_meet_them_too(
    values: np.ndarray, mean: float, sd: float, autocorrelation: float, tolerance: float
) -> None:
    state = Moments()
    for value in values.tolist():
        state = state.with_value(value)

    assert state.count == values.size
    assert state.mean == pytest.approx(mean, rel=1e-13)
    assert state.sd == pytest.approx(sd, rel=max(tolerance, 1e-10))


def test_true_pi_does_not_meet_the_certified_values() -> None:
    mean, sd = mean_and_sd(digits_of_pi(5000))

    assert mean == pytest.approx(4.5358)
    assert sd == pytest.approx(2.867676, abs=5e-7)


@given(st.lists(st.floats(-1e6, 1e6) | st.just(math.nan), max_size=50))
def test_running_and_two_pass_agree_and_skip_gaps(values: list[float]) -> None:
    state = Moments()
    for value in values:
        state = state.with_value(value)
    mean, sd = mean_and_sd(np.array(values, dtype=float))

    assert state.sd == pytest.approx(sd, rel=1e-6, abs=1e-6, nan_ok=True)
    assert state.count == 0 or state.mean == pytest.approx(mean, rel=1e-9, abs=1e-6)
