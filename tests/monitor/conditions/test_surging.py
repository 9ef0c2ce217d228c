"""Surging of a flood-fed screw: what swings with pressure tells the cause; ripple caught too slowly is no surge."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.surging import Surging
from monitor.conditions.swing import is_alias, swing_of
from tests.monitor.conditions.told import Story, only, single, told, twin, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_fill import dips
from tests.monitor.world_path import path_recipe, path_script, pump_line

LOG_S, FROM, TO = 4500, 1200, 3900


def wave(s: Script, period_s: float, ahead_s: float = 0.0) -> np.ndarray:
    t = np.arange(s.n) * s.cadence
    inside = (t >= FROM) & (t < TO)
    return np.where(inside, np.sin(2 * np.pi * (t + ahead_s) / period_s), 0.0)


def feed_surge(s: Script) -> None:
    dips(s, FROM, TO, 90.0, lead_s=20.0)


def melting_plug(s: Script) -> None:
    s.x["melt_pressure:P1"] *= 1 + 0.12 * wave(s, 80)
    s.x["torque"] *= 1 - 0.06 * wave(s, 80)


def speed_hunts(s: Script) -> None:
    s.x["melt_pressure:P1"] *= 1 + 0.08 * wave(s, 60)
    s.x["screw_speed"] *= 1 + 0.03 * wave(s, 60)
    s.x["torque"] *= 1 + 0.05 * wave(s, 60)


def zone_cycles(s: Script) -> None:
    s.x["melt_pressure:P1"] *= 1 - 0.08 * wave(s, 240)
    s.x["zone_output:Z3"] += 30 * wave(s, 240, ahead_s=60)


@pytest.mark.parametrize(
    ("story", "first"),
    [
        (feed_surge, "feed surge: bridging, throat, uneven feed"),
        (melting_plug, "melting unstable: a plug of solids"),
        (speed_hunts, "screw speed hunting"),
        (zone_cycles, "zone Z3 cycling"),
    ],
)
def test_the_first_cause(story: Story, first: str) -> None:
    s = single(LOG_S)
    story(s)
    finding = only(told(s, Surging()))

    assert finding.last.cause_texts[0] == first
    assert finding.last.causes[0].speaks_for
    assert finding.last.confidence == "medium"


def step(s: Script) -> None:
    s.scale("melt_pressure:P1", FROM, TO, 1.3)


def spikes(s: Script) -> None:
    for at in range(FROM, TO, 200):
        s.scale("melt_pressure:P1", at, at + 10, 1.4)


def small(s: Script) -> None:
    s.x["melt_pressure:P1"] *= 1 + 0.03 * wave(s, 80)


def irregular(s: Script) -> None:
    """A slow random walk of the pressure."""
    walk = np.add.accumulate(s.rng.normal(0, 0.004, s.n))
    s.x["melt_pressure:P1"] *= 1 + np.clip(walk, -0.2, 0.2)


def two_dips(s: Script) -> None:
    for at in (FROM, FROM + 300):
        s.scale("melt_pressure:P1", at, at + 40, 0.7)


@pytest.mark.parametrize("story", [step, spikes, small, irregular, two_dips])
def test_stays_silent(story: Story) -> None:
    s = single(LOG_S)
    story(s)

    assert told(s, Surging()) == []


def test_ripple_that_the_sampling_rate_makes_slow_is_no_surge() -> None:
    """Once a turn at 299.3 rpm, read once a second: 4.988 Hz shows every 86 s. The load does not swing with it."""
    s = single(LOG_S)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.x[key][:] = 299.3
    t = np.arange(s.n)
    s.x["melt_pressure:P1"] *= 1 + 0.1 * np.sin(2 * np.pi * 299.3 / 60 * t)

    assert told(s, Surging()) == []


@pytest.mark.parametrize(
    ("rpm", "cadence_s", "shown_hz"),
    [(90.0, 1.0, 0.5), (63.0, 1.0, 0.05), (117.0, 1.0, 0.05), (61.2, 5.0, 0.02)],
)
def test_the_alias_of_a_turn(rpm: float, cadence_s: float, shown_hz: float) -> None:
    """90 rpm read at 1 Hz shows at 0.5 Hz (sampling theorem); 1.02 Hz read every 5 s at 1.02 - 1.0 = 0.02 Hz."""
    assert is_alias(1 / shown_hz, rpm, cadence_s, 1200)
    assert not is_alias(1 / (shown_hz + 0.03), rpm, cadence_s, 1200)


def test_a_starve_fed_line_is_not_watched() -> None:
    s = twin(LOG_S)
    feed_surge(s)

    assert told(s, Surging()) == []


def test_a_window_with_too_many_holes_says_nothing() -> None:
    rows = np.ones((4, 120))
    rows[0] += 0.2 * np.sin(np.arange(120) * 2 * np.pi / 8)
    assert swing_of(rows.copy(), 10.0, 1.0) is not None
    rows[0, ::5] = np.nan
    assert swing_of(rows, 10.0, 1.0) is None


@pytest.mark.parametrize(("lead", "period"), [(-20.0, 150.0), (0.0, 150.0), (30.0, 150.0), (10.0, 50.0), (-10.0, 50.0)])
def test_which_of_load_and_pressure_comes_first(lead: float, period: float) -> None:
    t = np.arange(120) * 10.0
    pressure = 60 * (1 + 0.1 * np.sin(2 * np.pi * t / period))
    load = 50 * (1 + 0.1 * np.sin(2 * np.pi * (t + lead) / period))
    facts = swing_of(np.array([pressure, load, np.full(120, 60.0), np.ones(120)]), 10.0, 1.0)

    assert facts is not None
    assert facts["lead"] == lead
    assert facts["period"] == pytest.approx(period, abs=5)
    assert facts["swing"] == pytest.approx(0.1, abs=0.01)


def rate_swings(s: Script) -> None:
    s.x["line_rate"] *= 1 + 0.12 * wave(s, 130)


def load_swings(s: Script) -> None:
    s.x["torque"] *= 1 + 0.08 * wave(s, 130, ahead_s=10)


def test_without_pressure_rate_and_load_say_it() -> None:
    s = single(LOG_S)
    rate_swings(s)
    load_swings(s)
    finding = only(told(s, Surging(), line=without(s.line, "melt_pressure")))

    assert finding.last.channel == "line_rate"
    assert "rate of the line swings by 12 %" in finding.last.summary


def test_with_the_load_alone() -> None:
    s = single(LOG_S)
    load_swings(s)
    finding = only(told(s, Surging(), line=without(s.line, "melt_pressure", "line_rate")))

    assert finding.last.channel == "net_torque"


def test_a_rate_that_swings_while_the_machine_does_not_is_the_filling_of_its_hopper() -> None:
    s = single(LOG_S)
    rate_swings(s)

    assert told(s, Surging()) == []


def test_a_swing_of_the_rate_counts_where_pressure_hides_it() -> None:
    """3 % of pressure is 9 % of output at a flow exponent of 0.35."""
    s = single(LOG_S)
    small(s)
    rate_swings(s)
    load_swings(s)

    assert only(told(s, Surging())).last.channel == "melt_pressure:P1"


def test_half_the_swing_is_enough_where_the_load_swings_with_it() -> None:
    s = single(LOG_S)
    s.x["melt_pressure:P1"] *= 1 + 0.035 * wave(s, 80)
    s.x["torque"] *= 1 + 0.05 * wave(s, 80, ahead_s=20)

    assert only(told(s, Surging())).last.channel == "melt_pressure:P1"


def on_pump_line(*waves: tuple[str, float], dropped: tuple[str, ...] = ()):  # type: ignore[no-untyped-def]
    """What is said where these channels swing by so much either way, of a line with a melt pump."""
    line = without(pump_line(), *dropped)
    s = path_script(LOG_S, line)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.x[key][:] = 287.0  # at 300 rpm and a reading a second every slow wave could be ripple of the flights
    for key, size in waves:
        s.x[key] *= 1 + size * wave(s, 130)
    return told(s, Surging(), line=line, recipe=path_recipe("single-screw"))


@pytest.mark.parametrize(
    ("waves", "dropped"),
    [
        ((("melt_pressure:PS", 0.1), ("melt_pressure:P1", 0.1)), ()),
        ((("melt_pressure:PS", 0.1), ("melt_pressure:P1", 0.1), ("torque", 0.05), ("screw_speed", 0.03)), ()),
        ((("melt_pressure:PS", 0.1), ("torque", 0.05)), ("line_rate",)),
    ],
)
def test_what_swings_ahead_of_a_melt_pump_is_no_output(
    waves: tuple[tuple[str, float], ...], dropped: tuple[str, ...]
) -> None:
    """Pump and die stand still: the suction is held by the screws, which may swing for it."""
    assert on_pump_line(*waves, dropped=dropped) == []


def test_the_pressure_behind_a_melt_pump_is_its_output() -> None:
    finding = only(on_pump_line(("melt_pressure:PS", 0.1), ("melt_pressure:PD", 0.06)))

    assert finding.last.channel == "melt_pressure:PD"
    assert "pressure behind the melt pump swings by 6 %" in finding.last.summary


def test_a_melt_pump_whose_speed_hunts_is_said_by_its_speed() -> None:
    finding = only(on_pump_line(("melt_pump_speed", 0.06)))

    assert "speed of the melt pump swings by 6 %" in finding.last.summary and finding.last.priority == 3
    assert finding.last.cause_texts[0].startswith("melt pump hunting")


def wanders(s: Script, seed: int) -> None:
    """Intake that comes and goes by some per cent within minutes, at random; the load goes with it."""
    random = np.random.default_rng(seed)
    minutes = np.convolve(random.normal(size=s.n + 400), np.hanning(150), mode="valid")[: s.n]
    minutes *= 0.017 / minutes.std()
    s.x["melt_pressure:P1"] *= 1 + minutes
    s.x["torque"] *= 1 + 0.8 * minutes


def test_a_pressure_that_wanders_without_a_period_does_not_surge() -> None:
    said = 0
    for seed in range(8):
        s = single(LOG_S)
        wanders(s, seed)
        said += bool(told(s, Surging()))

    assert said <= 1


def test_as_small_a_swing_that_repeats_itself_does() -> None:
    s = single(LOG_S)
    s.x["melt_pressure:P1"] *= 1 + 0.035 * wave(s, 80)
    s.x["torque"] *= 1 + 0.03 * wave(s, 80)

    assert "every 80 s" in only(told(s, Surging())).last.summary
