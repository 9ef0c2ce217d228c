"""Mann-Kendall test.

Sources: Wisconsin Administrative Code, Mann-Kendall Tables A and B; M. Hollander, D. A. Wolfe & E. Chicken,
Nonparametric Statistical Methods, 3rd ed., Example 9.1 (answers from memory, reproduced); the documentation
of the R package trend for the variance with ties; a public Julia package's test for 1..100.
"""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter
from scipy.stats import kendalltau, norm

from monitor.statistics.mann_kendall import MAX_READINGS, mann_kendall
from monitor.statistics.theil_sen import lag1_about_trend


def test_wisconsin_example_with_a_tie() -> None:
    test = mann_kendall(np.array([100.0, 50.0, 85.0, 75.0, 50.0]))

    assert test.s == -5
    assert test.variance == pytest.approx(15.6667, abs=0.00005)
    assert test.z == pytest.approx(-1.01058, abs=0.000005)


@pytest.mark.parametrize(("n", "s"), [(4, -4), (5, -5), (6, -6), (7, -7), (8, -8), (9, -10), (10, -11)])
def test_wisconsin_table_of_a_decline_at_80_percent(n: int, s: int) -> None:
    """The least |S| with a one-sided chance of at most 0.2, counted over all orders by the exact
    distribution.

    S has the parity of the number of pairs: where the table's S can't occur, the next larger does.
    """
    attainable = s if (n * (n - 1) // 2 - s) % 2 == 0 else s - 1

    assert one_sided_chance(n, attainable) <= 0.20
    assert one_sided_chance(n, attainable + 2) > 0.20


def one_sided_chance(n: int, s: int) -> float:
    """Chance of S this low or lower without a trend, from the test's own p for a series with that S."""
    return mann_kendall(series_with(n, s)).p / 2


def series_with(n: int, s: int) -> np.ndarray:
    """Readings 1..n in an order whose S is s: moves the largest forward until enough pairs fall."""
    falling = (n * (n - 1) // 2 - s) // 2
    order: list[float] = []
    for reading in range(1, n + 1):
        moved = min(falling, reading - 1)
        order.insert(len(order) - moved, float(reading))
        falling -= moved
    return np.array(order)


def test_hollander_example_9_1() -> None:
    test = mann_kendall(np.array([1.26, 1.27, 1.12, 1.16, 1.03]))

    assert (test.s, test.tau) == (-6, pytest.approx(-0.6))
    assert test.p == pytest.approx(0.2333, abs=0.00005)
    assert test.p / 2 == pytest.approx(0.1167, abs=0.00005)


def test_one_to_a_hundred() -> None:
    test = mann_kendall(np.arange(1.0, 101.0))

    assert (test.s, test.variance, test.tau) == (4950, 112750.0, 1.0)
    assert test.z == pytest.approx(14.73869998208331, rel=1e-14)


@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_exact_chance_against_all_orders(n: int) -> None:
    every = [mann_kendall(np.array(order)) for order in itertools.permutations(np.arange(float(n)))]

    for test in every:
        counted = sum(abs(other.s) >= abs(test.s) for other in every) / len(every)
        assert test.p == pytest.approx(counted)


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=30))
def test_tau_agrees_with_scipy_where_nothing_is_tied(values: list[float]) -> None:
    test = mann_kendall(np.array(values))

    if len(set(values)) == len(values):
        expected = kendalltau(np.arange(len(values)), values, method="exact")
        assert (test.tau, test.p) == pytest.approx((expected[0], expected[1]), abs=1e-9)
    assert -1 <= test.tau <= 1


@given(st.lists(st.integers(0, 5), min_size=3, max_size=40))
def test_a_mirrored_series_has_the_mirrored_trend(values: list[int]) -> None:
    there, back = (
        mann_kendall(np.array(values, dtype=float)),
        mann_kendall(np.array(values[::-1], dtype=float)),
    )

    assert (there.s, there.z) == (-back.s, pytest.approx(-back.z))


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.8])
def test_false_trends(phi: float) -> None:
    """One in twenty is promised.

    2500 trendless series of 100 gave 4.1 to 5.1 %, so 500 give at most 8 %: three standard errors more.
    """
    fresh = np.random.default_rng(91).standard_normal((500, 400))
    series = np.asarray(lfilter([1.0], [1.0, -phi], fresh, axis=1))[:, 300:]
    time = np.arange(100.0)

    plain = np.mean([mann_kendall(line).p < 0.05 for line in series])
    allowed_for = np.mean([mann_kendall(line, lag1=lag1_about_trend(time, line)).p < 0.05 for line in series])

    assert allowed_for <= 0.08
    assert phi == 0 or plain > 0.15


def test_constant_short_and_long_series() -> None:
    assert (mann_kendall(np.full(5, 2.0)).z, mann_kendall(np.full(5, 2.0)).p) == (0.0, 1.0)
    assert mann_kendall(np.array([1.0, np.nan, 2.0, 3.0])).s == 3
    with pytest.raises(ValueError, match=r"3 to 3000 readings \(got 2\)"):
        mann_kendall(np.array([1.0, 2.0]))
    with pytest.raises(ValueError, match=r"\(got 3001\)"):
        mann_kendall(np.zeros(MAX_READINGS + 1))


def test_resemblance_counts_on_short_series_too() -> None:
    """At lag-1 0.5 three readings tell as much as one: z shrinks by sqrt(3), and the chance follows z."""
    readings = np.array([1.0, 3.0, 2.0, 5.0, 4.0, 6.0, 8.0, 7.0])

    plain, allowed_for = mann_kendall(readings), mann_kendall(readings, lag1=0.5)

    assert allowed_for.z == pytest.approx(plain.z / np.sqrt(3))
    assert allowed_for.p == pytest.approx(2 * norm.sf(allowed_for.z))
