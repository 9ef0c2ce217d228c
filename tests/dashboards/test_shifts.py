"""When shifts change, and what has changed since."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import replace

import numpy as np
import pytest

from dashboards.cells import Means
from dashboards.clock import HOUR, MINUTE, PlantClock
from dashboards.memory_data import MemoryData
from dashboards.shift_changes import _stepped, changes_since_shift
from dashboards.shifts import next_shift, shift_start, told_since
from dashboards.views import Segment
from dashboards.why_stopped import standing_since, stop_finding
from ingest.block import Block, Note
from monitor.line import Line
from monitor.records import Finding
from tests.dashboards.lines import _record, twin
from tests.dashboards.plant import END, SECOND

MADRID = PlantClock("Europe/Madrid")


def local(year: int, month: int, day: int, hour: int, minute: int) -> int:
    """An instant on the plant's clock, UTC ns."""
    wall = dt.datetime(year, month, day, hour, minute, tzinfo=zoneinfo.ZoneInfo("Europe/Madrid"))
    return int(wall.timestamp()) * SECOND


@pytest.mark.parametrize(
    ("now", "start"),
    [
        ((2026, 5, 4, 7, 29), (2026, 5, 4, 6, 0)),
        ((2026, 5, 4, 6, 0), (2026, 5, 4, 6, 0)),
        ((2026, 5, 4, 5, 59), (2026, 5, 3, 22, 0)),
        ((2026, 5, 4, 23, 0), (2026, 5, 4, 22, 0)),
        ((2026, 3, 29, 6, 30), (2026, 3, 29, 6, 0)),
        ((2026, 10, 25, 6, 30), (2026, 10, 25, 6, 0)),
    ],
)
def test_the_shift_begins_on_the_plants_clock(now: tuple, start: tuple) -> None:
    assert shift_start(MADRID, local(*now)) == local(*start)


def test_other_shifts_and_the_first_hour() -> None:
    assert shift_start(MADRID, local(2026, 5, 4, 7, 0), ("07:00", "19:00")) == local(2026, 5, 4, 7, 0)
    assert told_since(MADRID, local(2026, 5, 4, 6, 20)) == local(2026, 5, 3, 22, 0)
    assert told_since(MADRID, local(2026, 5, 4, 7, 20)) == local(2026, 5, 4, 6, 0)


@pytest.mark.parametrize("start", ["24:00", "6:00", "06:60", "six"])
def test_a_line_file_with_a_wrong_shift_is_refused(start: str) -> None:
    given = twin().line.model_dump()
    given["line"]["shift_starts"] = ["06:00", start]
    with pytest.raises(ValueError, match="shift_starts"):
        Line.model_validate(given)


def changed_twin() -> MemoryData:
    """Line 3 whose Z4 set-point went up 12 C at 07:00 and whose speed fell; its lot changed at 05:29 and 06:40."""
    held = twin()
    block = held.block
    values = block.values.copy()
    late = block.t0 + SECOND * np.arange(block.n) >= END - 29 * MINUTE
    values[block.channels.index("zone_setpoint:Z4")][late] += 12
    values[block.channels.index("screw_speed")][late] -= 40
    notes = (*block.notes, Note(END - 49 * MINUTE, "lot", "4418"))
    changed = Block(block.t0, block.step, block.channels, values, block.status, tuple(sorted(notes)))
    data = MemoryData([replace(held, block=changed)], clock=lambda: END)
    data.source.act("Line 3", held.findings[0].last.finding, "repaired", "Vera", "condensate pot emptied", END - HOUR)
    return data


def test_what_changed_since_the_shift_began() -> None:
    data = changed_twin()
    start, changes = changes_since_shift(data, data.line_now("Line 3"))
    assert start == END - 89 * MINUTE
    told = {(c.kind, c.key): c for c in changes}
    z4 = told["set", "zone_setpoint:Z4"]
    assert "222" in z4.text and "234" in z4.text and abs(z4.at - (END - 29 * MINUTE)) <= MINUTE
    assert "480" in told["set", "screw_speed"].text and "440" in told["set", "screw_speed"].text
    assert [c.text for c in changes if c.kind == "made"] == ["lot 4417 to 4418"]
    assert {c.key for c in changes if c.kind == "opened"} == {"feeder_rate:F4", "zone_temperature:Z10"}
    assert [c.text for c in changes if c.kind == "repaired"] == ["Vera: condensate pot emptied"]
    assert not any(c.key.startswith("zone_setpoint") and c is not z4 for c in changes)


