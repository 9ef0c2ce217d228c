"""Slow wandering toward the window's edge; upsets, starts, lot changes and plain noise are not."""

from __future__ import annotations

import re

import numpy as np
import pytest

from monitor.conditions.drift import Drift, _sigma_of_bin
from tests.monitor.conditions.told import R1, Story, only, seconds, told, twin, without
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
        (creeps(P, 7), "melt pressure P1 has crept up from"),
        (creeps(P, -7), "crept down"),
        (creeps("melt_temperature:MT1", 6), "melt temperature MT1 has crept up from"),
        (creeps("torque", 7), "net torque has crept up from"),
    ],
)
def test_speaks_as_a_note(story: Story, word: str) -> None:
    s = slow()
    story(s)

    finding = only(told(s, Drift()))

    assert word in finding.last.summary
    assert finding.last.priority == 4 and finding.last.confidence == "low"
    assert 6000 < (seconds(finding.first_decided_at) or 0) < LOG_S


def test_a_melt_that_grows_hotter_and_thinner_is_told_before_a_probe_alone_would_be() -> None:
    """Pressure falls as the melt gets hotter: half the way is enough, and the pressure is in the evidence."""
    alone, both = slow(), slow()
    for s in (alone, both):
        creeps("melt_temperature:MT1", 3)(s)
    creeps(P, -3)(both)

    assert told(alone, Drift()) == []
    finding = only([f for f in told(both, Drift()) if f.last.channel == "melt_temperature:MT1"])
    assert finding.last.priority == 4
    assert any(row.what == "melt pressure meanwhile" and (row.value or 0) < 0 for row in finding.last.evidence)


def test_pressure_that_falls_while_load_grows_is_told_at_half_the_way() -> None:
    """No melt probe: more work and thinner melt go opposite ways, and only a melt that heats itself does that."""
    line = without(scripted_line(cadence_s=10.0), "melt_temperature")
    alone, both, with_load = slow(), slow(), slow()
    for s in (alone, both, with_load):
        creeps(P, -2.5)(s)
    creeps("torque", 1.5)(both)
    creeps("torque", -1.5)(with_load)

    assert told(alone, Drift(), line=line) == [] == told(with_load, Drift(), line=line)
    finding = only([f for f in told(both, Drift(), line=line) if f.last.channel == P])
    assert finding.last.priority == 4 and finding.last.causes[0].text.startswith("melt hotter by the screws' own work")


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
def test_spread_of_a_ten_minute_median_against_simulation(phi: float) -> None:
    """Known autocorrelation gives the spread of medians within a fifth; a half hour's own estimate of it is rougher."""
    rng = np.random.default_rng(8)
    runs, cells = 1500, 60
    now, kept = rng.normal(0, 1, runs), np.empty((runs, 180))
    for i in range(180):
        now = phi * now + np.sqrt(1 - phi**2) * rng.normal(0, 1, runs)
        kept[:, i] = now
    true = np.median(kept[:, :cells], axis=1).std()

    told_spread = _sigma_of_bin(kept[:300] + 50, cells)

    assert true * 0.8 < float(np.median(told_spread)) < true * 1.35
    assert float((told_spread < 0.5 * true).mean()) < 0.05


def test_says_how_fast_and_when_it_would_be_at_the_edge() -> None:
    """7 bar in 3.75 h is 1.87 bar/h; at 67 there are 2 bar left to 69: about an hour."""
    s = slow()
    creeps(P, 7)(s)

    last = only(told(s, Drift())).last

    trend = next(item for item in last.evidence if "trend" in item.what)
    assert trend.value == pytest.approx(7 / 3.75, rel=0.15)
    assert "window's edge, 69.0 bar, in " in last.summary


@pytest.mark.parametrize(
    ("load", "first"), [(7.0, "another raw-material lot"), (0.0, "screen or die restricted: the load hardly followed")]
)
def test_a_step_is_told_as_a_step(load: float, first: str) -> None:
    s = slow()
    s.x[P][s.span(9000, LOG_S)] += 6.5
    s.x["torque"][s.span(9000, LOG_S)] += load

    last = only([finding for finding in told(s, Drift()) if finding.last.channel == P]).last

    assert "has stepped up" in last.summary and last.causes[0].text == first


def test_halfway_alone_needs_a_second_witness() -> None:
    """4.3 of 9 bar is 48 %: silent alone, said where net torque goes with it."""
    alone, both = slow(), slow()
    for s in (alone, both):
        creeps(P, 4.3)(s)
    creeps("torque", 5.3)(both)

    assert told(alone, Drift()) == []
    assert {finding.last.channel for finding in told(both, Drift())} == {P, "net_torque"}


