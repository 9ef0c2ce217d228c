"""From an upset at the feeder to the die. Worked example computed from the stated form."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics.residence_lag import (
    peak,
    peak_time_s,
    plug_flow_and_mixing_s,
    response,
    settled_s,
    touched_interval_s,
    touched_kg,
)

UPSET = {"amplitude": -0.50, "duration_s": 45.0}
LAG = {"plug_flow_s": 60.0, "mixing_s": 30.0}


def test_half_the_feed_lost_for_45_s() -> None:
    settled = settled_s(**UPSET, **LAG)

    assert peak_time_s(duration_s=45.0, plug_flow_s=60.0) == 105
    assert peak(**UPSET, mixing_s=30.0) == pytest.approx(-0.388435, abs=5e-7)
    assert response(elapsed_s=105.0, **UPSET, **LAG) == pytest.approx(-0.388435, abs=5e-7)
    assert settled == pytest.approx(214.79, abs=5e-3)
    touched = touched_kg(rate_kg_h=300.0, plug_flow_s=60.0, settled_s=settled)
    assert touched == pytest.approx(12.9, abs=0.05)


def test_nothing_before_the_delay_and_gaps_stay_gaps() -> None:
    curve = np.asarray(response(elapsed_s=np.array([0.0, 60.0, np.nan, 75.0]), **UPSET, **LAG))

    assert curve[:2].tolist() == [0, 0]
    assert np.isnan(curve[2])
    assert curve[3] == pytest.approx(-0.5 * (1 - math.exp(-0.5)))
    assert np.isnan(settled_s(amplitude=np.nan, duration_s=45.0, **LAG))


def test_a_small_upset_touches_nothing() -> None:
    settled = settled_s(amplitude=0.02, duration_s=5.0, **LAG)

    assert settled == 60.0
    assert touched_kg(rate_kg_h=300.0, plug_flow_s=60.0, settled_s=settled) == 0


amplitudes = st.floats(0.02, 1)
seconds = st.floats(1, 300)


@given(amplitudes, seconds, seconds, seconds)
def test_what_goes_in_comes_out(amplitude: float, duration: float, delay: float, mixing: float) -> None:
    """The area under the response is that of the upset: mixing spreads an error, it does not remove it."""
    elapsed = np.linspace(0, delay + duration + 40 * mixing, 200_001)
    curve = response(elapsed_s=elapsed, amplitude=amplitude, duration_s=duration, plug_flow_s=delay, mixing_s=mixing)

    assert np.trapezoid(curve, elapsed) == pytest.approx(amplitude * duration, rel=1e-4)


@given(amplitudes, seconds, seconds, seconds)
def test_settled_is_where_the_curve_meets_the_tolerance(
    amplitude: float, duration: float, delay: float, mixing: float
) -> None:
    lag = {"plug_flow_s": delay, "mixing_s": mixing}
    settled = settled_s(amplitude=amplitude, duration_s=duration, **lag)
    there = response(elapsed_s=settled, amplitude=amplitude, duration_s=duration, **lag)

    if peak(amplitude=amplitude, duration_s=duration, mixing_s=mixing) > 0.01:
        assert there == pytest.approx(0.01, rel=1e-6)
    else:
        assert settled == delay


@given(seconds, seconds, seconds)
def test_the_peak_is_the_largest(duration: float, delay: float, mixing: float) -> None:
    curve = response(
        elapsed_s=np.linspace(0, 1000, 2001),
        amplitude=1.0,
        duration_s=duration,
        plug_flow_s=delay,
        mixing_s=mixing,
    )

    assert np.max(curve) <= peak(amplitude=1.0, duration_s=duration, mixing_s=mixing) + 1e-12


def test_delay_and_mixing_add_up_to_the_mean_residence_time() -> None:
    plug_flow, mixing = plug_flow_and_mixing_s(50.0)

    assert (plug_flow, mixing) == pytest.approx((20.0, 30.0))


def test_touched_interval_by_rule_of_thumb() -> None:
    """0.375 kg always full at 100 kg/h adds 13.5 s to 0.4 and 4 residence times of 20 s."""
    first, last = touched_interval_s(duration_s=45.0, mean_residence_s=20.0, full_volume_kg=0.375, rate_kg_h=100.0)

    assert (first, last) == pytest.approx((21.5, 138.5))


def test_a_quarter_percent_is_left_after_four_residence_times() -> None:
    plug_flow, mixing = plug_flow_and_mixing_s(20.0)
    left = response(elapsed_s=1e4 + 80.0, amplitude=1.0, duration_s=1e4, plug_flow_s=plug_flow, mixing_s=mixing)

    assert 100 * left == pytest.approx(0.25, abs=0.005)