def test_an_unchanged_line_tells_no_settings(data: MemoryData) -> None:
    _, changes = changes_since_shift(data, data.line_now("Line 3"))
    assert [c for c in changes if c.kind == "set" and c.key != "total_feed"] == []


def test_why_it_stopped() -> None:
    phases = [Segment(0, 100 * MINUTE, "steady"), Segment(100 * MINUTE, 101 * MINUTE, "stopping"),
              Segment(101 * MINUTE, 140 * MINUTE, "stopped")]  # fmt: skip
    since = standing_since(phases)
    assert since == 100 * MINUTE
    assert standing_since(phases[:1]) is None and standing_since([]) is None

    def stop(at: int) -> Finding:
        made = _record("screw_speed", "stopped_under_load", at, family="drive", priority=3, summary="stopped")
        return Finding(at, made)

    old, this = stop(20 * MINUTE), stop(99 * MINUTE)
    assert stop_finding(since, [old, this]) == this
    assert stop_finding(since, [old]) is None
    assert stop_finding(None, [this]) is None


def test_a_step_is_found_though_its_last_minute_scatters_back() -> None:
    """Means of ten minutes say that it stepped; the very last cell lies nearer to what was before."""
    y = np.array([100.0] * 20 + [90.0] * 20)
    y[-1] = 99.0
    cells = Means(("line_rate",), 0, MINUTE, y[None], y[None], y[None])
    found = _stepped(cells, y, False)

    assert found is not None and found[0] == 20 * MINUTE and found[1] == 100.0 and found[2] == pytest.approx(90.9)
    settings = np.array([100.0, 100.0, 90.0])
    assert _stepped(cells, settings, True) == (2 * MINUTE, 100.0, 90.0)


def test_the_next_shift_over_midnight_and_a_change_of_clocks() -> None:
    assert next_shift(MADRID, local(2026, 3, 3, 7, 29)) == local(2026, 3, 3, 14, 0)
    assert next_shift(MADRID, local(2026, 3, 3, 22, 0)) == local(2026, 3, 4, 6, 0), "not the one that begins now"
    assert next_shift(MADRID, local(2026, 3, 28, 23, 0)) == local(2026, 3, 29, 6, 0), "clocks go forward in that night"


def test_of_several_lots_the_one_before_is_named_and_the_one_the_shift_began_with() -> None:
    plant = twin()
    notes = (*plant.block.notes, Note(END - 49 * MINUTE, "lot", "4418"), Note(END - 20 * MINUTE, "lot", "4419"))
    block = plant.block
    again = Block(block.t0, block.step, block.channels, block.values, block.status, tuple(sorted(notes)))
    data = MemoryData([replace(plant, block=again)], clock=lambda: END)
    _, changes = changes_since_shift(data, data.line_now("Line 3"))
    assert [c.text for c in changes if c.kind == "made"] == ["lot 4418 to 4419; 4417 at its start"]


def test_what_a_line_that_stands_reads_is_no_other_way_of_running() -> None:
    data = changed_twin()
    now = data.line_now("Line 3")
    _, running = changes_since_shift(data, now)
    _, standing = changes_since_shift(data, replace(now, phase="stopped"))
    assert "screw_speed" in {c.key for c in running} and "screw_speed" not in {c.key for c in standing}
    assert "zone_setpoint:Z4" in {c.key for c in standing}


def test_what_a_log_begins_with_is_no_change_and_a_lot_said_twice_changed_once() -> None:
    """Its first lot and recipe; the next lot is named again at every change of the recipe's note."""
    held = twin()
    first, recipe = held.block.t0, next(n.text for n in held.block.notes if n.kind == "recipe")
    notes = tuple(
        Note(first + i * HOUR // 2, kind, text)
        for i, lot in enumerate(("4416", "4417", "4417"))
        for kind, text in (("lot", lot), ("recipe", recipe))
    )
    whole = held.line.line.model_copy(update={"shift_starts": ("03:00", "15:00")})
    plant = replace(
        held, line=held.line.model_copy(update={"line": whole}), block=replace(held.block, notes=tuple(sorted(notes)))
    )
    data = MemoryData([plant], clock=lambda: END)
    start, changes = changes_since_shift(data, data.line_now("Line 3"))

    assert start <= first
    made = [(c.text, c.at) for c in changes if c.kind == "made"]
    assert made == [("lot 4416 to 4417", first + HOUR // 2)]
