"""Screen changes as the pressure tells them."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.screen_ages import screen_runs, steps_down

T = np.arange(200)
STEADY = np.ones(200, bool)
RATE = np.full(200, 500.0)


def sawtooth() -> np.ndarray:
    return 50 + 0.25 * (T % 80) + np.random.default_rng(2).normal(0, 0.3, 200)


def test_steps_are_found_where_they_are() -> None:
    assert steps_down(T, sawtooth(), RATE, STEADY) == pytest.approx([80, 160], abs=1)


def test_a_change_at_a_stop_counts() -> None:
    steady = STEADY.copy()
    steady[74:86] = False
    p = np.where(steady, sawtooth(), 3.0)
    assert steps_down(T, p, RATE, steady) == pytest.approx([86, 160], abs=2)


def test_a_lower_rate_is_no_new_screen() -> None:
    rate = np.where(T < 100, 500.0, 350.0)
    p = 60 * (rate / 500) ** 0.35
    assert steps_down(T, p, rate, STEADY) == []
    assert steps_down(T, p, np.full(200, np.nan), STEADY) != [], "without a rate it can't be told"


def test_level_and_rising_pressure_have_none() -> None:
    noise = np.random.default_rng(4).normal(0, 1, 200)
    assert steps_down(T, 60 + noise, RATE, STEADY) == []
    assert steps_down(T, 60 + 0.1 * T, RATE, STEADY) == []
    assert steps_down(T[:4], 60 + noise[:4], RATE[:4], STEADY[:4]) == []


def test_kilograms_between() -> None:
    runs = screen_runs(T, RATE, [80, 160], 1 / 6)
    assert [(r.start, r.end) for r in runs] == [(0, 80), (80, 160), (160, 200)]
    assert runs[1].kg == pytest.approx(80 * 500 / 6)
    assert np.isnan(screen_runs(T, np.full(200, np.nan), [80], 1 / 6)[0].kg)
