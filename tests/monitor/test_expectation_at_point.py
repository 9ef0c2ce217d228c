"""A duty belongs to the speed, rate and set-points that bore it out: a new one is learned in haste only at others."""

from __future__ import annotations

import numpy as np

from monitor import expectation
from monitor.learned_quantities import KINDS, Kind, sets_c
from monitor.tolerances import Kinds
from monitor.view import Readings
from tests.monitor.test_expectation import flat, learn


def duty(row: list[float], changed: tuple[int, ...], speed: list[float]) -> np.ndarray:
    """Reference of a heater output, %, in minutes of six cells."""
    kinds = Kinds([Kind(absolute=4.0, kept=True)])
    return learn([row], [True] * len(row), [i in changed for i in range(len(row))], 6, 0, (), kinds, speed)[0][0, 0]


def test_a_duty_stands_over_a_small_change_and_is_learned_anew_in_half_an_hour() -> None:
    row = [*flat(25.0, 10), *flat(18.0, 50)]
    reference = duty(row, (60,), [*flat(100.0, 10), *flat(108.0, 50)])

    assert (reference[18 : 60 + 31 * 6] == 25.0).all()
    assert reference[60 + 31 * 6] == 18.0


def test_a_duty_is_forgotten_at_a_large_change() -> None:
    row = [*flat(25.0, 10), *flat(18.0, 10)]
    reference = duty(row, (60,), [*flat(100.0, 10), *flat(140.0, 10)])

    assert (reference[18:72] == 25.0).all(), "until the first steady minute says how large the change was"
    assert np.isnan(reference[72:84]).all() and (reference[84:] == 18.0).all()


def test_a_duty_that_jumps_without_a_change_is_a_fault_for_four_hours() -> None:
    row = [*flat(25.0, 10), *flat(35.0, 245)]
    reference = duty(row, (), flat(100.0, 255))

    assert (reference[60 : 250 * 6] == 25.0).all() and reference[-1] == 35.0


AT_POINT = Kinds([KINDS["zone_output"]])


def at_point(row: list[float], changed: tuple[int, ...], speed: list[float], sets: list[float] | None = None) -> float:
    """What is expected of a zone's output at the end, %, in minutes of six cells."""
    n = len(row)
    moved, points = np.array([i in changed for i in range(n)]), np.array([speed, speed])
    _, got = expectation.advance(
        expectation.start(1, 6), np.array([row]), ~moved, moved, 0, AT_POINT, points, np.zeros(n, bool),
        None if sets is None else np.array(sets),
    )  # fmt: skip
    return float(got.reference[0, -1])


def test_a_duty_that_leaves_its_level_after_a_change_and_back_is_not_learned_in_haste() -> None:
    """A screen is changed at a lower speed; 25 min later, at the speed and rate of before, the zone takes twice."""
    row = [*flat(19.0, 75), *flat(38.0, 80)]
    speed = [*flat(100.0, 40), *flat(88.0, 6), *flat(100.0, 109)]

    assert at_point(row, (240, 276), speed) == 19.0


def test_a_duty_that_has_stood_for_half_an_hour_after_a_change_is_the_level_there() -> None:
    row = [*flat(19.0, 40 + 40), *flat(38.0, 45)]

    assert at_point(row, (240,), [*flat(100.0, 40), *flat(88.0, 85)]) == 19.0


def test_a_duty_is_learned_anew_in_half_an_hour_where_speed_or_set_points_are_others() -> None:
    row = [*flat(19.0, 40), *flat(28.0, 45)]

    assert at_point(row, (240,), [*flat(100.0, 40), *flat(90.0, 45)]) == 28.0
    hotter = [*flat(1000.0, 40), *flat(1020.0, 45)]
    assert at_point(row, (240,), flat(100.0, 85), hotter) == 28.0
    assert at_point(row, (240,), flat(100.0, 85), flat(1000.0, 85)) == 19.0


def test_the_set_points_of_all_zones_together_and_nothing_where_one_is_missing() -> None:
    index = {"zone_setpoint:Z1": 0, "screw_speed": 1, "zone_setpoint:Z2": 2}
    values = np.array([[200.0, 200.0], [300.0, 300.0], [210.0, np.nan]])

    np.testing.assert_array_equal(sets_c(Readings(0, 10_000_000_000, index, values, values)), [410.0, np.nan])
    assert np.isnan(sets_c(Readings(0, 10_000_000_000, {"screw_speed": 0}, values[1:2], values[1:2]))).all()
