"""The scale of a hopper against the rate it reports, through refills, hands on it and gaps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboards.mass_balance import Balance, balance_of, mass_balance, share_errors
from dashboards.memory_data import MemoryData
from dashboards.pages.lot_balance import balance_row
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, HOUR

STEP_S = 10.0


def hopper(true_kg_h: float, hours: float, seed: int, noise_kg: float = 0.02) -> np.ndarray:
    """Weight by 10 s cells: 40 kg, refilled from 10 back to 40 within a minute."""
    rng, weight, filling, held = np.random.default_rng(seed), [], 0, 40.0
    for _ in range(int(hours * 360)):
        held -= true_kg_h * STEP_S / 3600
        if held < 10 and not filling:
            filling = 6
        if filling:
            held, filling = held + 5.0, filling - 1
        weight.append(held)
    return np.array(weight) + rng.normal(0, noise_kg, len(weight))


def compared(true_kg_h: float, said_kg_h: float, seed: int = 1, hours: float = 3.0) -> Balance:
    weight = hopper(true_kg_h, hours, seed)
    rate = said_kg_h + np.random.default_rng(seed + 99).normal(0, 0.5, len(weight))
    found = balance_of("talc", weight, rate, STEP_S)
    assert found is not None
    return found


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.sampled_from([20.0, 60.0, 150.0]))
def test_it_closes_where_scale_and_rate_agree(seed: int, kg_h: float) -> None:
    found = compared(kg_h, kg_h, seed)
    assert found.closes and abs(found.off_pct) < 1 and found.compared > 0.8


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.sampled_from([-6.0, -3.0, 3.0, 6.0]))
def test_what_is_reported_wrong_is_found_and_by_how_much(seed: int, percent: float) -> None:
    found = compared(100.0 * (1 + percent / 100), 100.0, seed)
    assert not found.closes and found.off_pct == pytest.approx(percent, abs=0.5)


def test_the_error_covers_what_it_says() -> None:
    """Two standard deviations: of 200 alike hoppers about 190 lie within."""
    inside = sum(abs(found.lost - found.fed) <= found.error for found in (compared(20, 20, s, 1.0) for s in range(200)))
    assert inside >= 180


def test_a_hand_on_the_scale_and_a_gap_are_left_out() -> None:
    weight, rate = hopper(60.0, 2.0, 3), np.full(720, 60.0)
    weight[300:303] += 8.0
    weight[500:540] = np.nan
    found = balance_of("talc", weight, rate, STEP_S)
    assert found is not None and found.closes and abs(found.off_pct) < 1


def test_too_little_is_not_judged() -> None:
    assert balance_of("talc", np.linspace(40, 39, 20), np.full(20, 60.0), STEP_S) is None
    assert balance_of("talc", np.full(720, np.nan), np.full(720, 60.0), STEP_S) is None
    assert balance_of("talc", np.full(720, 30.0), np.zeros(720), STEP_S) is None


def test_a_line_without_weights_says_so_and_one_with_names_every_hopper() -> None:
    data = MemoryData([twin(), single()], clock=lambda: END)
    assert mass_balance(data, "Line 5", END - HOUR, END) == []
    assert "cannot be told" in str(balance_row(data, data.run("Line 5", END - HOUR, END)))
    titles = [item.title for item in mass_balance(data, "Line 3", END - 2 * HOUR, END)]
    assert "talc T4" in titles


def test_the_uncertainty_of_shares_is_that_of_simulated_scales() -> None:
    kg = {"carrier": 80.0, "talc": 15.0, "aid": 5.0}
    balances = [Balance(title, amount, amount, 0.02 * amount, 1.0) for title, amount in kg.items()]
    rng = np.random.default_rng(4)
    drawn = np.array(list(kg.values())) * (1 + rng.normal(0, 0.01, (20_000, 3)))
    shares = 100 * drawn / drawn.sum(axis=1, keepdims=True)

    found = share_errors(kg, balances)

    assert list(found.values()) == pytest.approx(list(2 * shares.std(axis=0)), rel=0.05)
    assert share_errors(kg, balances[:2]) == {} and share_errors({}, balances) == {}


def test_the_error_of_another_stretch_follows_from_its_length() -> None:
    """Two ends of the scale, and scatter that adds up at random: 2 sqrt(0.03^2 + 0.01^2 * 16) of 160 s is 0.1 kg."""
    item = Balance("talc", 10.0, 10.0, 0.1, 1.0, sigma=0.03, scatter=0.01, step_s=10.0)
    assert item.error_over(160.0) == pytest.approx(0.1)
    assert item.error_over(640.0) == pytest.approx(2 * (0.03**2 + 0.01**2 * 64) ** 0.5)
