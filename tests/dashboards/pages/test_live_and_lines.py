"""What the live and the lines page say at a glance."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboards.ahead import rooms
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.strip_view import StripView
from dashboards.memory_data import MemoryData
from dashboards.pages import lines, live
from dashboards.pages.live_shift import room_list, shift_block, stopped_block
from monitor.records import Cause
from tests.dashboards.lines import _record, twin
from tests.dashboards.plant import END, SECOND


def test_a_line_at_a_glance(data: MemoryData) -> None:
    text = str(lines.line_block(data, "Line 3", 1384))
    for part in ("steady", "grey talc compound", "lot 4417", "kg/h", "Outside", "act soon", "newest reading", "Next: "):
        assert part in text, part


@pytest.mark.parametrize("width", [390, 788, 1384])
def test_torque_is_named_at_every_width(data: MemoryData, width: int) -> None:
    now = data.line_now("Line 3")
    drawn = barrel_strip(StripView(now.line, now.readings, now.windows), width)
    assert ">torque<" in drawn or ">torque 6" in drawn or ">torque 7" in drawn


def test_the_shift_is_told_on_the_page(data: MemoryData) -> None:
    text = str(shift_block(data, data.line_now("Line 3"), data.clock("Line 3")))
    assert "What changed since 06:00" in text and "Findings still open" in text and "talc T4 delivers" in text


def test_the_first_to_stop_a_faster_line_is_on_top(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    text = str(room_list(now, rooms(now.line, now.readings, now.windows, flooded=False)))
    assert text.index("talc T4") < text.index("torque")
    assert "are taken to grow" in text and "3 % faster" in text and "twice as fast" not in text


def test_a_stop_is_explained_while_the_line_stands() -> None:
    held = twin()
    stop = END - 600 * SECOND
    made = _record(
        "screw_speed", "stopped_under_load", stop - 10 * SECOND, family="drive", priority=3, kind="closed",
        until=stop + 60 * SECOND, summary="screw stopped under load: torque at its limit 8 s before",
        causes=(Cause("drive trip at its torque limit", ("torque at its limit first",)),),
    )  # fmt: skip
    phases = [(held.block.t0, stop, "steady"), (stop, END, "stopped")]
    found = replace(held.findings[0], last=made)
    data = MemoryData([replace(held, phases=phases, findings=[found])], clock=lambda: END)
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    text = str(stopped_block(data, now, clock))
    assert "Why did it stop?" in text and "drive trip at its torque limit" in text
    assert "Why did it stop?" in str(live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0))
    running = MemoryData([replace(held, findings=[found])], clock=lambda: END)
    assert stopped_block(running, running.line_now("Line 3"), clock) == []
