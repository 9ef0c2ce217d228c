"""What leaves the die: against the closed answer of plug flow and one mixed volume, mass balance, any cut."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.physics.die_response import PARTS, leaves_die, part_edges
from monitor.physics.residence_lag import response

STEP_S, RATE = 10.0, 300.0
PLUG_S, MIXING_S = 60.0, 30.0
REACH = 180


def at_die(rates: np.ndarray, totals: np.ndarray, plug_kg: float, mixing_kg: float) -> np.ndarray:
    """Rate at the die of one ingredient, after REACH cells of the first rates."""
    lead = np.concatenate((np.full(REACH, rates[0]), rates)), np.concatenate((np.full(REACH, totals[0]), totals))
    step_kg = lead[1] * STEP_S / 3600
    fed, moment = np.add.accumulate(step_kg), np.add.accumulate(lead[0] * step_kg)
    n = len(rates)
    return leaves_die(fed, moment, REACH, np.full(n, plug_kg), np.full(n, mixing_kg))[0]


def test_edges_part_the_spread_into_equal_weights() -> None:
    edges = part_edges()

    assert len(edges) == PARTS + 1 and edges[0] == 0
    assert -np.diff(np.exp(-edges[:-1])) == pytest.approx(np.full(PARTS - 1, 1 / PARTS))


def test_a_rectangular_error_as_plug_flow_and_mixing_give_it() -> None:
    """The worked example of a 45 s loss of half the rate, delay 60 s, mixing 30 s: peak -38.8 % at 105 s.

    Form of the response: common practice (plug flow and one stirred vessel); recomputed in residence_lag.
    The eight parts are each uniform inside, so the answer is good to a few percent of the error, no better.
    """
    n, start, length = 120, 30, 4.5
    time = STEP_S * (np.arange(n) + 1)
    began = STEP_S * start
    share = np.clip((time - began) / STEP_S, 0, 1) * np.clip((began + STEP_S * length - time) / STEP_S + 1, 0, 1)
    rates = RATE * (1 - 0.5 * share)
    kilograms_s = RATE / 3600
    got = at_die(rates, np.full(n, RATE), PLUG_S * kilograms_s, MIXING_S * kilograms_s) / RATE - 1
    exact = response(elapsed_s=time - began, amplitude=-0.5, duration_s=45.0, plug_flow_s=PLUG_S, mixing_s=MIXING_S)

    assert exact.min() == pytest.approx(-0.388, abs=0.02)
    assert got.min() == pytest.approx(exact.min(), abs=0.02)
    assert np.abs(got - exact).max() < 0.03
    assert got[: start + 6] == pytest.approx(np.zeros(start + 6), abs=1e-9), "nothing before the plug flow is through"


def test_what_went_in_comes_out() -> None:
    """The integral of the error at the die is the integral of the error fed, to the rounding of sums."""
    rates = np.full(400, RATE)
    rates[50:63] *= 0.2
    out = at_die(rates, np.full(400, RATE), 5.0, 4.0)

    assert (out - RATE).sum() == pytest.approx((rates - RATE).sum(), rel=1e-9)


def test_the_delay_is_counted_in_kilograms() -> None:
    """At half the rate it takes twice the time."""
    arrivals = []
    for total in (300.0, 150.0):
        rates = np.full(300, 0.2 * total)
        rates[50:] *= 1.5
        out = at_die(rates, np.full(300, total), 5.0, 0.5)
        arrivals.append(int(np.argmax(out > 0.25 * total)) - 50)

    assert arrivals[1] == pytest.approx(2 * arrivals[0], abs=1)


def test_further_back_than_remembered_is_unknown() -> None:
    assert np.isnan(at_die(np.full(50, 10.0), np.full(50, 10.0), 40.0, 30.0)).all()


def test_any_cut_gives_the_same_bits() -> None:
    generator = np.random.default_rng(4)
    n = 300
    step_kg = generator.uniform(0, 1, REACH + n) * (generator.random(REACH + n) > 0.1)
    fed, moment = np.add.accumulate(step_kg), np.add.accumulate(step_kg * generator.uniform(10, 60, REACH + n))
    plug, mixing = generator.uniform(5, 30, n), generator.uniform(3, 15, n)
    whole, oldest = leaves_die(fed, moment, REACH, plug, mixing)
    for first, last in [(0, 1), (1, 8), (8, 100), (100, n)]:
        part = slice(first, last + REACH)
        cut, its_oldest = leaves_die(fed[part], moment[part], REACH, plug[first:last], mixing[first:last])
        known = np.isfinite(cut)
        assert np.array_equal(cut, whole[first:last], equal_nan=True)
        assert np.array_equal(its_oldest[known] + first, oldest[first:last][known])
