"""How melt pressure goes with rate and temperature.

A power-law melt through a fixed die: pressure goes with rate to the power n, the flow exponent. With n
near 0.35 a fifth less feed is only about 7.5 % less pressure, and a small ripple in pressure hides a larger
one in output.
"""

from __future__ import annotations

import numpy as np

from monitor.physics.values import Values, ratio

GAS_CONSTANT_KJ_MOL_K = 8.31446261815324e-3
"""SI Brochure, exact."""

KELVIN_AT_0_C = 273.15


def pressure_ratio(*, rate_ratio: Values, flow_exponent: Values) -> Values:
    """Pressure over reference pressure at this rate over reference rate. NaN for a negative rate."""
    return np.power(_not_negative(rate_ratio), flow_exponent)


def rate_ratio(*, pressure_ratio: Values, flow_exponent: Values) -> Values:
    """Rate over reference rate that a pressure over reference pressure stands for."""
    return np.power(_not_negative(pressure_ratio), ratio(1.0, flow_exponent))


def relative_rate_ripple(*, relative_pressure_ripple: Values, flow_exponent: Values) -> Values:
    """Small ripple of rate that shows as a small ripple of pressure: dQ/Q = (1/n) dP/P."""
    return ratio(relative_pressure_ripple, flow_exponent)


def arrhenius_factor(*, temperature_c: Values, reference_c: Values, activation_energy_kj_mol: Values) -> Values:
    """Viscosity over viscosity at the reference temperature; below 1 where the melt is hotter."""
    hotness = 1 / (temperature_c + KELVIN_AT_0_C) - 1 / (reference_c + KELVIN_AT_0_C)
    return np.exp(activation_energy_kj_mol / GAS_CONSTANT_KJ_MOL_K * hotness)


def expected_pressure_bar(
    *,
    reference_pressure_bar: Values,
    reference_rate_kg_h: Values,
    reference_melt_c: Values,
    rate_kg_h: Values,
    melt_c: Values,
    flow_exponent: Values,
    activation_energy_kj_mol: Values,
) -> Values:
    """Pressure to expect at this rate and melt temperature if screen, die and melt are as in the reference.

    activation_energy_kj_mol: at constant shear rate, which for a power-law melt is n times that at constant
    stress. Measured over expected pressure then shows what rate and temperature do not explain.
    """
    by_rate = pressure_ratio(rate_ratio=ratio(rate_kg_h, reference_rate_kg_h), flow_exponent=flow_exponent)
    by_temperature = arrhenius_factor(
        temperature_c=melt_c,
        reference_c=reference_melt_c,
        activation_energy_kj_mol=activation_energy_kj_mol,
    )
    return reference_pressure_bar * by_rate * by_temperature


def log_without_rate_and_temperature(
    *,
    pressure_bar: Values,
    rate: Values,
    melt_c: Values,
    flow_exponent: Values,
    activation_energy_kj_mol: Values,
) -> Values:
    """Logarithm of pressure with what rate and melt temperature do to it taken out, up to a constant.

    rate: anything in proportion to the mass rate. Differences of the result are changes of screen, die or melt. NaN
    where pressure or rate is not above zero. activation_energy_kj_mol: at constant shear rate, as above.
    """
    positive = np.where(np.greater(pressure_bar, 0), pressure_bar, np.nan)
    flowing = np.where(np.greater(rate, 0), rate, np.nan)
    heat = activation_energy_kj_mol / GAS_CONSTANT_KJ_MOL_K / (melt_c + KELVIN_AT_0_C)
    return np.log(positive) - flow_exponent * np.log(flowing) - heat


def share_blocked(*, pressure_ratio: Values, flow_exponent: Values) -> Values:
    """Share of equal holes that must have closed to raise pressure so much at the same rate.

    The rate through each of the others rises, and pressure with its power n: a tenth of the holes is +3.8 % at 0.35.
    """
    return 1 - ratio(1.0, rate_ratio(pressure_ratio=pressure_ratio, flow_exponent=flow_exponent))


def _not_negative(values: Values) -> Values:
    return np.where(np.less(values, 0), np.nan, values)
