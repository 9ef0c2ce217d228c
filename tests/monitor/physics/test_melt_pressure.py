"""Melt pressure against rate and temperature. Figures computed from the power law and the Arrhenius form."""

import numpy as np
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.melt_pressure import (
    GAS_CONSTANT_KJ_MOL_K,
    arrhenius_factor,
    expected_pressure_bar,
    log_without_rate_and_temperature,
    pressure_ratio,
    rate_ratio,
    relative_rate_ripple,
    share_blocked,
)


@pytest.mark.parametrize(("exponent", "percent"), [(1.0, 10.0), (0.5, 4.88), (0.35, 3.39)])
def test_ten_percent_more_rate(exponent: float, percent: float) -> None:
    rise = 100 * (pressure_ratio(rate_ratio=1.1, flow_exponent=exponent) - 1)

    assert rise == pytest.approx(percent, abs=0.005)


def test_a_fifth_less_feed_is_hardly_less_pressure() -> None:
    """Common practice: 20 % less feed is only about 7.5 % less pressure at n = 0.35."""
    assert 100 * (1 - pressure_ratio(rate_ratio=0.8, flow_exponent=0.35)) == pytest.approx(7.5, abs=0.05)


@pytest.mark.parametrize(("activation", "factor"), [(27.0, 0.877), (40.0, 0.824), (60.0, 0.748)])
def test_viscosity_from_220_to_230_c(activation: float, factor: float) -> None:
    viscosity = arrhenius_factor(temperature_c=230.0, reference_c=220.0, activation_energy_kj_mol=activation)

    assert viscosity == pytest.approx(factor, abs=0.0005)


def test_gas_constant() -> None:
    """CODATA as kept by scipy; exact since the SI of 2019."""
    assert pytest.approx(scipy.constants.R / 1000, rel=1e-15) == GAS_CONSTANT_KJ_MOL_K


@given(st.floats(0.01, 10), st.floats(0.2, 1))
def test_pressure_and_rate_invert(ratio_of_rates: float, exponent: float) -> None:
    pressures = pressure_ratio(rate_ratio=ratio_of_rates, flow_exponent=exponent)

    assert rate_ratio(pressure_ratio=pressures, flow_exponent=exponent) == pytest.approx(ratio_of_rates)


@given(st.floats(-1e-4, 1e-4), st.floats(0.2, 1))
def test_ripple_is_the_slope_of_the_power_law(ripple: float, exponent: float) -> None:
    exact = rate_ratio(pressure_ratio=1 + ripple, flow_exponent=exponent) - 1

    first_order = relative_rate_ripple(relative_pressure_ripple=ripple, flow_exponent=exponent)

    # The term left out is (1/n)(1/n - 1)/2 ripple^2 <= 10 ripple^2 for n >= 0.2; twice that for what
    # follows it.
    assert first_order == pytest.approx(exact, abs=20 * ripple**2 + 1e-14)


def test_expected_pressure_is_the_reference_at_the_reference() -> None:
    same = {"rate_kg_h": 300.0, "melt_c": 220.0}
    reference = {"reference_pressure_bar": 80.0, "reference_rate_kg_h": 300.0, "reference_melt_c": 220.0}
    melt = {"flow_exponent": 0.35, "activation_energy_kj_mol": 27.0}

    assert expected_pressure_bar(**reference, **same, **melt) == 80.0
    hotter = expected_pressure_bar(**reference, rate_kg_h=330.0, melt_c=230.0, **melt)
    assert hotter == pytest.approx(80 * 1.0339 * 0.877, abs=0.05)


def test_negative_rates_and_gaps_give_nan() -> None:
    pressures = pressure_ratio(rate_ratio=np.array([-0.1, np.nan, 0.0, 1.0]), flow_exponent=0.35)

    assert np.array_equal(pressures, [np.nan, np.nan, 0.0, 1.0], equal_nan=True)


def test_a_tenth_of_the_holes_is_nearly_four_percent_of_pressure() -> None:
    """Q through each open hole goes up by 1/0.9, pressure by that to the 0.35."""
    ratio = 1 / 0.9**0.35
    assert ratio == pytest.approx(1.0376, abs=1e-4)
    assert share_blocked(pressure_ratio=ratio, flow_exponent=0.35) == pytest.approx(0.1)
    assert share_blocked(pressure_ratio=1.0, flow_exponent=0.35) == pytest.approx(0.0)


def test_what_rate_and_temperature_do_is_taken_out_and_the_rest_is_left() -> None:
    """The counterpart of `expected_pressure_bar`: its ratio to the measured pressure is what stays."""
    given = {"flow_exponent": 0.4, "activation_energy_kj_mol": 25.0}
    expected = expected_pressure_bar(
        reference_pressure_bar=60.0,
        reference_rate_kg_h=300.0,
        reference_melt_c=230.0,
        rate_kg_h=220.0,
        melt_c=242.0,
        **given,
    )
    before = log_without_rate_and_temperature(pressure_bar=60.0, rate=300.0, melt_c=230.0, **given)
    after = log_without_rate_and_temperature(pressure_bar=1.25 * expected, rate=220.0, melt_c=242.0, **given)
    assert after - before == pytest.approx(np.log(1.25))
