"""Pressure gone at once while the screw turns is priority 1; stops, valves and restarts are not it."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.block import GOOD
from monitor.conditions.burst_disc_or_leak import BurstDiscOrLeak
from monitor.conditions.screen_ruptured import ScreenRuptured
from monitor.core import Monitor
from monitor.line import Line
from monitor.records import findings
from tests.monitor.conditions.path_nuisances import feed_lost, restart_writes_zeros, spikes, stop_and_start
from tests.monitor.conditions.told import Story, block_of, changed, only, seconds, told, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script, pump_line

P1, P2 = "melt_pressure:P1", "melt_pressure:P2"
AT = 5000


def stop_at_once(s: Script) -> None:
    for key in ("screw_speed", "torque", P1, P2):
        s.put(key, AT, s.n, 0)


def diverter_thrown(s: Script) -> None:
    s.put("diverter_to_product", AT - 3, s.n, 0)
    s.put(P1, AT, s.n, 3)
    s.put(P2, AT, s.n, 2)


def screen_blown_through(s: Script) -> None:
    """Within ten seconds, but the die holds what it did."""
    s.x[P1][s.span(AT, s.n)] *= 0.3 + 0.7 * np.exp(-np.arange(s.n - AT) / 4.0)


def path_blocks_long(s: Script) -> None:
    """Nothing comes in any more: load is at no load half a minute before the pressure goes, and stays there."""
    s.put("torque", AT, s.n, 7)
    for key in (P1, P2):
        s.x[key][s.span(AT + 30, s.n)] *= 0.01 + 0.99 * np.exp(-np.arange(s.n - AT - 30) / 6.0)


def melting_plug(s: Script) -> None:
    """Pressure is nearly nothing for a few seconds while load is up, and comes back."""
    s.x[P1][s.span(AT, AT + 10)] *= np.linspace(1, 0.05, 10)
    s.scale(P1, AT + 10, AT + 16, 0.05)
    s.scale("torque", AT, AT + 16, 1.2)


def pressure_let_go_by_a_start(s: Script) -> None:
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, 3000, AT, 0)
    s.put(P1, AT, s.n, 1)


def test_both_sensors_at_once_make_it_sure() -> None:
    s = path_script(6000)
    s.put(P1, AT, 6000, 1.0)
    s.put(P2, AT + 1, 6000, 0.4)
    found = told(s, BurstDiscOrLeak(), recipe=path_recipe())
    assert len(found) == 2 and all(f.last.priority == 1 and f.last.caution and not f.last.part_of for f in found)
    assert all((seconds(f.first_decided_at) or 0) <= AT + 5 for f in found)
    assert found[-1].last.confidence == "high"


def test_one_alone_may_be_its_wire_and_is_said_all_the_same() -> None:
    line = path_line("twin-screw", P1="before_screen", P2="barrel")
    s = path_script(6000, line)
    s.put(P1, AT, 6000, 0.0)
    found = only(told(s, BurstDiscOrLeak(), recipe=path_recipe()))
    assert found.last.priority == 1 and found.last.confidence == "medium"
    assert seconds(found.last.since) == AT and seconds(found.first_decided_at) == AT + 2
    wire = next(c for c in found.last.causes if "wire" in c.text)
    assert wire.speaks_for


@pytest.mark.parametrize(("gone", "stands"), [(P1, P2), (P2, P1)])
def test_a_pressure_that_stands_on_the_other_side_of_the_screen_speaks_for_the_sensor(gone: str, stands: str) -> None:
    s = path_script(6000)
    s.put(gone, AT, 6000, 0.0)
    found = only(told(s, BurstDiscOrLeak(), recipe=path_recipe()))
    assert found.last.priority == 1 and found.last.confidence == "low" and seconds(found.last.since) == AT
    assert AT + 10 < (seconds(found.first_decided_at) or 0) <= AT + 12
    assert "wire" in found.last.causes[0].text and stands[-2:] in found.last.causes[0].speaks_for[0]
    s.put(gone, AT + 6, 6000, 60.0 if gone == P1 else 40.0)
    assert told(s, BurstDiscOrLeak(), recipe=path_recipe()) == []


@pytest.mark.parametrize("cadence_s", [1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("bar", [0.0, -12.0, 250.0])
def test_one_odd_reading_is_no_burst_at_any_cadence_and_the_second_is(cadence_s: float, bar: float) -> None:
    """The next reading is a good one; a burst stays down and is said with its second reading."""
    line = changed(path_line("twin-screw", P1="before_screen"), line={"cadence_s": cadence_s})
    s = path_script(6000, line)
    s.put(P1, AT, AT + cadence_s, bar)
    assert told(s, BurstDiscOrLeak(), recipe=path_recipe()) == []
    s.put(P1, AT, 6000, 0.5)
    finding = only(told(s, BurstDiscOrLeak(), recipe=path_recipe()))
    assert seconds(finding.last.since) == AT and seconds(finding.first_decided_at) == AT + max(2, 2 * cadence_s)


@pytest.mark.parametrize(("every", "second", "said"), [(5, 60.0, False), (5, 0.5, True), (20, 0.5, True)])
def test_a_reading_that_is_held_over_cells_is_one_reading(every: int, second: float, said: bool) -> None:
    """Rows every 5 s in cells of one: a slip stands in five cells. Written on change, nothing follows a real fall."""
    s = path_script(6000, path_line("twin-screw", P1="before_screen"))
    s.x[P1][:] = np.repeat(s.x[P1][::every], every)[: s.n]
    s.put(P1, AT, AT + every, 0.0)
    s.put(P1, AT + every, 6000, second)
    block = block_of(s, s.line)
    row = s.line.channels.index(P1)
    block.status[row] = np.where(np.arange(s.n) % every == 0, block.status[row], GOOD)
    monitor = Monitor(s.line, [path_recipe()], conditions=(BurstDiscOrLeak(),))
    state, step = monitor.advance(monitor.start(), block)
    found = findings([*step.records, *monitor.finish(state)])
    assert len(found) == said
    if said:
        assert (seconds(found[0].first_decided_at) or 0) <= AT + min(every + 1, 17)


def test_a_motor_that_idles_at_half_its_current_has_lost_its_screws_and_not_its_pressure() -> None:
    """With a third of the rated current magnetising, no load is half of the running current."""
    data = without(path_line(), "torque").model_dump()
    data["sensor"] = (*data["sensor"], {"tag": "current", "role": "motor_current"})
    data["drive"] |= {"rated_current_a": 74.0, "magnetising_current_a": 24.0}
    s = path_script(6000, Line.model_validate({**data, "version": "current"}))
    s.x["motor_current"][:] = 48
    s.put(P1, AT, 6000, 0.0)
    assert len(told(s, BurstDiscOrLeak(), recipe=path_recipe())) == 1
    s.put("motor_current", AT, 6000, 25)
    assert told(s, BurstDiscOrLeak(), recipe=path_recipe()) == []


@pytest.mark.parametrize("seconds_to_fall", [1, 2])
def test_one_or_two_seconds(seconds_to_fall: int) -> None:
    s = path_script(6000)
    s.x[P1][s.span(AT, AT + seconds_to_fall)] = np.linspace(50, 4, seconds_to_fall)
    s.put(P1, AT + seconds_to_fall, 6000, 1.0)
    assert only(told(s, BurstDiscOrLeak(), recipe=path_recipe())).last.priority == 1


def test_a_damped_transmitter_shows_it_a_few_seconds_later() -> None:
    s = path_script(6000)
    for key in (P1, P2):
        s.x[key][s.span(AT, 6000)] *= 0.02 + 0.98 * np.exp(-(np.arange(1000) + 1) / 2.0)
    found = told(s, BurstDiscOrLeak(), recipe=path_recipe())
    assert len(found) == 2 and all((seconds(f.first_decided_at) or 0) <= AT + 7 for f in found)


@pytest.mark.parametrize("kind", ["twin-screw", "single-screw"])
@pytest.mark.parametrize("cadence_s", [1.0, 2.0])
@pytest.mark.parametrize("fall_s", [5.0, 10.0])
@pytest.mark.parametrize("left", [0.0, 0.06])
def test_pressure_that_is_gone_within_half_a_minute_is_it_too_and_stays_open(
    kind: str, cadence_s: float, fall_s: float, left: float
) -> None:
    """The load is what it was, or somewhat less: nothing pushes back any more. No screen leaves so little behind."""
    line = changed(path_line(kind, P1="before_screen"), line={"cadence_s": cadence_s})
    s = path_script(8000, line)
    s.x[P1][s.span(AT, 8000)] *= left + (1 - left) * np.exp(-np.arange(0, 8000 - AT, cadence_s) / fall_s)
    s.scale("torque", AT + 3, 8000, 0.9)
    before = np.nanmedian(s.x[P1][s.span(AT - 60, AT)])
    finding = only(told(s, BurstDiscOrLeak(), ScreenRuptured(), line=line, recipe=path_recipe()))
    assert finding.last.condition == "burst_disc_or_leak" and finding.last.priority == 1 and finding.last.caution
    assert AT < (seconds(finding.first_decided_at) or 0) <= AT + 2 * fall_s + 20
    assert finding.last.kind == "cut off" and finding.last.evidence[0].expected == pytest.approx(before, rel=0.03)


def suction_script(cadence_s: float, seconds: int = 8000) -> Script:
    """A flood-fed line with a melt pump; what a screw pushes against is all that a throat can take away."""
    s = path_script(seconds, changed(pump_line(), line={"cadence_s": cadence_s}))
    s.put("torque", 0, seconds, 60)
    return s


@pytest.mark.parametrize("cadence_s", [1.0, 5.0, 10.0])
@pytest.mark.parametrize("ends_s", [40, 50, 60])
def test_a_screw_that_lost_its_load_first_and_races_for_its_suction_starves(cadence_s: float, ends_s: int) -> None:
    """A throat that shuts: load falls over 20 s, the pump's control turns the screw half as fast again, then the
    suction has gone as well, within seconds at last."""
    s = suction_script(cadence_s)
    t = np.arange(0, 8000 - AT, cadence_s)
    s.x["torque"][s.span(AT, 8000)] *= 0.55 + 0.45 * np.exp(-t / 10.0)
    for key, most in (("screw_speed", 1.5), ("screw_speed_setpoint", 1.5)):
        s.x[key][s.span(AT, 8000)] *= 1 + (most - 1) * np.clip((t - 10) / (ends_s - 10), 0, 1) ** 2
    s.x["melt_pressure:PS"][s.span(AT, 8000)] *= np.clip(1 - (t / ends_s) ** 3, 0.04, 1)
    assert told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe("single-screw")) == []


@pytest.mark.parametrize("cadence_s", [1.0, 10.0])
def test_suction_that_sinks_for_longer_than_a_minute_is_not_gone_at_once(cadence_s: float) -> None:
    """The screw is at its limit, its load was lost long ago: two minutes from full to nothing."""
    s = suction_script(cadence_s)
    t = np.arange(0, 8000 - AT, cadence_s)
    s.x["melt_pressure:PS"][s.span(AT, 8000)] *= np.clip(1 - (t / 120) ** 1.5, 0.04, 1)
    assert told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe("single-screw")) == []


@pytest.mark.parametrize("cadence_s", [1.0, 5.0, 10.0])
def test_suction_that_a_pump_has_drawn_to_a_third_is_gone_in_the_last_seconds(cadence_s: float) -> None:
    """After a start the pump takes more than comes: a minute and a half of sinking, then nothing is left."""
    s = suction_script(cadence_s)
    t = np.arange(0, 8000 - AT, cadence_s)
    left = np.where(t < 85, 0.3 + 0.7 * np.exp(-t / 35), 0.36 * np.clip((94 - t) / 9, 0.02, 1))
    s.put("melt_pressure:PS", 0, 8000, 171)
    s.x["melt_pressure:PS"][s.span(AT, 8000)] *= left
    assert told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe("single-screw")) == []


@pytest.mark.parametrize("cadence_s", [1.0, 5.0, 10.0])
@pytest.mark.parametrize("fall_s", [0.1, 3.0, 10.0])
def test_suction_that_goes_before_the_load_is_melt_coming_out(cadence_s: float, fall_s: float) -> None:
    """What the screw pushed against is gone at once: its load is less, and the pump's control turns it faster."""
    s = suction_script(cadence_s)
    t = np.arange(0, 8000 - AT, cadence_s)
    s.x["melt_pressure:PS"][s.span(AT, 8000)] *= 0.02 + 0.98 * np.exp(-t / fall_s)
    s.scale("torque", AT + 1, 8000, 0.65)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.x[key][s.span(AT, 8000)] *= 1 + 0.5 * np.clip(t / 30, 0, 1)
    found = told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe("single-screw"))
    assert only(found).last.priority == 1
    assert (seconds(found[0].first_decided_at) or 0) <= AT + 2 * fall_s + 20 + 2 * cadence_s