def test_without_a_window_the_usual_distance_counts() -> None:
    s = slow()
    creeps(P, 7)(s)
    bare = type(R1)(**{**R1.model_dump(), "window": []})

    assert "crept up" in only(told(s, Drift(), recipe=bare)).last.summary
    assert twin(60).n == 60


@pytest.mark.parametrize("from_s", [5400, 8000])
def test_when_a_creep_began_is_said_by_when_its_cumulative_sum_last_stood_at_zero(from_s: float) -> None:
    """7 bar in some three hours: it shows over the scatter of its medians within a few of them."""
    s = slow()
    creeps(P, 7, from_s)(s)
    finding = only(told(s, Drift(), recipe=R1))
    hours = re.search(r"began about (\d+\.\d) h before", finding.last.summary)

    assert hours
    assert abs((seconds(finding.first_decided_at) or 0) - 3600 * float(hours[1]) - from_s) <= 1800


def test_when_it_stepped_is_told_from_when_it_was_first_said_however_often_it_is_looked_at_again() -> None:
    """The log goes on for two hours and more after it."""
    s = slow()
    s.x[P][s.span(9000, LOG_S)] += 6.5
    finding = only(told(s, Drift(), recipe=R1))
    hours = re.search(r"about (\d+\.\d) h before", finding.last.summary)
    said = float(hours[1]) * 3600 if hours else 0.0

    assert abs((seconds(finding.first_decided_at) or 0) - said - 9000) <= 1800
    assert (seconds(finding.last.decided_at) or 0) - (seconds(finding.first_decided_at) or 0) >= 3600


def stepped_lately(by: float, wander: float = 0.0) -> Script:
    """A step 20 min before it is said, after hours a little beside the anchor."""
    s = slow()
    s.x[P][s.span(4000, LOG_S)] += wander
    s.x[P][s.span(15600, LOG_S)] += by
    return s


@pytest.mark.parametrize("wander", [0.0, 0.3])
def test_a_step_of_the_last_minutes_is_told_as_one_and_dated_by_itself(wander: float) -> None:
    """Two of its medians lie behind it, two dozen ahead: no test for a change of level would have it."""
    finding = only(told(stepped_lately(-8, wander), Drift(), recipe=R1))
    opened = finding.last.summary
    hours = re.search(r"has stepped down from .* about (\d+\.\d) h before", opened)

    assert hours, opened
    assert abs((seconds(finding.first_decided_at) or 0) - 3600 * float(hours[1]) - 15600) <= 900


def test_a_pressure_that_falls_while_the_load_holds_is_no_thinner_melt() -> None:
    finding = only(told(stepped_lately(-8), Drift(), recipe=R1))

    assert finding.last.causes[0].text == "screen or die lets more through, or melt leaks: the load held"
    assert not any("trend" in item.what for item in finding.last.evidence)


@pytest.mark.parametrize(("pressure", "drags"), [(0.0, True), (6.5, False)])
def test_a_load_that_grows_by_itself_is_drag_of_the_machine(pressure: float, drags: bool) -> None:
    s = slow()
    creeps("torque", 10)(s)
    creeps(P, pressure)(s)
    found = only([finding for finding in told(s, Drift(), recipe=R1) if finding.last.channel == "net_torque"])

    assert found.last.cause_texts[0].startswith("drag of the machine itself") is drags


@pytest.mark.parametrize("from_s", range(9000, 9600, 100))
def test_what_lasted_for_a_quarter_of_an_hour_and_is_over_is_not_told(from_s: int) -> None:
    """A feeder tripped and runs again: two medians of three are low when the load is back."""
    s = slow()
    s.scale("torque", from_s, from_s + 960, 0.5)
    found = told(s, Drift(), recipe=R1)

    assert all((seconds(one.first_decided_at) or 0) <= from_s + 960 + 300 for one in found)


@pytest.mark.parametrize(("melt_c", "heated"), [(6.0, True), (-6.0, False)])
def test_a_melt_that_got_colder_was_not_heated_by_the_screws(melt_c: float, heated: bool) -> None:
    """Load up and pressure down, as behind a screen that let go."""
    s = slow()
    creeps("torque", 2)(s)
    creeps(P, -6)(s)
    creeps("melt_temperature:MT1", melt_c)(s)
    found = [one for one in told(s, Drift(), recipe=R1) if one.last.channel == "melt_temperature:MT1"]

    assert only(found).last.cause_texts[0].startswith("melt hotter by the screws' own work") is heated
