"""One odd cell is in no mean of middle ones; what stays is, a cell late."""

from __future__ import annotations

import numpy as np
import pytest

from monitor import read_twice
from monitor.exact import blank

NAN = float("nan")


@pytest.mark.parametrize(
    ("cells", "middle"),
    [
        ([5, 5, 900, 5, 5], [5, 5, 5, 5, 5]),
        ([5, 5, -900, 5, 5], [5, 5, 5, 5, 5]),
        ([5, 5, 9, 9, 9], [5, 5, 5, 9, 9]),
        ([5, 5, NAN, 9, 8, 7], [5, 5, NAN, 9, 8, 8]),
    ],
    ids=["above", "below", "it stays", "not known"],
)
def test_the_middle_of_three(cells: list[float], middle: list[float]) -> None:
    x = np.array([cells], float)
    whole, after = read_twice.middle(blank(1, 2), x)
    np.testing.assert_array_equal(whole[0], middle)
    for cut in range(1, len(cells)):
        first, state = read_twice.middle(blank(1, 2), x[:, :cut])
        second, state = read_twice.middle(state, x[:, cut:])
        np.testing.assert_array_equal(np.concatenate((first, second), axis=1), whole)
        np.testing.assert_array_equal(state, after)
