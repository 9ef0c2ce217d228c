"""Shaft power, specific mechanical energy and what it does to the melt.

A torque signal may be percent of motor, of gearbox or of drive current, and constant torque ends at base
speed: say in the line file what the signal means.
"""

from __future__ import annotations

import math

import numpy as np

from monitor.physics.values import Values, ratio

GEARBOX_EFFICIENCY = 0.97
"""Usual efficiency of a twin-screw gearbox; common practice, no source."""

MIN_RATE_SHARE = 0.25
"""Specific energy is blank below this share of the target rate: little melt over much power says
nothing."""

KJ_PER_KWH = 3600.0


def rated_torque_nm(*, rated_power_kw: Values, rated_speed_rpm: Values) -> Values:
    """Torque at which rated power is reached at rated speed."""
    return ratio(1000 * rated_power_kw, rated_speed_rpm * (2 * math.pi / 60))


def shaft_power_kw(
    *,
    torque_pct: Values,
    speed_rpm: Values,
    rated_power_kw: Values,
    rated_speed_rpm: Values,
    efficiency: Values = GEARBOX_EFFICIENCY,
) -> Values:
    """Power into the screws from torque in percent of rated: constant-torque drive, up to rated speed."""
    return rated_power_kw * (torque_pct / 100) * ratio(speed_rpm, rated_speed_rpm) * efficiency


def shaft_power_from_torque_kw(
    *, torque_nm: Values, speed_rpm: Values, efficiency: Values = GEARBOX_EFFICIENCY
) -> Values:
    """Power into the screws from a torque measured ahead of the gearbox, referred to screw speed."""
    return torque_nm * speed_rpm * (2 * math.pi / 60) / 1000 * efficiency


def shaft_power_from_motor_kw(*, motor_power_kw: Values, efficiency: Values = GEARBOX_EFFICIENCY) -> Values:
    """Power into the screws from the power the drive reports."""
    return motor_power_kw * efficiency


def net_torque_pct(*, torque_pct: Values, no_load_torque_pct: Values) -> Values:
    """Torque that works on the melt. no_load_torque_pct: what the empty machine shows at this speed."""
    return torque_pct - no_load_torque_pct


def torque_from_current_pct(*, current_a: Values, magnetising_current_a: Values, rated_current_a: Values) -> Values:
    """Torque in percent of rated from the current of an induction motor.

    The magnetising current makes the field and no torque. It stands at right angles to the torque current,
    so it comes off in quadrature; taking current for torque hides much of a loss of feed. A current below
    the magnetising one gives 0, a rated current not above it NaN.
    """
    field = np.square(magnetising_current_a)
    at_rated = np.square(rated_current_a) - field
    torque_share = ratio(np.square(current_a) - field, np.where(np.greater(at_rated, 0), at_rated, np.nan))
    return 100 * np.sqrt(np.maximum(torque_share, 0))


def specific_energy_kwh_kg(*, shaft_power_kw: Values, rate_kg_h: Values, target_rate_kg_h: Values) -> Values:
    """Specific mechanical energy: shaft power over rate, NaN below a quarter of the target rate.

    Give it net power (from net torque) and it is the net energy, the part that goes into the melt.
    target_rate_kg_h: rate wanted of the line; NaN makes the result NaN, 0 blanks rates of zero and less only.
    """
    enough = np.greater(rate_kg_h, 0) & np.greater_equal(rate_kg_h, MIN_RATE_SHARE * target_rate_kg_h)
    return shaft_power_kw / np.where(enough, rate_kg_h, np.nan)


def adiabatic_rise_k(*, specific_energy_kwh_kg: Values, cp_kj_kg_k: Values) -> Values:
    """Rise of melt temperature if all mechanical energy stayed in a melt that is already molten."""
    return ratio(specific_energy_kwh_kg * KJ_PER_KWH, cp_kj_kg_k)


def adiabatic_melt_c(
    *,
    specific_energy_kwh_kg: Values,
    melting_c: Values,
    solid_heat_kj_kg: Values,
    fusion_heat_kj_kg: Values,
    cp_melt_kj_kg_k: Values,
) -> Values:
    """Melt temperature of a crystalline polymer fed cold and melted by the screws alone.

    solid_heat_kj_kg: heat from feed temperature to melting point. NaN where the energy does not melt it all.
    """
    left_kj_kg = specific_energy_kwh_kg * KJ_PER_KWH - solid_heat_kj_kg - fusion_heat_kj_kg
    return melting_c + ratio(np.where(np.less(left_kj_kg, 0), np.nan, left_kj_kg), cp_melt_kj_kg_k)
