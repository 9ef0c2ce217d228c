"""What the live and the lines page say at a glance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dashboards.ahead import rooms
from dashboards.figures.ahead_rule import ahead_rule
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.strip_view import StripView
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.outlook import outlook
from dashboards.pages import lines, live, live_parts, lot_parts
from dashboards.pages.live_shift import room_list, shift_block, stopped_block
from monitor.records import Cause
from tests.dashboards.lines import _record, twin
from tests.dashboards.plant import END, HOURS, SECOND


def test_a_line_at_a_glance(data: MemoryData) -> None:
    text = str(lines.line_block(data, "Line 3", 1384))
    for part in (
        "steady",
        "grey talc compound",
        "lot 4417",
        "kg/h",
        "Outside",
        "act soon",
        "as of 07:28:59, 2 s ago",
        "Now: talc T4",
    ):
        assert part in text, part


def test_both_pages_date_what_is_outside_alike(data: MemoryData) -> None:
    """By the same columns: those of eight hours are wider, and begin a minute earlier."""
    told = str(lines.line_block(data, "Line 3", 1384)), str(live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0)[1])
    assert all("since 07:05, 24 min now" in text for text in told)


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


def short_of_talc() -> MemoryLine:
    """The talc feeder's drive at its limit for the last minutes, its rate 18 % short."""
    held = twin()
    values = held.block.values.copy()
    values[held.block.channels.index("feeder_drive:F4"), -120:] = 100.0
    return replace(held, block=replace(held.block, values=values))


def test_a_feeder_at_its_limit_is_what_comes_next() -> None:
    data = MemoryData([short_of_talc()], clock=lambda: END)
    said = "Now: talc T4 drive at its limit 100\u202f%, cannot hold its rate: 83.9 of 102 kg/h"
    assert said in [part.children for part in live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0)[7]]
    now, clock = data.line_now("Line 3"), data.clock("Line 3")
    drawn = ahead_rule(now.line, outlook(data, now)[0], now.now, clock, 1384)
    assert "talc T4: drive at its limit" in drawn and "cannot hold its rate: 83.9 of 102" in drawn
    assert said == lines.next_limit(data, now, clock)


def test_a_hopper_that_refills_itself_is_not_announced() -> None:
    data = MemoryData([short_of_talc()], clock=lambda: END)
    assert all(not item.key.startswith("feeder_weight") for item in outlook(data, data.line_now("Line 3"))[0])


def test_where_a_feeder_is_not_read_the_rate_is_told_as_the_least() -> None:
    held = twin()
    kept = [sensor for sensor in held.line.sensor if sensor.key != "feeder_rate:F1"]
    line = held.line.model_copy(update={"sensor": tuple(kept)})
    rows = [i for i, key in enumerate(held.block.channels) if key in line.channels]
    block = replace(held.block, channels=line.channels, values=held.block.values[rows], status=held.block.status[rows])
    quantities = {**held.quantities, "total_feed": (held.quantities["total_feed"][0], np.full(HOURS * 360, 116.0))}
    data = MemoryData([replace(held, line=line, block=block, quantities=quantities)], clock=lambda: END)
    now = data.line_now("Line 3")
    assert now.rate_kg_h is None and now.least_rate_kg_h == pytest.approx(114.5, rel=0.02)
    assert live_parts.rate_words(now).startswith("at least 11")
    lot = data.lots("Line 3")[-1]
    run = data.run("Line 3", lot.start, lot.end)
    head = str(lot_parts.stretch_words(data, lot, run, {}, True))
    assert "At least" in head and "of at least 2" in head
    whole = MemoryData([held], clock=lambda: END)
    assert "t least" not in str(lot_parts.stretch_words(whole, lot, whole.run("Line 3", lot.start, lot.end), {}, True))
