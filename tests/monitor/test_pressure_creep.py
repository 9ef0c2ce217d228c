"""Points of a creeping pressure: their autocorrelation, their joins, their new screens."""

from __future__ import annotations

import math

import numpy as np
import pytest

from monitor.pressure_creep import MOST_LAG1, Rules, advance, lag1_about_bend, start

RULES = Rules(0.05, 0.06)
WIDTH = 30


def fed(y: np.ndarray, unchanged_s: np.ndarray | None = None, load: np.ndarray | None = None):
    """State and facts after these 10 s cells of logarithm of pressure."""
    probe = np.zeros(len(y))
    rows = np.array([y, np.exp(y), np.exp(y), probe if load is None else load, probe])
    ages = np.full(len(y), 1e6) if unchanged_s is None else unchanged_s
    return advance(start(), rows, np.ones(len(y), bool), ages, 0, WIDTH, RULES)


@pytest.mark.parametrize("phi", [0.0, 0.3, 0.6])
@pytest.mark.parametrize("bend", [0.0, 3.0])
def test_autocorrelation_about_a_bend_is_that_of_the_noise(phi: float, bend: float) -> None:
    rng, found = np.random.default_rng(6), []
    hours = np.arange(60) / 12
    for _ in range(200):
        noise = np.zeros(60)
        for i in range(1, 60):
            noise[i] = phi * noise[i - 1] + rng.normal()
        found.append(lag1_about_bend(hours, noise + bend * hours**2))

    assert np.median(found) == pytest.approx(phi, abs=0.08)
    assert max(found) <= MOST_LAG1 and lag1_about_bend(hours[:9], hours[:9]) == 0.0


def test_a_straight_creep_gives_its_slope_inside_the_interval() -> None:
    y = math.log(60) + np.random.default_rng(1).normal(0, 0.003, 1800) + 0.03 * np.arange(1800) / 360
    _, facts = fed(y)

    assert facts["slope_low_h"][-1] <= 0.03 <= facts["slope_high_h"][-1]
    assert facts["points"][-1] == 60 and facts["base_bar"][-1] == pytest.approx(60, rel=0.02)


def test_a_change_in_between_is_joined_with_what_crept_meanwhile() -> None:
    """A planned step of 8 % up after two hours; the rise goes on as if nothing had been."""
    n = np.arange(1440)
    y = math.log(60) + 0.03 * n / 360 + np.where(n >= 720, 0.08, 0.0)
    ages = np.where(n < 720, 1e5, (n - 720) * 10.0)
    _, facts = fed(y, ages)

    assert facts["rise"][-1] == pytest.approx(0.03 * 3.8, abs=0.01)


def test_a_step_down_is_a_new_screen_and_two_of_them_soon_after_each_other_a_saw() -> None:
    n = np.arange(5 * 360)
    y = math.log(60) + 0.1 * (n % 360) / 360
    state, facts = fed(y)

    assert len(state["y"]) <= 13 and facts["tooth"][-1] == pytest.approx(0.08, abs=0.03)


def test_a_point_needs_most_of_its_cells() -> None:
    y = np.full(300, math.log(60))
    y[:20] = np.nan
    state, _ = fed(y)

    assert state["when"][0] == 2


def test_what_only_the_melt_temperature_raises_is_told_apart_also_over_a_change() -> None:
    steps = np.repeat([0.0, 0.0, 0.0, 0.1, 0.1, 0.1, 0.4, 0.4, 0.4], WIDTH)
    probe = np.minimum(steps, 0.1)
    rows = np.array([4.0 + steps, np.exp(4.0 + steps - probe), np.ones(len(steps)), probe, probe])
    ages = np.full(len(steps), 1e6)
    _, made = advance(start(), rows, np.ones(len(steps), bool), ages, 0, WIDTH, RULES)
    assert made["rise"][-1] == pytest.approx(0.4) and made["probe_rise"][-1] == pytest.approx(0.1)
    ages[6 * WIDTH :] = np.arange(len(steps) - 6 * WIDTH) * 10.0
    _, made = advance(start(), rows, np.ones(len(steps), bool), ages, 0, WIDTH, RULES)
    assert made["rise"][-1] == pytest.approx(0.1, abs=0.05) and made["probe_rise"][-1] == pytest.approx(0.1)
