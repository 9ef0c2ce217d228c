"""Before, during and after a repair."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.repair_effect import effect

T = np.arange(300)
SINCE, REPAIRED = 100, 200


def duty(during: float, after: float, cells_after: int = 100) -> np.ndarray:
    y = np.where(T < SINCE, 14.0, np.where(T < REPAIRED, during, after))
    y = y + np.random.default_rng(5).normal(0, 0.4, 300)
    y[REPAIRED + cells_after :] = np.nan
    return y


@pytest.mark.parametrize(
    ("during", "after", "verdict"),
    [
        (31.0, 14.3, "back"),
        (31.0, 22.0, "better"),
        (31.0, 30.5, "no change"),
        (31.0, 38.0, "worse"),
        (31.0, 4.0, "past"),
        (5.0, 14.0, "back"),
        (5.0, 9.0, "better"),
        (14.2, 14.1, "never moved"),
    ],
)
def test_verdict(during: float, after: float, verdict: str) -> None:
    found = effect(T, duty(during, after), SINCE, REPAIRED)
    assert found.verdict == verdict
    assert (found.before, found.during, found.after) == pytest.approx((14.0, during, after), abs=0.2)


def test_half_an_hour_is_needed_after() -> None:
    assert effect(T, duty(31.0, 14.0, cells_after=2), SINCE, REPAIRED).verdict == "too early"
    assert effect(T, duty(31.0, 14.0, cells_after=3), SINCE, REPAIRED).verdict == "back"


def test_nothing_before_is_said_and_not_guessed() -> None:
    y = duty(31.0, 14.0)
    y[:SINCE] = np.nan
    found = effect(T, y, SINCE, REPAIRED)
    assert found.verdict == "nothing before" and np.isnan(found.before)


def test_a_wide_history_forgives_more() -> None:
    y = duty(31.0, 20.0)
    assert effect(T, y, SINCE, REPAIRED).verdict == "better"
    y[:SINCE] = 14 + 14 * np.sin(T[:SINCE])
    assert effect(T, y, SINCE, REPAIRED).verdict == "back"
