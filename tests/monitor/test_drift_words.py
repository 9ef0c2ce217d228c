"""What a creep is told with: only what its interval bears."""

from __future__ import annotations

import math

import pytest

from monitor.drift_words import forecast_words, runs_emptier


def words(slope: float, low: float, high: float, mean: float = 60.0, edge: float = 50.0) -> str:
    facts = {"slope": slope, "slope_low": low, "slope_high": high, "mean": mean, "edge": edge}
    return forecast_words(facts, "%", 0.0)


def test_a_clear_trend_is_told_with_its_interval_and_when_it_is_at_the_edge() -> None:
    assert words(-4.0, -5.0, -2.5) == (
        ", now -4 % an hour (-5 to -2.5); at the window's edge, 50.0 %, in 2.5 h (2.0 to 4.0 h)"
    )


@pytest.mark.parametrize("high", [0.0, 1.0, -1.7e-13, -0.05, math.nan])
def test_an_interval_that_reaches_to_nothing_is_no_trend(high: float) -> None:
    assert words(-5.6, -11.0, high) == ""


def test_away_from_the_edge_no_time_is_told() -> None:
    assert words(4.0, 2.5, 5.0) == ", now +4 % an hour (+2.5 to +5)"


@pytest.mark.parametrize(
    ("load_ln", "pressure_ln", "melt_c", "emptier"),
    [
        (-0.17, -0.06, 0.0, True),
        (-0.17, -0.145, 0.0, False),
        (-0.17, -0.145, math.nan, False),
        (-0.17, -0.145, 2.4, True),
        (-0.17, -0.145, -2.4, False),
        (-0.17, -0.145, 6.0, False),
        (-0.17, -0.25, 2.4, False),
        (-0.08, -0.02, 2.4, False),
        (-0.17, 0.05, 2.4, False),
    ],
)
def test_less_that_comes_in_is_told_from_a_thinner_melt_by_pressure_and_heat(
    load_ln: float, pressure_ln: float, melt_c: float, emptier: bool
) -> None:
    """A thinner lot is colder; six degrees thin a melt by as much as the load has lost."""
    assert runs_emptier({"load_ln": load_ln, "pressure_ln": pressure_ln, "melt_c": melt_c}) == emptier
