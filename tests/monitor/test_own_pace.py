"""Zones that are read more seldom than the line is judged: one odd reading of theirs is no broken couple."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.block import FRESH, Block
from monitor import own_pace
from monitor.conditions.thermocouple_open import ThermocoupleOpen
from monitor.contract import Context
from monitor.core import Monitor
from monitor.records import Finding, findings
from tests.monitor.conditions.told import R1, TWIN, block_of, changed, only, seconds, told
from tests.monitor.scripted_world import TARGETS, Script

LINE = changed(TWIN, line={"cadence_s": 10.0})
LOG_S, FROM, READ_S, HEARTBEAT_S = 7200, 5400, 50, 300
ZONE = "zone_temperature:Z3"


def written(script: Script, deadband_c: float) -> Block:
    """The log with zones read every 50 s, each at its own second, and written where they have moved or after 300 s."""
    block = block_of(script, LINE)
    values, status = block.values.copy(), block.status.copy()
    every, heartbeat = READ_S // 10, HEARTBEAT_S // 10
    for number, zone in enumerate(TARGETS):
        row = LINE.channels.index(f"zone_temperature:{zone}")
        last = -heartbeat
        for cell in range(values.shape[1]):
            read = cell % every == number % every
            moved = cell - last >= heartbeat or abs(values[row, cell] - values[row, last]) > deadband_c
            if cell == 0 or (read and moved):
                last = cell
            else:
                values[row, cell], status[row, cell] = values[row, last], status[row, last] & (FRESH - 1)
    return Block(block.t0, block.step, block.channels, values, status)


def said(block: Block, cut: int | None = None) -> list[Finding]:
    monitor = Monitor(LINE, [R1], conditions=[ThermocoupleOpen()])
    state, records = monitor.start(), []
    edges = range(0, block.values.shape[1], cut or block.values.shape[1])
    for first in edges:
        part = slice(first, first + edges.step)
        values, status = (np.ascontiguousarray(rows[:, part]) for rows in (block.values, block.status))
        piece = Block(block.t0 + first * block.step, block.step, block.channels, values, status)
        state, step = monitor.advance(state, piece)
        records += step.records
    return findings([*records, *monitor.finish(state)])


@pytest.mark.parametrize("value", [0.0, 400.0], ids=["down", "up"])
@pytest.mark.parametrize("deadband_c", [-1.0, 5.0], ids=["every reading", "changes only"])
def test_one_odd_reading_is_nothing(value: float, deadband_c: float) -> None:
    s = Script(LINE, LOG_S, 5)
    for at in (FROM, FROM + 400, FROM + 900):
        s.put(ZONE, at, at + 50, value)

    block = written(s, deadband_c)

    row = block.values[LINE.channels.index(ZONE)]
    assert np.count_nonzero(row == value) == 15, "each stands for five cells"
    assert said(block) == []


@pytest.mark.parametrize(("value", "priority"), [(0.0, 1), (400.0, 2)], ids=["down", "up"])
@pytest.mark.parametrize("deadband_c", [-1.0, 5.0], ids=["every reading", "changes only"])
def test_a_couple_that_breaks_is_said_after_three_readings(value: float, priority: int, deadband_c: float) -> None:
    s = Script(LINE, LOG_S, 5)
    s.put(ZONE, FROM, LOG_S, value)

    block = written(s, deadband_c)

    finding = only(said(block))
    since, decided = seconds(finding.last.since) or 0, seconds(finding.first_decided_at) or 0
    assert finding.last.priority == priority and FROM <= since <= FROM + READ_S
    assert decided - since <= 2 * own_pace.SLOWEST_S + 20.0
    if deadband_c < 0:
        assert decided - since == 2 * READ_S + 10.0
    assert [(f.last, f.first_decided_at) for f in said(block, 7)] == [(finding.last, finding.first_decided_at)]


def test_where_every_cell_is_read_nothing_waits() -> None:
    s = Script(LINE, LOG_S, 5)
    s.put(ZONE, FROM, LOG_S, 0.0)

    assert seconds(only(told(s, ThermocoupleOpen(), line=LINE)).first_decided_at) == FROM + 30


def test_the_pace_is_the_shortest_usual_time_between_two_readings() -> None:
    """Zones in turn every 40 s, one row that came twice, and long times without a change."""
    ctx = Context(LINE, R1, None, 10.0)
    came = np.zeros((2, 4000), bool)
    came[0, 0:4000:4], came[1, 1:4000:30] = True, True
    came[0, 401] = True
    away = np.zeros(came.shape, bool)
    away[1, 3501:3600] = True

    _state, waits = own_pace.advance(own_pace.start(2, ctx), came, away, 3.0, ctx)

    assert waits is not None and np.flatnonzero(waits[1]).tolist() == list(range(3503, 3510))