@pytest.mark.parametrize(("delivers", "said"), [(1.0, False), (0.3, True)], ids=["drawn down", "melt comes out"])
@pytest.mark.parametrize("cadence_s", [1.0, 5.0])
def test_a_pump_that_catches_up_after_a_start_draws_its_suction_down(
    cadence_s: float, delivers: float, said: bool
) -> None:
    """It turns faster, its suction is gone within seconds, and the pump delivers as ever: or does not, where the melt
    comes out ahead of it."""
    s = suction_script(cadence_s)
    t = np.arange(0, 8000 - AT, cadence_s)
    s.x["melt_pump_speed"][s.span(AT - 60, AT)] *= np.linspace(0.6, 1.0, round(60 / cadence_s))
    s.x["melt_pump_speed"][s.span(0, AT - 60)] *= 0.6
    s.x["melt_pressure:PS"][s.span(AT, 8000)] *= 0.02 + 0.98 * np.exp(-t / 1.0)
    s.x["melt_pressure:PD"][s.span(AT, 8000)] *= delivers + (1 - delivers) * np.exp(-t / 1.0)
    s.put("melt_pressure:PS", AT + 120, 8000, 40.0)

    found = told(s, BurstDiscOrLeak(), line=s.line, recipe=path_recipe("single-screw"))

    assert any(f.last.channel == "melt_pressure:PS" for f in found) == said
    assert all(f.last.priority == 1 for f in found)
    assert all("drawn its suction empty" in str(f.last.causes) for f in found if f.last.channel == "melt_pressure:PS")


def test_a_pressure_gone_in_seconds_is_said_though_the_load_was_taken_back_a_moment_ago() -> None:
    s = path_script(8000)
    s.scale("torque", AT - 40, 8000, 0.7)
    s.put(P1, AT, 8000, 0.5)
    s.put(P2, AT, 8000, 0.5)
    found = told(s, BurstDiscOrLeak(), recipe=path_recipe())
    assert len(found) == 2 and all((seconds(f.first_decided_at) or 0) <= AT + 5 for f in found)


@pytest.mark.parametrize(
    "story",
    [
        stop_at_once, stop_and_start, feed_lost, spikes, restart_writes_zeros, diverter_thrown, screen_blown_through,
        path_blocks_long, melting_plug, pressure_let_go_by_a_start,
    ],
)  # fmt: skip
def test_silent(story: Story) -> None:
    s = path_script(8000)
    story(s)
    assert told(s, BurstDiscOrLeak(), recipe=path_recipe()) == []
