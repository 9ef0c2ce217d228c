"""Constants of Shewhart charts.

Source of the table: printed ASTM-type tables as in textbooks of quality control, NIST/SEMATECH e-Handbook
6.3.2.1 and ISO 7870-2 table 2, with the misprints met in one copy put right. Printed tables were built from
rounded d2 and d3, so third decimals differ: tolerance 0.002.
"""

import math

import pytest

from monitor.statistics.shewhart_constants import shewhart_constants

# n, A2, A3, c4, B3, B4, d2, d3, D3, D4
PRINTED = """
2 1.880 2.659 0.7979 0.000 3.267 1.1284 0.8525 0.000 3.267
3 1.023 1.954 0.8862 0.000 2.568 1.6926 0.8884 0.000 2.575
4 0.729 1.628 0.9213 0.000 2.266 2.0588 0.8798 0.000 2.282
5 0.577 1.427 0.9400 0.000 2.089 2.3259 0.8641 0.000 2.114
6 0.483 1.287 0.9515 0.030 1.970 2.5344 0.8480 0.000 2.004
7 0.419 1.182 0.9594 0.118 1.882 2.7044 0.8332 0.076 1.924
8 0.373 1.099 0.9650 0.185 1.815 2.8472 0.8198 0.136 1.864
9 0.337 1.032 0.9693 0.239 1.761 2.9700 0.8078 0.184 1.816
10 0.308 0.975 0.9727 0.284 1.716 3.0775 0.7971 0.223 1.777
11 0.285 0.927 0.9754 0.321 1.679 3.1729 0.7873 0.256 1.744
12 0.266 0.886 0.9776 0.354 1.646 3.2585 0.7785 0.283 1.717
13 0.249 0.850 0.9794 0.382 1.618 3.3360 0.7704 0.307 1.693
14 0.235 0.817 0.9810 0.406 1.594 3.4068 0.7630 0.328 1.672
15 0.223 0.789 0.9823 0.428 1.572 3.4718 0.7562 0.347 1.653
16 0.212 0.763 0.9835 0.448 1.552 3.5320 0.7499 0.363 1.637
17 0.203 0.739 0.9845 0.466 1.534 3.5879 0.7441 0.378 1.622
18 0.194 0.718 0.9854 0.482 1.518 3.6401 0.7386 0.391 1.609
19 0.187 0.698 0.9862 0.497 1.503 3.6890 0.7335 0.404 1.596
20 0.180 0.680 0.9869 0.510 1.490 3.7350 0.7287 0.415 1.585
21 0.173 0.663 0.9876 0.523 1.477 3.7783 0.7242 0.425 1.575
22 0.167 0.647 0.9882 0.534 1.466 3.8194 0.7199 0.435 1.565
23 0.162 0.633 0.9887 0.545 1.455 3.8583 0.7159 0.443 1.557
24 0.157 0.619 0.9892 0.555 1.445 3.8953 0.7121 0.452 1.548
25 0.153 0.606 0.9896 0.565 1.435 3.9306 0.7084 0.459 1.541
"""
ROWS = [tuple(map(float, line.split())) for line in PRINTED.strip().splitlines()]

# (n, name, value) where printed tables differ from the exact third decimal.
OTHER_PRINTINGS = [
    (3, "d4_upper", 2.574),
    (18, "d4_upper", 1.608),
    (19, "d3_lower", 0.403),
    (19, "d4_upper", 1.597),
    (22, "d3_lower", 0.434),
    (22, "d4_upper", 1.566),
    (24, "d3_lower", 0.451),
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"n{row[0]:.0f}")
def test_printed_tables(row: tuple[float, ...]) -> None:
    n, *printed = row
    constants = shewhart_constants(int(n))

    names = ("a2", "a3", "c4", "b3", "b4", "d2", "d3", "d3_lower", "d4_upper")
    assert [getattr(constants, name) for name in names] == pytest.approx(printed, abs=0.002)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"n{row[0]:.0f}")
def test_to_the_last_printed_digit_of_the_computed_table(row: tuple[float, ...]) -> None:
    constants = shewhart_constants(int(row[0]))

    assert round(constants.c4, 4) == row[3]
    assert (round(constants.d2, 4), round(constants.d3, 4)) == (row[6], row[7])


@pytest.mark.parametrize(("n", "name", "printed"), OTHER_PRINTINGS)
def test_where_printed_tables_differ(n: int, name: str, printed: float) -> None:
    assert getattr(shewhart_constants(n), name) == pytest.approx(printed, abs=0.002)


def test_exact_anchors_for_two() -> None:
    """d2 = 2/sqrt(pi), c4 = sqrt(2/pi), and the range of two is sqrt(2) |z|: d3 = sqrt(2 - 4/pi)."""
    two = shewhart_constants(2)

    assert two.d2 == pytest.approx(2 / math.sqrt(math.pi), rel=1e-13)
    assert two.c4 == pytest.approx(math.sqrt(2 / math.pi), rel=1e-13)
    assert two.d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), rel=1e-12)


def test_exact_anchor_for_three() -> None:
    """The mean range of three normal readings is 3/sqrt(pi) (H. A. David, Order Statistics)."""
    assert shewhart_constants(3).d2 == pytest.approx(3 / math.sqrt(math.pi), rel=1e-13)


def test_one_reading_is_no_sample() -> None:
    with pytest.raises(ValueError, match=r"at least 2 readings \(got 1\)"):
        shewhart_constants(1)
