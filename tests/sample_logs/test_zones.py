"""Zones heat, cool and hunt as a first-order lag with dead time does (process-control handbooks)."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from sample_logs import thermal
from sample_logs.upsets import no_upsets

HALL = np.array([25.0])


def _alone(gain: float = 4.0, tau: float = 1800.0, dead: float = 90.0) -> thermal.ZoneParameters:
    one = np.ones((2, 1))
    return thermal.ZoneParameters(
        gain * one, tau * one, dead * one, 0 * one, 2.5 * one, 3 * one, 100 * one, 0.001 * one
    )


def _advance(state, p, output, upset=None, melt_w=0.0) -> None:
    dead = np.rint(p.dead_s).astype(int)
    thermal.advance(state, p, upset or no_upsets(1, 2, 1), np.full((2, 1), output), np.full((2, 1), melt_w), HALL,
                    dead, 1.0)  # fmt: skip


def test_dead_heater_decays_to_the_hall():
    """From 220 C in a 25 C hall, time constant 1800 s: 190.1, 164.7, 96.7 C after 5, 10, 30 min (exp(-t/tau))."""
    p, state = _alone(), thermal.at_temperature(np.full((2, 1), 220.0), np.zeros((2, 1)))
    for minute in range(1, 31):
        for _ in range(60):
            _advance(state, p, 0.0)
        wanted = {5: 190.1, 10: 164.7, 30: 96.7}.get(minute)
        if wanted is not None:
            assert round(float(state.metal_c[0, 0]), 1) == wanted


def test_full_heat_starts_at_thirteen_degrees_a_minute():
    """K = 4 C/%, tau = 1800 s: 13.3 C/min at 100 %."""
    p, state = _alone(dead=0.0), thermal.at_temperature(np.full((2, 1), 25.0), np.zeros((2, 1)))
    for _ in range(6):
        _advance(state, p, 100.0)
    assert (float(state.metal_c[0, 0]) - 25.0) * 10.0 == pytest.approx(13.3, abs=0.05)


def test_dead_time_is_kept():
    p, state = _alone(dead=90.0), thermal.at_temperature(np.full((2, 1), 25.0), np.zeros((2, 1)))
    for _ in range(90):
        _advance(state, p, 100.0)
    assert float(state.metal_c[0, 0]) == pytest.approx(25.0, abs=1e-9)
    for _ in range(2):
        _advance(state, p, 100.0)
    assert float(state.metal_c[0, 0]) > 25.2


def test_ultimate_gain_and_period():
    """K = 4, tau = 1800 s, dead time 90 s: ultimate gain 8.01 %/C, period 353 s (recomputed)."""

    def swing(gain: float) -> tuple[float, float]:
        p, state = _alone(), thermal.at_temperature(np.full((2, 1), 200.0), np.full((2, 1), 43.75))
        state.metal_c += 0.5
        seen = []
        for _ in range(4500):
            _advance(state, p, 43.75 - gain * float(state.metal_c[0, 0] - 200.0))
            seen.append(float(state.metal_c[0, 0]) - 200.0)
        series = np.array(seen[900:])
        ups = np.flatnonzero((series[:-1] < 0) & (series[1:] >= 0))
        peaks = [np.abs(series[a:b]).max() for a, b in itertools.pairwise(ups)]
        return peaks[-1] / peaks[0], float(np.diff(ups).mean())

    assert swing(8.01 * 0.97)[0] < 1.0 < swing(8.01 * 1.03)[0]
    assert swing(8.01)[1] == pytest.approx(353.0, abs=4.0)


def test_neighbours_feel_a_step():
    """A 10 C step moves the neighbours 1 to 3 C (value from memory), outputs held."""
    three = np.ones((3, 1))
    p = thermal.ZoneParameters(4 * three, 1500 * three, 60 * three, 0.3 * three, 2.5 * three, 3 * three, 100 * three,
                               three)  # fmt: skip
    state = thermal.at_temperature(np.full((3, 1), 200.0), np.full((3, 1), 43.75))
    upset = no_upsets(1, 3, 1)
    for _ in range(8000):
        thermal.advance(state, p, upset, np.full((3, 1), 43.75), np.zeros((3, 1)), HALL, np.full((3, 1), 60), 1.0)
        state.metal_c[1] = 210.0
    assert 1.0 < float(state.metal_c[0, 0]) - 200.0 < 3.0


def test_steady_heating_holds():
    rng = np.random.default_rng(2)
    count = 6
    draw = lambda low, high: rng.uniform(low, high, (count, 1))  # noqa: E731
    p = thermal.ZoneParameters(draw(3, 5), draw(900, 2000), draw(30, 60), draw(0.1, 0.4), draw(2, 4), draw(2, 3),
                               draw(100, 101), draw(4, 5))  # fmt: skip
    metal, melt_w = draw(150, 240), draw(-50, 200)
    heating = thermal.steady_heating(p, metal, melt_w, 25.0)
    output = np.where(heating > 0, heating, heating / p.cool_gain)
    state = thermal.at_temperature(metal.copy(), heating)
    for _ in range(50):
        thermal.advance(state, p, no_upsets(1, count, 1), output, melt_w, HALL, np.zeros((count, 1), int), 1.0)
    assert state.metal_c == pytest.approx(metal, abs=1e-9)


def test_cold_line_reaches_set_in_thirty_to_ninety_minutes(quiet_line, twin):
    """All zones within 5 C of set in at most 90 min (common practice, no source)."""
    from sample_logs.start_states import cool_down, stand_still

    line = quiet_line(twin, 2.0)
    stand_still(line.line.state)
    cool_down(line.line.state)
    line.command.screw_on[:] = line.command.feed_on[:] = 0.0
    line.run(90 * 60)
    off = line.line.state.control.reading_c[:, 0] - twin.nominal.zone_c
    assert np.abs(off[1:]).max() < 5.0
    assert off[1:].min() > -4.0
