"""Shaft power and specific mechanical energy.

The worked example is computed from the stated forms; the form with motor power, torque percent, speed ratio
and a gearbox factor over rate is the one used in trade articles on twin-screw scale-up.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.energy import (
    adiabatic_melt_c,
    adiabatic_rise_k,
    net_torque_pct,
    rated_torque_nm,
    shaft_power_from_motor_kw,
    shaft_power_from_torque_kw,
    shaft_power_kw,
    specific_energy_kwh_kg,
    torque_from_current_pct,
)

DRIVE = {"rated_power_kw": 75.0, "rated_speed_rpm": 600.0}


def test_worked_example() -> None:
    torque = rated_torque_nm(**DRIVE)
    power = shaft_power_kw(torque_pct=80.0, speed_rpm=450.0, **DRIVE)
    energy = specific_energy_kwh_kg(shaft_power_kw=power, rate_kg_h=300.0, target_rate_kg_h=300.0)

    assert torque == pytest.approx(1193.662, abs=5e-4)
    assert 0.8 * torque == pytest.approx(954.930, abs=5e-4)
    assert power == pytest.approx(43.65, abs=5e-13)
    assert energy == pytest.approx(0.1455, abs=5e-15)
    assert energy * 3600 == pytest.approx(523.8, abs=5e-11)
    assert adiabatic_rise_k(specific_energy_kwh_kg=energy, cp_kj_kg_k=2.7) == pytest.approx(194.0, abs=5e-13)


def test_net_of_no_load() -> None:
    power = shaft_power_kw(torque_pct=net_torque_pct(torque_pct=80.0, no_load_torque_pct=8.0), speed_rpm=450.0, **DRIVE)

    net = specific_energy_kwh_kg(shaft_power_kw=power, rate_kg_h=300.0, target_rate_kg_h=300.0)

    assert net == pytest.approx(0.13095, abs=5e-15)


@pytest.mark.parametrize(("energy", "cp", "rise"), [(0.15, 2.7, 200.0), (0.20, 2.3, 313.04), (0.10, 2.0, 180.0)])
def test_adiabatic_rise(energy: float, cp: float, rise: float) -> None:
    computed = adiabatic_rise_k(specific_energy_kwh_kg=energy, cp_kj_kg_k=cp)

    assert computed == pytest.approx(rise, abs=0.005)


def test_adiabatic_melt_after_melting() -> None:
    """0.2 kWh/kg = 720 kJ/kg; less 300 to warm the solid and 200 to melt it, 220 at 2.2 kJ/kg K is 100 K."""
    heats = {
        "melting_c": 165.0,
        "solid_heat_kj_kg": 300.0,
        "fusion_heat_kj_kg": 200.0,
        "cp_melt_kj_kg_k": 2.2,
    }

    assert adiabatic_melt_c(specific_energy_kwh_kg=0.2, **heats) == pytest.approx(265.0)
    assert np.isnan(adiabatic_melt_c(specific_energy_kwh_kg=0.1, **heats))


def test_power_is_torque_times_speed() -> None:
    """P[kW] = torque[N m] * n[rpm] / 9549.2966, the handbook form, here to its last printed figure."""
    power = shaft_power_from_torque_kw(torque_nm=954.93, speed_rpm=450.0, efficiency=1.0)

    assert power == pytest.approx(954.93 * 450 / 9549.2966, rel=0.00005 / 9549.2966)


@given(torque=st.floats(0, 120), speed=st.floats(0, 600))
def test_percent_and_newton_metres_agree(torque: float, speed: float) -> None:
    by_percent = shaft_power_kw(torque_pct=torque, speed_rpm=speed, **DRIVE)
    by_torque = shaft_power_from_torque_kw(torque_nm=torque / 100 * rated_torque_nm(**DRIVE), speed_rpm=speed)

    assert by_percent == pytest.approx(by_torque, rel=1e-12, abs=1e-12)


def test_motor_power_less_the_gearbox() -> None:
    assert shaft_power_from_motor_kw(motor_power_kw=45.0) == pytest.approx(43.65)


def test_energy_is_blank_below_a_quarter_of_the_target_rate() -> None:
    rates = np.array([300.0, 75.0, 74.9, 0.0, -5.0, np.nan])

    energy = specific_energy_kwh_kg(shaft_power_kw=30.0, rate_kg_h=rates, target_rate_kg_h=300.0)

    assert energy == pytest.approx([0.1, 0.4, *4 * [np.nan]], nan_ok=True)


def test_an_unknown_target_rate_blanks_too() -> None:
    assert np.isnan(specific_energy_kwh_kg(shaft_power_kw=30.0, rate_kg_h=300.0, target_rate_kg_h=np.nan))
    assert specific_energy_kwh_kg(shaft_power_kw=30.0, rate_kg_h=1.0, target_rate_kg_h=0.0) == pytest.approx(30)


def test_magnetising_current_comes_off_in_quadrature() -> None:
    """5 A with 3 A magnetising is 4 A of torque, the 3-4-5 triangle; half the torque still draws 3.6 A."""
    motor = {"magnetising_current_a": 3.0, "rated_current_a": 5.0}

    assert torque_from_current_pct(current_a=5.0, **motor) == pytest.approx(100)
    assert torque_from_current_pct(current_a=math.sqrt(3.0**2 + 2.0**2), **motor) == pytest.approx(50)
    assert np.array_equal(
        torque_from_current_pct(current_a=np.array([3.0, 2.9, np.nan]), **motor),
        [0, 0, np.nan],
        equal_nan=True,
    )
    assert np.isnan(torque_from_current_pct(current_a=5.0, magnetising_current_a=3.0, rated_current_a=3.0))


@given(torque=st.floats(0, 150), share=st.floats(0, 0.8), rated=st.floats(1, 500))
def test_current_there_and_back(torque: float, share: float, rated: float) -> None:
    field = share * rated
    torque_current = torque / 100 * math.sqrt(rated**2 - field**2)
    current = math.hypot(field, torque_current)

    back = torque_from_current_pct(current_a=current, magnetising_current_a=field, rated_current_a=rated)

    assert back == pytest.approx(torque, rel=1e-6, abs=1e-4)


def test_gaps_stay_gaps() -> None:
    power = shaft_power_kw(torque_pct=np.array([50.0, np.nan]), speed_rpm=300.0, **DRIVE)

    assert np.isnan(power).tolist() == [False, True]
