"""Fill, residence time and specific throughput of a starve-fed twin screw.

Worked example computed from the stated forms (common practice for two-lobed screws, no source).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.fill_and_residence import (
    degree_of_fill,
    filled_kg,
    full_rate_kg_h,
    mean_residence_s,
    specific_throughput_kg_h_rpm,
    swept_volume_l_turn,
)
from monitor.physics.twin_screw import free_area_mm2, free_volume_cm3

OUTER_MM, ROOT_MM = 40.0, 40 / 1.55
CONVEYING = {
    "speed_rpm": 300.0,
    "swept_volume_l_turn": swept_volume_l_turn(
        free_area_mm2=free_area_mm2(outer_mm=OUTER_MM, root_mm=ROOT_MM), lead_mm=40.0
    ),
    "density_kg_m3": 750.0,
}


def test_worked_example() -> None:
    volume_l = free_volume_cm3(outer_mm=OUTER_MM, root_mm=ROOT_MM, length_mm=40 * 40.0) / 1000

    swept_l = CONVEYING["swept_volume_l_turn"]

    assert swept_l == pytest.approx(3.48793e-2, abs=5e-8)
    assert degree_of_fill(rate_kg_h=100.0, **CONVEYING) == pytest.approx(0.424745, abs=5e-7)
    assert full_rate_kg_h(**CONVEYING) == pytest.approx(235.4355, abs=5e-5)
    assert volume_l == pytest.approx(1.395173, abs=5e-7)
    residence = mean_residence_s(rate_kg_h=100.0, volume_l=volume_l, melt_density_kg_m3=750.0, fill=0.40)
    assert residence == pytest.approx(15.0679, abs=5e-5)
    specific = specific_throughput_kg_h_rpm(rate_kg_h=100.0, speed_rpm=300.0)
    assert specific == pytest.approx(0.333333, abs=5e-7)
    assert specific * 1000 / 60 == pytest.approx(5.555556, abs=5e-7)


def test_half_a_litre_of_die_delays_13_5_s_at_100_kg_h() -> None:
    assert mean_residence_s(rate_kg_h=100.0, volume_l=0.5, melt_density_kg_m3=750.0) == pytest.approx(13.5)


@given(rate=st.floats(1, 2000), speed=st.floats(10, 1200), times=st.floats(0.1, 10))
def test_rate_over_speed_is_the_number_for_fill(rate: float, speed: float, times: float) -> None:
    one = degree_of_fill(rate_kg_h=rate, speed_rpm=speed, swept_volume_l_turn=0.035, density_kg_m3=600.0)
    other = degree_of_fill(
        rate_kg_h=times * rate, speed_rpm=times * speed, swept_volume_l_turn=0.035, density_kg_m3=600.0
    )

    assert other == pytest.approx(one)


@given(rate=st.floats(1, 2000), fill=st.floats(0.05, 1))
def test_what_is_in_the_screw_leaves_in_one_residence_time(rate: float, fill: float) -> None:
    kilograms = filled_kg(volume_l=1.4, melt_density_kg_m3=750.0, fill=fill)
    residence = mean_residence_s(rate_kg_h=rate, volume_l=1.4, melt_density_kg_m3=750.0, fill=fill)

    assert rate * residence / 3600 == pytest.approx(kilograms)


def test_standstill_and_gaps_give_nan() -> None:
    specific = specific_throughput_kg_h_rpm(
        rate_kg_h=np.array([100.0, 100.0, np.nan]), speed_rpm=np.array([0.0, 50.0, 50.0])
    )

    assert np.array_equal(specific, [np.nan, 2.0, np.nan], equal_nan=True)
    assert np.isnan(mean_residence_s(rate_kg_h=0.0, volume_l=1.0, melt_density_kg_m3=750.0))
