"""Shares of a three-feeder recipe, computed from the definition (exact arithmetic)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.composition import (
    other_share_after_error,
    share_after_error,
    share_relative_sd,
    shares_pct,
    total_rate_kg_h,
)

BASE_FILLER_ADDITIVE = np.array([180.0, 60.0, 10.0])


def test_shares_of_the_recipe() -> None:
    assert shares_pct(BASE_FILLER_ADDITIVE).tolist() == [72.0, 24.0, 4.0]


def test_filler_five_percent_low() -> None:
    shares = shares_pct(BASE_FILLER_ADDITIVE * [1, 0.95, 1])

    assert shares == pytest.approx([72.874494, 23.076923, 4.048583], abs=5e-7)
    assert shares[1] - 24 == pytest.approx(-0.923077, abs=5e-7)
    assert 100 * (shares[1] / 24 - 1) == pytest.approx(-3.846154, abs=5e-7)
    assert 100 * share_after_error(share=0.24, relative_error=-0.05) == pytest.approx(23.076923, abs=5e-7)
    other = other_share_after_error(share=0.72, erring_share=0.24, relative_error=-0.05)
    assert 100 * other == pytest.approx(72.874494, abs=5e-7)


def test_first_order_error_is_minus_3_8_percent() -> None:
    """d(share)/share = (1 - share) * error = 0.76 * -5 %."""
    step = 1e-6
    slope = (share_after_error(share=0.24, relative_error=step) / 0.24 - 1) / step

    assert slope * -5 == pytest.approx(-3.8, abs=1e-4)


def test_half_a_percent_on_every_feeder() -> None:
    sds = share_relative_sd(np.array([0.72, 0.24, 0.04]), np.full(3, 0.5))

    assert sds[1] == pytest.approx(0.523832, abs=5e-7)


def test_share_uncertainty_by_simulation() -> None:
    """Three feeders with independent errors; 200,000 draws give the sd to 0.5 % (three standard errors)."""
    generator = np.random.default_rng(11)
    sds = np.array([0.004, 0.010, 0.020])
    drawn = BASE_FILLER_ADDITIVE[:, np.newaxis] * (1 + sds[:, np.newaxis] * generator.standard_normal((3, 200_000)))
    shares = shares_pct(drawn)

    simulated = shares.std(axis=1) / shares.mean(axis=1)

    assert share_relative_sd(np.array([0.72, 0.24, 0.04]), sds) == pytest.approx(simulated, rel=0.005)


rates = st.lists(st.floats(0.1, 1000), min_size=1, max_size=8)


@given(rates)
def test_shares_add_up(feeders: list[float]) -> None:
    assert shares_pct(np.array(feeders)).sum() == pytest.approx(100)


@given(rates, st.floats(-0.5, 0.5))
def test_errors_move_the_other_shares_too(feeders: list[float], error: float) -> None:
    before = shares_pct(np.array(feeders)) / 100
    after = np.array(feeders)
    after[0] *= 1 + error
    expected = shares_pct(after) / 100

    assert share_after_error(share=before[0], relative_error=error) == pytest.approx(expected[0])
    others = other_share_after_error(share=before[1:], erring_share=before[0], relative_error=error)
    assert others == pytest.approx(expected[1:])


def test_a_missing_feeder_makes_every_share_unknown() -> None:
    shares = shares_pct(np.array([[180.0, 180.0], [np.nan, 60.0]]))

    assert np.isnan(shares).tolist() == [[True, False], [True, False]]
    assert np.isnan(shares_pct(np.zeros((2, 1)))).all()


@given(st.integers(1, 40))
def test_totals_do_not_depend_on_where_a_block_is_cut(cut: int) -> None:
    feeders = np.random.default_rng(3).uniform(1, 100, (7, 41))

    pieces = [total_rate_kg_h(feeders[:, :cut]), total_rate_kg_h(feeders[:, cut:])]

    assert np.array_equal(np.concatenate(pieces), total_rate_kg_h(feeders))
