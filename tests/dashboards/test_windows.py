"""Where a reading stands in its window."""

from __future__ import annotations

import numpy as np
import pytest

from dashboards.windows import (
    FAR_OVER,
    FAR_UNDER,
    INSIDE,
    NO_READING,
    OVER,
    UNDER,
    codes,
    is_plain_start,
    place_of,
    position,
    windows_of,
)
from monitor.line import Line
from monitor.recipe import Recipe, Window

FULL = Window(role="torque", target=71, low=64, high=76, low_outer=60, high_outer=90)


@pytest.mark.parametrize(
    ("value", "wanted"),
    [(71, 0), (76, 1), (64, -1), (90, 2), (60, -2), (73.5, 0.5), (83, 1.5), (104, 3), (56, -3)],
)
def test_position_is_piecewise_between_target_and_limits(value: float, wanted: float) -> None:
    assert float(position(value, FULL)) == pytest.approx(wanted)


def test_position_never_jumps_or_falls() -> None:
    y = position(np.linspace(40, 120, 4001), FULL)
    assert np.all(np.diff(y) >= 0)
    assert np.diff(y).max() < 0.02


def test_target_need_not_be_in_the_middle() -> None:
    assert float(position(65, Window(role="torque", target=64.5, low=64, high=76))) > 0


def test_one_sided_window_has_no_under() -> None:
    window = Window(role="vacuum", at="V1", high=130)
    assert place_of(5, window) == "inside"
    assert float(position(5, window)) == 0
    assert place_of(131, window) == "over"


@pytest.mark.parametrize(
    ("value", "code"),
    [
        (71, INSIDE),
        (64, INSIDE),
        (63.9, UNDER),
        (59, FAR_UNDER),
        (76.1, OVER),
        (91, FAR_OVER),
        (np.nan, NO_READING),
    ],
)
def test_codes(value: float, code: int) -> None:
    assert codes(np.array([value]), FULL)[0] == code


def test_a_limit_stated_only_as_outer_bounds_good_product_too() -> None:
    assert place_of(91, Window(role="torque", high_outer=90)) == "far over"


def test_no_window_and_no_reading_are_told_apart() -> None:
    assert place_of(71, None) == "no window"
    assert place_of(None, FULL) == "no reading"
    assert place_of(float("nan"), FULL) == "no reading"


def test_extreme_judges_the_outer_high_limit_of_a_cell() -> None:
    assert codes(np.array([70.0]), FULL, np.array([95.0]))[0] == FAR_OVER


def test_zone_target_without_window_gets_the_plain_start() -> None:
    line = Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw"},
            "zone": [{"name": "Z1"}, {"name": "Z2"}],
            "sensor": [
                {"tag": "a", "role": "zone_temperature", "at": "Z1"},
                {"tag": "b", "role": "zone_temperature", "at": "Z2"},
            ],
        }
    )
    recipe = Recipe.model_validate(
        {
            "format": 1,
            "recipe": {"name": "R"},
            "zones": {"Z1": 200, "Z2": 210, "Z3": 220},
            "window": [{"role": "zone_temperature", "at": "Z2", "target": 210, "low": 200, "high": 220}],
        }
    )
    found = windows_of(line, recipe)
    assert set(found) == {"zone_temperature:Z1", "zone_temperature:Z2"}
    assert (found["zone_temperature:Z1"].low, found["zone_temperature:Z1"].high_outer) == (197, 205)
    assert is_plain_start(recipe, "zone_temperature:Z1") and not is_plain_start(recipe, "zone_temperature:Z2")
    assert windows_of(line, None) == {}
