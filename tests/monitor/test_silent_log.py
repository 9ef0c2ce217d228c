"""What is held while nothing at all comes from a running line is no reading; set-points and modes hold."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from ingest.block import Block
from monitor.conditions.rate_not_weight import RateNotWeight
from monitor.core import Monitor
from monitor.line import Line
from monitor.records import Finding, findings
from monitor.silent_log import SilentLog, silence, start
from tests.monitor.conditions.feeder_stories import calm
from tests.monitor.conditions.told import block_of
from tests.monitor.world_feeders import feeder_line, feeder_recipe

FROM, TO = 2700, 3120


def held_line(hold_s: float) -> Line:
    """A line whose readings stand for so long, as in a log that is written on change."""
    data = feeder_line().model_dump()
    return Line.model_validate({**data, "sensor": [{**sensor, "hold_s": hold_s} for sensor in data["sensor"]]})


def log_with_gap(line: Line) -> Block:
    """Seven minutes without anything, all held meanwhile; feeders, drums and all go on."""
    block = block_of(calm(), line)
    values, status = block.values.copy(), block.status.copy()
    values[:, FROM:TO] = values[:, FROM - 1 : FROM]
    status[:, FROM:TO] = 0
    return replace(block, values=values, status=status)


def said(line: Line) -> list[Finding]:
    monitor = Monitor(line, [feeder_recipe()], conditions=(RateNotWeight(),))
    state, step = monitor.advance(monitor.start(), log_with_gap(line))
    return findings([*step.records, *monitor.finish(state)])


def test_a_weight_that_is_held_while_the_log_is_silent_stands_still_for_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    line = held_line(720.0)
    assert said(line) == []

    monkeypatch.setattr(SilentLog, "of", lambda self, state, *rest: (None, state))
    assert [finding.last.condition for finding in said(line)] != [], "the world would make it speak"


def test_every_cut_of_a_silence_leaves_the_same_state() -> None:
    line = held_line(720.0)
    monitor, block = Monitor(line, [feeder_recipe()], conditions=()), log_with_gap(line)
    states = []
    for cuts in ((), (FROM + 10,), (FROM + 59, FROM + 60, FROM + 61, FROM + 200), (TO, TO + 1)):
        state = monitor.start()
        for first, last in itertools.pairwise((0, *cuts, block.n)):
            state, _ = monitor.advance(state, block.cut(first, last))
        states.append(state)
    for state in states[1:]:
        assert all(np.array_equal(state["silence"][k], states[0]["silence"][k]) for k in states[0]["silence"])


def test_only_what_is_measured_ends_and_only_where_it_is_held_for_long() -> None:
    line = held_line(720.0)
    ended = {line.channels[row].partition(":")[0] for row in SilentLog(line).rows}
    assert {"feeder_weight", "feeder_rate", "torque", "melt_pressure", "zone_temperature"} <= ended
    assert ended.isdisjoint({"feeder_setpoint", "zone_setpoint", "screw_speed_setpoint", "feeder_gravimetric"})
    assert SilentLog(held_line(30.0)).rows == []


def test_a_log_that_comes_every_two_minutes_by_habit_is_not_silent() -> None:
    arrived = np.zeros(3600, bool)
    arrived[::120] = True
    silent, limit, _ = silence(start(), arrived, 60)
    assert silent.max() == 119 and not (silent[600:] > limit[600:]).any()
    arrived[1801:] = False
    silent, limit, _ = silence(start(), arrived, 60)
    assert np.flatnonzero(silent[600:] > limit[600:])[0] + 600 == 1800 + 360 + 1
