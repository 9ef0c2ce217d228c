"""No speed is offered while a reading is outside its window, a feeder cannot hold its rate, or something is urgent."""

from __future__ import annotations

from dataclasses import replace

from dashboards.memory_data import MemoryData
from dashboards.pages import live
from dashboards.pages.live_shift import no_room
from dashboards.verdict import Verdict, verdict_of
from tests.dashboards.lines import twin
from tests.dashboards.pages.test_live_and_lines import short_of_talc
from tests.dashboards.plant import END

OFFERS = "% faster"


def ahead_of(data: MemoryData) -> str:
    return str(live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0)[8])


def test_speed_is_offered_where_all_is_well_and_not_where_a_feeder_is_short_or_a_reading_outside() -> None:
    held = twin()
    fed = held.block.values.copy()
    rate, drive = (held.block.channels.index(f"feeder_{role}:F4") for role in ("rate", "drive"))
    fed[drive, -120:] = 58.0
    eased = replace(held, block=replace(held.block, values=fed.copy()))
    fed[rate, -1440:] = 102.2
    well = replace(held, block=replace(held.block, values=fed), findings=[])
    told = [ahead_of(MemoryData([plant], clock=lambda: END)) for plant in (well, short_of_talc(), eased)]
    assert [OFFERS in text for text in told] == [True, False, False]
    assert "No room to go faster: talc T4 cannot hold its rate, 83.9 of 102 kg/h." in told[1]
    assert "No room to go faster while talc T4 rate is outside its window." in told[2]


def test_speed_is_not_offered_while_something_is_to_be_acted_on_now(data: MemoryData) -> None:
    now = data.line_now("Line 3")
    first = replace(now.findings[0], last=replace(now.findings[0].last, priority=1, summary="the couple is torn"))
    well = replace(now, readings={**now.readings, "feeder_drive:F4": 58.0, "feeder_rate:F4": 102.2}, findings=(first,))
    assert "while this is open: the couple is torn" in no_room(well, verdict_of(well, data.clock("Line 3")))
    assert "the couple is torn" in no_room(replace(now, findings=(first,)), verdict_of(well, data.clock("Line 3")))
    assert no_room(well, Verdict("inside", "calm", "")) == ""
