"""Thermocouple tolerances against IEC 60584-1:2013 (formerly 60584-2:1982), and the defaults that lean on them."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.over_temperature import OverTemperature
from monitor.conditions.under_temperature import UnderTemperature
from monitor.physics.thermocouple import TOLERANCES, crossover_c, tolerance_c

# type, class, °C, tolerance: IEC 60584-1:2013, the larger of the constant and the share of |t|
PRINTED = [
    ("K", 1, 100.0, 1.5), ("K", 1, 1000.0, 4.0), ("K", 2, 100.0, 2.5), ("K", 2, 1000.0, 7.5), ("K", 2, 1200.0, 9.0),
    ("J", 1, 375.0, 1.5), ("J", 1, 750.0, 3.0), ("J", 2, 300.0, 2.5), ("J", 2, 400.0, 3.0), ("J", 2, 750.0, 5.625),
    ("N", 2, 600.0, 4.5), ("E", 1, 800.0, 3.2), ("E", 2, 900.0, 6.75), ("T", 1, 100.0, 0.5), ("T", 1, 350.0, 1.4),
    ("T", 2, 350.0, 2.625), ("K", 2, -40.0, 2.5),
]  # fmt: skip


@pytest.mark.parametrize(("couple", "quality", "at_c", "wanted"), PRINTED)
def test_printed_tolerances(couple, quality, at_c, wanted):
    assert float(tolerance_c(couple, quality, at_c)) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("couple", ["J", "K", "N", "E"])
def test_the_constant_part_rules_up_to_375_and_333_degrees(couple):
    """Recomputed from the two parts: class 1 to 375 °C, class 2 to 333 °C."""
    assert crossover_c(couple, 1) == pytest.approx(375.0)
    assert crossover_c(couple, 2) == pytest.approx(1000 / 3)


def test_at_the_temperatures_of_an_extruder():
    """200 to 330 °C: ±1.5 °C class 1, ±2.5 °C class 2, so two sound class 2 couples may differ by 5 °C."""
    barrel = np.linspace(200, 330, 14)

    np.testing.assert_array_equal(tolerance_c("K", 1, barrel), 1.5)
    np.testing.assert_array_equal(tolerance_c("J", 2, barrel), 2.5)


def test_outside_its_range_nothing_is_said():
    assert np.isnan(tolerance_c("J", 2, 751.0)) and np.isnan(tolerance_c("T", 1, 351.0))
    assert np.isnan(tolerance_c("K", 1, np.nan))


def test_zone_windows_are_wider_than_a_sound_couple_is_wrong():
    """A default window narrower than the couple's own tolerance would judge the couple, not the zone."""
    worst = max(float(tolerance_c(couple, 2, 330.0)) for couple in ("J", "K"))

    assert OverTemperature().inner_c > worst and UnderTemperature().inner_c > worst


def test_the_better_class_is_never_the_wider():
    for couple in ("K", "N", "J", "E", "T"):
        better, plain = TOLERANCES[couple, 1], TOLERANCES[couple, 2]
        assert better.constant_c < plain.constant_c and better.share < plain.share
