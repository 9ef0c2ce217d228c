"""A step is found where it is; without one, chance is what it says; a step is told from a creep.

Reference: A. N. Pettitt, Applied Statistics 28, 126 (1979); p approximate, on the safe side for short series.
"""

from __future__ import annotations

import numpy as np
import pytest

from monitor.statistics.change_point import change_point, stepped_rather_than_crept
from monitor.statistics.theil_sen import theil_sen


def test_a_clean_step() -> None:
    values = np.array([1.0] * 12 + [3.0] * 8)

    found = change_point(values)

    assert (found.index, found.before, found.after) == (12, 1.0, 3.0)
    assert found.k == 12 * 8


@pytest.mark.parametrize("lag1", [0.0, 0.5])
def test_seldom_sees_a_step_in_noise(lag1: float) -> None:
    rng = np.random.default_rng(3)
    called = 0
    for _ in range(400):
        values, now = np.empty(48), float(rng.normal())
        for i in range(48):
            now = lag1 * now + np.sqrt(1 - lag1**2) * rng.normal()
            values[i] = now
        called += change_point(values, lag1=lag1).p < 0.05
    assert called <= 28


def test_a_step_is_told_from_a_creep() -> None:
    rng = np.random.default_rng(4)
    time, right = np.arange(24.0), 0
    for _ in range(100):
        noise = 0.3 * rng.normal(size=24)
        for values, stepped in ((np.where(time < 10, 0, 3.0) + noise, True), (time / 8 + noise, False)):
            said = stepped_rather_than_crept(time, values, change_point(values), theil_sen(time, values).slope)
            right += said is stepped
    assert right >= 190


@pytest.mark.parametrize("values", [np.ones(3), np.array([1.0, np.nan, 2.0, 3.0])])
def test_refuses(values: np.ndarray) -> None:
    with pytest.raises(ValueError, match="change point takes"):
        change_point(values)
