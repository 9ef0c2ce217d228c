"""Individuals and moving range chart. Source: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import lfilter

from monitor.statistics.individuals import AutocorrelatedError, individuals_limits, moving_ranges
from monitor.statistics.moments import mean_and_sd
from monitor.statistics.shewhart_constants import shewhart_constants

NIST_FLOW = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
# The page uses d2 and D4 as tables print them.
PRINTED = dataclasses.replace(shewhart_constants(2), d2=1.128, d4_upper=3.267)


def test_nist_flow_rates() -> None:
    limits = individuals_limits(NIST_FLOW, PRINTED)

    assert moving_ranges(NIST_FLOW) == pytest.approx([2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5])
    assert limits.centre == pytest.approx(50.81)
    assert round(limits.mean_moving_range, 4) == 1.8778
    assert (round(limits.upper, 4), round(limits.lower, 4)) == (55.8041, 45.8159)
    assert round(limits.upper_moving_range, 4) == 6.1347
    assert ((limits.lower < NIST_FLOW) & (limits.upper > NIST_FLOW)).all()


def test_exact_constants_move_the_limits_in_the_third_decimal() -> None:
    """Exact d2 = 2/sqrt(pi) = 1.12838: 50.81 + 3 * 1.87778/1.12838 = 55.8024."""
    limits = individuals_limits(NIST_FLOW)

    assert (round(limits.upper, 4), round(limits.lower, 4)) == (55.8024, 45.8176)


def test_the_usual_short_cut_is_not_the_same() -> None:
    """2.66 times the mean moving range gives 55.8049."""
    limits = individuals_limits(NIST_FLOW, PRINTED)

    assert round(limits.centre + 2.66 * limits.mean_moving_range, 4) == 55.8049


def test_sample_sd_of_the_flow_rates() -> None:
    """2.0339; a public file that lists 1.8674 for these values is wrong."""
    assert mean_and_sd(NIST_FLOW)[1] == pytest.approx(2.0338524, abs=5e-8)


@pytest.mark.parametrize(("lag1", "share"), [(0.5, 0.7071), (0.9, 0.3162), (0.99, 0.1000)])
def test_the_trap_of_autocorrelated_readings(lag1: float, share: float) -> None:
    """Mean moving range over 1.128 gives sqrt(1 - lag1) of sigma; by simulation, 2 % allowed."""
    generator = np.random.default_rng(31)
    fresh = generator.standard_normal((200, 3000)) * np.sqrt(1 - lag1**2)
    fresh[:, 0] = generator.standard_normal(200)
    readings = lfilter([1.0], [1.0, -lag1], fresh, axis=1)

    sigma = np.abs(np.diff(readings, axis=1)).mean() / shewhart_constants(2).d2

    assert sigma == pytest.approx(share, rel=0.02)


def test_limits_for_a_slow_series_are_refused() -> None:
    """NIST StRD Mavro has a lag-1 autocorrelation of 0.94: a good stand-in for a slow temperature."""
    data = json.loads((Path(__file__).parent / "nist_strd.json").read_text())

    with pytest.raises(AutocorrelatedError, match=r"lag-1 autocorrelation 0.94.*0.25 of the right width"):
        individuals_limits(np.array(data["Mavro"]["values"]))


def test_gaps_are_skipped_and_too_little_is_refused() -> None:
    gappy = np.array([1.0, np.nan, 2.0, 3.0, 2.5])

    assert individuals_limits(gappy).mean_moving_range == pytest.approx(0.75)
    with pytest.raises(ValueError, match="two readings next to each other"):
        individuals_limits(np.array([1.0, np.nan, 2.0]))
