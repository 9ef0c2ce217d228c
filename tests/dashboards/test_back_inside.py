"""A finding that is open, but whose reading is back inside, is told so and stands behind those that still hold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboards.back_inside import back_inside, with_back
from dashboards.clock import MINUTE
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.pages import lines, live_parts, upkeep
from dashboards.report.as_html import as_html
from dashboards.verdict import verdict_of
from monitor.records import Evidence
from tests.dashboards.lines import _record, twin
from tests.dashboards.plant import END, HOUR

CAME_BACK = END - 10 * MINUTE


def cold_zone(*, output: float = 21.0, came_back: int = CAME_BACK, recipe: bool = True) -> MemoryLine:
    """Zone Z4 was 6 C under its set for 22 minutes at full heat and is back; its finding is open. Talc is full."""
    held = twin()
    values, t0 = held.block.values, held.block.t0
    index = (came_back - t0) // held.block.step
    row = held.block.channels.index("zone_temperature:Z4")
    values[row, index - 22 * 60 : index] = 216.0
    values[held.block.channels.index("zone_output:Z4"), -600:] = output
    values[held.block.channels.index("feeder_rate:F4")] = 102.2
    values[held.block.channels.index("feeder_drive:F4")] = 58.0
    record = _record(
        "zone_output:Z4", "heater_dead", came_back - 22 * MINUTE, family="heater", priority=2,
        summary="zone Z4 calls for full heat, 6.0 C under set and not rising",
    )  # fmt: skip
    held.findings = [replace(held.findings[0], last=record)]
    return held if recipe else replace(held, recipes=[])


def seen(held: MemoryLine):
    data = MemoryData([held], clock=lambda: END)
    run = data.run("Line 3", END - 3 * HOUR, END)
    return data, run, with_back(data, data.line_now("Line 3"), run)


@pytest.mark.parametrize("recipe", [True, False])
def test_the_live_and_the_lines_page_say_since_when_it_is_back(recipe: bool) -> None:
    data, run, now = seen(cold_zone(recipe=recipe))
    assert list(now.back.values()) == [CAME_BACK]
    clock = data.clock("Line 3")
    told = as_html(live_parts.findings_list(data, now, clock, ""))
    where = "inside its window" if recipe else "near its set-point, with room in its output,"
    assert f"Z4 temperature has been {where} since 07:19" in told and "closes when it has stayed so" in told
    reason = verdict_of(now, clock, run).reason
    assert "not rising (said at 06:58; no longer so since 07:19, closes when it has stayed so)" in reason
    assert "no longer so since 07:1" in as_html(lines.line_block(data, "Line 3", 1384))


@pytest.mark.parametrize("recipe", [True, False])
def test_a_zone_that_was_too_cold_and_is_too_hot_now_is_no_longer_too_cold(recipe: bool) -> None:
    held = cold_zone(recipe=recipe)
    held.block.values[held.block.channels.index("zone_temperature:Z4"), -240:] = 227.0
    under = (Evidence("zone Z4", 216.0, "C", expected=222.0),)
    held.findings[0] = replace(held.findings[0], last=replace(held.findings[0].last, evidence=under))
    data, _, now = seen(held)
    assert list(now.back.values()) == [CAME_BACK]
    told = as_html(live_parts.findings_list(data, now, data.clock("Line 3"), ""))
    assert "No longer so: Z4 temperature has not been " in told and "inside its window" not in told
    over = (Evidence("zone Z4", 228.0, "C", expected=222.0),)
    held.findings[0] = replace(held.findings[0], last=replace(held.findings[0].last, evidence=over))
    assert seen(held)[2].back == {}


def test_what_still_holds_stands_before_what_is_back() -> None:
    held = cold_zone()
    late = _record(
        "feeder_rate:F4", "feeder_below_set", END - MINUTE, family="feeder", priority=2, summary="talc short"
    )
    held.findings.append(replace(held.findings[0], last=late))
    data, run, now = seen(held)
    told = as_html(live_parts.findings_list(data, now, data.clock("Line 3"), ""))
    assert told.index("talc short") < told.index("calls for full heat")
    assert "talc short" in verdict_of(now, data.clock("Line 3"), run).reason


@pytest.mark.parametrize(
    "held",
    [
        cold_zone(came_back=END),  # out still
        cold_zone(output=100.0),  # inside, but only at full heat
        cold_zone(came_back=END - MINUTE // 3),  # may be one swing
        replace(cold_zone(), phases=[(END - 3 * HOUR, END, "heating")]),  # nothing is judged
    ],
)
def test_it_is_not_back_while_out_or_at_full_heat_or_not_judged(held: MemoryLine) -> None:
    assert seen(held)[2].back == {}


def test_a_reading_that_never_left_and_one_that_swings_are_not_called_back() -> None:
    data, run, now = seen(cold_zone())
    calm = replace(now.findings[0], last=replace(now.findings[0].last, channel="zone_temperature:Z5"))
    swings = replace(now.findings[0], last=replace(now.findings[0].last, condition="zone_hunting"))
    assert back_inside(data, [calm, swings], run, settled=True) == {}


def test_upkeep_does_not_call_it_so_now() -> None:
    data, _, _ = seen(cold_zone())
    text = as_html(upkeep.answer(data, {}, "light", 1384)[2])
    assert "No longer so since 07:19; open since 06:57, closes when it has stayed so." in text
    assert ">So now<" not in text and text.index("No longer so, the finding still open") < text.index("zone Z4")
    assert "Nothing asks for a look now" in text


def test_upkeep_gives_no_all_clear_while_a_reading_is_outside() -> None:
    held = cold_zone()
    held.block.values[held.block.channels.index("melt_temperature:melt"), -240:] = 228.0
    data = MemoryData([held], clock=lambda: END)
    text = as_html(upkeep.answer(data, {}, "light", 1384)[2])
    assert "Nothing asks for a look now" not in text and "Outside their windows now on Line 3:" in text
    assert "under, 228\u202f°C, limit 232\u202f°C, since 07:25" in text and "to its live page" in text
