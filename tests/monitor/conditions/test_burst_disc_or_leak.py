"""Pressure gone at once while the screw turns is priority 1; stops, valves and restarts are not it."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.burst_disc_or_leak import BurstDiscOrLeak
from monitor.line import Line
from tests.monitor.conditions.path_nuisances import feed_lost, restart_writes_zeros, spikes, stop_and_start
from tests.monitor.conditions.told import Story, only, seconds, told, without
from tests.monitor.scripted_world import Script
from tests.monitor.world_path import path_line, path_recipe, path_script

P1, P2 = "melt_pressure:P1", "melt_pressure:P2"
AT = 5000


def stop_at_once(s: Script) -> None:
    for key in ("screw_speed", "torque", P1, P2):
        s.put(key, AT, s.n, 0)


def diverter_thrown(s: Script) -> None:
    s.put("diverter_to_product", AT - 3, s.n, 0)
    s.put(P1, AT, s.n, 3)
    s.put(P2, AT, s.n, 2)


def slow_leak(s: Script) -> None:
    """A minute: no burst; other findings speak of it."""
    s.x[P1][s.span(AT, AT + 60)] = np.linspace(60, 5, 60)
    s.put(P1, AT + 60, s.n, 5)


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
    s = path_script(6000)
    s.put(P1, AT, 6000, 0.0)
    found = only(told(s, BurstDiscOrLeak(), recipe=path_recipe()))
    assert found.last.priority == 1 and found.last.confidence == "medium"
    wire = next(c for c in found.last.causes if "wire" in c.text)
    assert wire.speaks_for


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


@pytest.mark.parametrize(
    "story",
    [
        stop_at_once, stop_and_start, feed_lost, spikes, restart_writes_zeros, diverter_thrown, slow_leak,
        pressure_let_go_by_a_start,
    ],
)  # fmt: skip
def test_silent(story: Story) -> None:
    s = path_script(8000)
    story(s)
    assert told(s, BurstDiscOrLeak(), recipe=path_recipe()) == []
