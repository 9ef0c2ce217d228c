"""Slow wandering toward the window's edge; upsets, starts, lot changes and plain noise are not."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.drift import WEIGHT, Drift, spread_of_anchor, spread_of_mean
from tests.monitor.conditions.told import R1, Story, only, seconds, told, twin
from tests.monitor.scripted_world import Script, scripted_line

HOURS = 5
LOG_S = HOURS * 3600
P = "melt_pressure:P1"


def slow(seed: int = 3) -> Script:
    """Ten-second cadence: the statistics run on that grid anyway."""
    return Script(scripted_line(cadence_s=10.0), LOG_S, seed)


def creeps(key: str, by: float, from_s: float = 4500) -> Story:
    def story(s: Script) -> None:
        part = s.span(from_s, LOG_S)
        s.x[key][part] += np.linspace(0, by, len(s.x[key][part]))

    story.__name__ = f"{key}_{by:+g}"
    return story


def upset(s: Script) -> None:
    """Eight minutes far outside, and back."""
    s.x[P][s.span(9000, 9480)] += 15


def first_hour_after_a_start(s: Script) -> None:
    """Started at 600 s: pressure slides by 8 % in half an hour, then stands."""
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.put(key, 0, 600, 0)
    part = s.span(600, 2400)
    s.x[P][part] += np.linspace(5, 0, len(s.x[P][part]))


def speed_changed(s: Script) -> None:
    """Another speed is another place to drift from."""
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.scale(key, 9000, LOG_S, 1.1)
    s.x[P][s.span(9000, LOG_S)] += 5


@pytest.mark.parametrize(
    ("story", "word"),
    [
        (creeps(P, 7), "melt pressure P1 has crept up from 60"),
        (creeps(P, -7), "crept down"),
        (creeps("melt_temperature:MT1", 6), "melt temperature MT1 has crept up from 228"),
        (creeps("torque", 7), "net torque has crept up from 52"),
    ],
)
def test_speaks_as_a_note(story: Story, word: str) -> None:
    s = slow()
    story(s)

    finding = only(told(s, Drift()))

    assert word in finding.last.summary
    assert finding.last.priority == 4 and finding.last.confidence == "low"
    assert 6000 < (seconds(finding.first_decided_at) or 0) < LOG_S


@pytest.mark.parametrize("story", [creeps(P, 2.5), upset, first_hour_after_a_start, speed_changed])
def test_stays_silent(story: Story) -> None:
    s = slow()
    story(s)

    assert told(s, Drift()) == []


@pytest.mark.parametrize("phi", [0.0, 0.6, 0.95])
def test_plain_noise_raises_nothing_however_much_it_hangs_together(phi: float) -> None:
    """Twelve runs of five hours of steady noise, autocorrelated from cell to cell: no call."""
    for seed in range(12):
        s = slow(seed)
        rng = np.random.default_rng([seed, 5])
        noise, now = rng.normal(0, 0.8, s.n), 0.0
        for i, shock in enumerate(noise):
            now = phi * now + np.sqrt(1 - phi**2) * shock
            s.x[P][i] = 60 + now
        assert told(s, Drift()) == [], seed


def test_the_statistic_alone_seldom_calls_falsely() -> None:
    """Half a percent off is far enough here, so that only the statistic holds it back; autocorrelation 0.9.

    Without the anchor's own uncertainty a third of such runs call in 8 h (simulated).
    """
    bare = type(R1)(**{**R1.model_dump(), "window": []})
    called = 0
    for seed in range(30):
        s = slow(seed)
        rng = np.random.default_rng([seed, 6])
        now = 0.0
        for i, shock in enumerate(rng.normal(0, 1.0, s.n)):
            now = 0.9 * now + np.sqrt(1 - 0.9**2) * shock
            s.x[P][i] = 60 + now
        found = told(s, Drift(no_window_pct=0.5), recipe=bare)
        called += any(finding.last.channel == P for finding in found)
    assert called <= 2


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_spread_of_the_anchor_against_simulation(phi: float) -> None:
    rng = np.random.default_rng(8)
    runs, cells = 4000, 120
    now, total = rng.normal(0, 1, runs), np.zeros(runs)
    for _ in range(cells):
        now = phi * now + np.sqrt(1 - phi**2) * rng.normal(0, 1, runs)
        total += now

    assert float(spread_of_anchor(np.array(phi), cells)) == pytest.approx((total / cells).std(), rel=0.06)


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_spread_of_the_moving_mean_against_simulation(phi: float) -> None:
    """Schmid 1997 for an AR(1): standard deviation of the moving mean in units of the observations'."""
    rng = np.random.default_rng(7)
    n = 400_000
    shocks = rng.normal(0, np.sqrt(1 - phi**2), n)
    x, z, now, mean = np.empty(n), np.empty(n), 0.0, 0.0
    for i in range(n):
        now = phi * now + shocks[i]
        mean += WEIGHT * (now - mean)
        x[i], z[i] = now, mean

    assert float(spread_of_mean(np.array(phi))) == pytest.approx(z[2000:].std() / x.std(), rel=0.05)


def test_without_a_window_the_usual_distance_counts() -> None:
    s = slow()
    creeps(P, 7)(s)
    bare = type(R1)(**{**R1.model_dump(), "window": []})

    assert "crept up" in only(told(s, Drift(), recipe=bare)).last.summary
    assert twin(60).n == 60
