"""Metering section and die.

Source of the worked examples: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on shaping
processes for plastics, Examples 13.1 and 13.2 and the data of Problem 13.10 (answers of the latter
recomputed from the same formulas). Values as printed there, some from memory, all reproduced.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.single_screw import (
    SQUARE_PITCH_HELIX_DEG,
    OperatingPoint,
    drag_capacity_kg_h_rpm,
    drag_flow_m3_s,
    max_pressure_pa,
    operating_point,
    pressure_flow_m3_s,
    round_die_conductance_m3_s_pa,
    slit_die_conductance_m3_s_pa,
)

EXAMPLE_13_1 = {"diameter_m": 0.075, "channel_depth_m": 0.006, "helix_deg": 20.0}
EXAMPLE_13_1_LENGTH = {"length_m": 1.9, "viscosity_pa_s": 100.0}
EXAMPLE_13_2_DIE = {"diameter_m": 0.0065, "length_m": 0.020, "viscosity_pa_s": 100.0}


def test_example_13_1_drag_flow() -> None:
    flow = drag_flow_m3_s(**EXAMPLE_13_1, speed_rev_s=1.0)

    assert flow == pytest.approx(5.3528e-5, abs=0.5e-9)
    # The book prints 53,525e-9: it rounds sine and cosine to four figures.
    assert flow == pytest.approx(53_525e-9, rel=1e-4)


def test_example_13_1_pressure_flow() -> None:
    back = pressure_flow_m3_s(**EXAMPLE_13_1, **EXAMPLE_13_1_LENGTH, pressure_pa=7.0e6)

    assert back == pytest.approx(1.82781e-5, abs=0.5e-10)
    # The book prints 18,276e-9, again from rounded sines, and 35,249e-9 for the output.
    assert back == pytest.approx(18_276e-9, rel=2e-4)
    output = drag_flow_m3_s(**EXAMPLE_13_1, speed_rev_s=1.0) - back
    assert output == pytest.approx(3.52499e-5, abs=0.5e-10)


def test_example_13_2_operating_point() -> None:
    drag = drag_flow_m3_s(**EXAMPLE_13_1, speed_rev_s=1.0)
    most = max_pressure_pa(**EXAMPLE_13_1, **EXAMPLE_13_1_LENGTH, speed_rev_s=1.0)
    die = round_die_conductance_m3_s_pa(**EXAMPLE_13_2_DIE)
    point = operating_point(drag_flow_m3_s=drag, max_pressure_pa=most, die_conductance_m3_s_pa=die)

    assert most == pytest.approx(2.04997e7, abs=50)
    assert die == pytest.approx(2.19060e-11, abs=0.5e-16)
    assert point.pressure_pa == pytest.approx(2.18329e6, abs=5)
    assert point.flow_m3_s == pytest.approx(4.78271e-5, abs=0.5e-10)
    # As the book prints them.
    assert most == pytest.approx(20.5e6, abs=0.05e6)
    assert die == pytest.approx(21.9e-12, abs=0.05e-12)
    assert point.pressure_pa == pytest.approx(2.184e6, rel=5e-4)
    assert point.flow_m3_s == pytest.approx(47.8e-6, abs=0.05e-6)


def test_problem_13_10() -> None:
    screw = {"diameter_m": 0.120, "channel_depth_m": 0.0065, "helix_deg": 17.0}
    drag = drag_flow_m3_s(**screw, speed_rev_s=1.0)
    most = max_pressure_pa(**screw, length_m=2.8, viscosity_pa_s=200.0, speed_rev_s=1.0)
    die = round_die_conductance_m3_s_pa(diameter_m=0.0035, length_m=0.0125, viscosity_pa_s=200.0)
    point = operating_point(drag_flow_m3_s=drag, max_pressure_pa=most, die_conductance_m3_s_pa=die)

    assert drag == pytest.approx(1.291449e-4, abs=0.5e-10)
    assert most == pytest.approx(98.0629e6, abs=50)
    assert die == pytest.approx(1.473235e-12, abs=0.5e-18)
    assert point.pressure_pa == pytest.approx(46.2853e6, abs=50)
    assert point.flow_m3_s == pytest.approx(6.818907e-5, abs=0.5e-11)


def test_square_pitch_helix_angle() -> None:
    """17.66 degrees in every text on the subject."""
    assert round(SQUARE_PITCH_HELIX_DEG, 2) == 17.66


def test_a_slit_is_a_flat_channel() -> None:
    """A slit passes w t^3 / (12 eta L): the flat-plate pressure flow, here w 200, t 1, L 20 mm, 1000 Pa s."""
    slit = slit_die_conductance_m3_s_pa(width_m=0.2, gap_m=0.001, length_m=0.02, viscosity_pa_s=1000.0)

    assert slit == pytest.approx(0.2 * 0.001**3 / (12 * 1000 * 0.02), rel=1e-15)


def test_capacity_is_drag_flow_in_plant_units() -> None:
    """Example 13.1 at 60 rpm and 750 kg/m3: 5.3528e-5 m3/s * 750 * 3600 = 144.53 kg/h."""
    capacity = drag_capacity_kg_h_rpm(diameter_mm=75.0, channel_depth_mm=6.0, melt_density_kg_m3=750.0, helix_deg=20.0)

    assert 60 * capacity == pytest.approx(144.53, abs=0.005)


depths = st.floats(0.002, 0.02)
pressures_of_max = st.floats(0, 1)


@given(
    diameter=st.floats(0.02, 0.3),
    depth=depths,
    helix=st.floats(10, 30),
    length=st.floats(0.2, 4),
    viscosity=st.floats(50, 5000),
    speed=st.floats(0.1, 5),
    share=pressures_of_max,
)
def test_output_falls_in_a_line_from_open_to_closed(
    diameter: float, depth: float, helix: float, length: float, viscosity: float, speed: float, share: float
) -> None:
    screw = {"diameter_m": diameter, "channel_depth_m": depth, "helix_deg": helix}
    metering = {"length_m": length, "viscosity_pa_s": viscosity}
    drag = drag_flow_m3_s(**screw, speed_rev_s=speed)
    most = max_pressure_pa(**screw, **metering, speed_rev_s=speed)
    output = drag - pressure_flow_m3_s(**screw, **metering, pressure_pa=share * most)

    assert output / drag == pytest.approx(1 - share, abs=1e-12)
    assert drag_flow_m3_s(**screw, speed_rev_s=2 * speed) == pytest.approx(2 * drag)


@given(viscosity=st.floats(50, 5000), speed=st.floats(0.1, 5))
def test_viscosity_moves_the_pressure_and_not_the_flow(viscosity: float, speed: float) -> None:
    """Screw and die share the viscosity, so a thicker melt costs pressure and no output."""

    def point_at(viscosity_pa_s: float, speed_rev_s: float) -> OperatingPoint:
        return operating_point(
            drag_flow_m3_s=drag_flow_m3_s(**EXAMPLE_13_1, speed_rev_s=speed_rev_s),
            max_pressure_pa=max_pressure_pa(
                **EXAMPLE_13_1, length_m=1.9, viscosity_pa_s=viscosity_pa_s, speed_rev_s=speed_rev_s
            ),
            die_conductance_m3_s_pa=round_die_conductance_m3_s_pa(
                diameter_m=0.0065, length_m=0.02, viscosity_pa_s=viscosity_pa_s
            ),
        )

    one, here = point_at(100.0, 1.0), point_at(viscosity, speed)

    assert here.flow_m3_s == pytest.approx(one.flow_m3_s * speed)
    assert here.pressure_pa == pytest.approx(one.pressure_pa * speed * viscosity / 100)


def test_gaps_stay_gaps() -> None:
    flow = drag_flow_m3_s(**EXAMPLE_13_1, speed_rev_s=np.array([1.0, np.nan, 2.0]))

    assert np.isnan(flow).tolist() == [False, True, False]
