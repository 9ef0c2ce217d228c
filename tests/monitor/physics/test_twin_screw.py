"""Cross-section of twin screws.

Reference: M. L. Booy, Polymer Engineering and Science 18, 973 (1978); the table was computed from the
formulas and checked against numerical integration of the contour, which the second test repeats.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from monitor.physics.twin_screw import (
    centre_distance_mm,
    free_area_mm2,
    free_volume_cm3,
    specific_torque_nm_cm3,
    tip_angle_deg,
)

# outer mm, ratio of outer to root, root mm, centre distance mm, tip degrees, free area mm2, cm3 a diameter,
# area/Do2
TABLE = [
    (40, 1.45, 27.586, 33.793, 25.307, 769.458, 30.778, 0.4809),
    (40, 1.55, 25.806, 32.903, 20.688, 871.983, 34.879, 0.5450),
    (40, 1.66, 24.096, 32.048, 16.491, 968.539, 38.742, 0.6053),
    (40, 1.80, 22.222, 31.111, 12.115, 1072.194, 42.888, 0.6701),
    (18, 1.50, 12.000, 15.000, 22.885, 166.595, 2.999, 0.5142),
    (30, 1.50, 20.000, 25.000, 22.885, 462.763, 13.883, 0.5142),
    (50, 1.55, 32.258, 41.129, 20.688, 1362.474, 68.124, 0.5450),
]


@pytest.mark.parametrize(("outer", "depth_ratio", "root", "centre", "tip", "area", "volume", "share"), TABLE)
def test_table_of_screws(
    outer: float,
    depth_ratio: float,
    root: float,
    centre: float,
    tip: float,
    area: float,
    volume: float,
    share: float,
) -> None:
    root_mm = outer / depth_ratio
    free_area = free_area_mm2(outer_mm=outer, root_mm=root_mm)

    assert root_mm == pytest.approx(root, abs=0.0005)
    assert centre_distance_mm(outer_mm=outer, root_mm=root_mm) == pytest.approx(centre, abs=0.0005)
    assert tip_angle_deg(outer_mm=outer, root_mm=root_mm) == pytest.approx(tip, abs=0.0005)
    assert free_area == pytest.approx(area, abs=0.0005)
    free_volume = free_volume_cm3(outer_mm=outer, root_mm=root_mm, length_mm=outer)
    assert free_volume == pytest.approx(volume, abs=0.0005)
    assert free_area / outer**2 == pytest.approx(share, abs=0.00005)


def test_a_trade_article_gives_3_cm3_a_diameter_for_18_mm() -> None:
    """A pharmaceutical-technology article quotes 3 cm3 a diameter for an 18 mm machine."""
    assert free_volume_cm3(outer_mm=18.0, root_mm=12.0, length_mm=18.0) == pytest.approx(3, abs=0.5)


def _screw_area_by_integration(outer: float, root: float, starts: int) -> float:
    """Tip, flank, root and flank of each start, each a quarter of the contour, by integrating r^2/2."""
    radius, centre = outer / 2, (outer + root) / 2
    flank_angle = 2 * math.acos(centre / outer)
    tip = math.pi / starts - flank_angle

    def half_square(angle: float) -> float:
        # Wiped by the other screw's tip corner, which runs on a circle about the other shaft.
        flank = math.sqrt(centre**2 - (radius * math.sin(angle)) ** 2) - radius * math.cos(angle)
        return flank**2 / 2

    flank_area = quad(half_square, 0, flank_angle)[0]
    return starts * (tip / 2 * (radius**2 + (centre - radius) ** 2) + 2 * flank_area)


@given(
    outer=st.floats(10, 300),
    depth_ratio=st.floats(1.1, 2.3),
    starts=st.sampled_from([1, 2]),
)
def test_free_area_by_integration_of_the_contour(outer: float, depth_ratio: float, starts: int) -> None:
    root = outer / depth_ratio
    centre, radius = (outer + root) / 2, outer / 2
    overlap_half_angle = math.acos(centre / outer)
    bore = 2 * math.pi * radius**2 - radius**2 * (2 * overlap_half_angle - math.sin(2 * overlap_half_angle))

    expected = bore - 2 * _screw_area_by_integration(outer, root, starts)

    assert free_area_mm2(outer_mm=outer, root_mm=root, starts=starts) == pytest.approx(expected, rel=1e-7)


def test_two_starts_end_at_a_depth_ratio_of_2_414() -> None:
    """The tip vanishes at an outer diameter of 1/(sqrt(2) - 1) roots."""
    limit = 1 / (math.sqrt(2) - 1)

    assert tip_angle_deg(outer_mm=100.0, root_mm=100 / (limit - 1e-6)) == pytest.approx(0, abs=1e-3)
    with pytest.raises(ValueError, match="can't have 2 starts"):
        free_area_mm2(outer_mm=100.0, root_mm=100 / (limit + 1e-6))


def test_swapped_diameters_are_refused() -> None:
    with pytest.raises(ValueError, match=r"root 40.0 mm must be smaller than its outer diameter 26.0 mm"):
        tip_angle_deg(outer_mm=26.0, root_mm=40.0)


def test_specific_torque_of_a_75_kw_gearbox() -> None:
    """75 kW at 600 rpm is 596.83 Nm a shaft; over the cube of 3.2903 cm, 16.755 Nm/cm3."""
    per_shaft = 75_000 / (2 * math.pi * 10) / 2

    assert round(per_shaft, 2) == 596.83
    torque = specific_torque_nm_cm3(torque_per_screw_nm=per_shaft, centre_distance_mm=32.903)
    assert torque == pytest.approx(16.755, abs=5e-4)


def test_gaps_stay_gaps() -> None:
    assert np.isnan(free_area_mm2(outer_mm=np.nan, root_mm=20.0))
