"""Upkeep says of each part whether it is so now, was so until when, or began and ended how often."""

from __future__ import annotations

from dataclasses import replace

from dash import html

from dashboards.clock import PlantClock
from dashboards.memory_data import MemoryData
from dashboards.pages import upkeep, upkeep_list
from dashboards.report.as_html import as_html
from dashboards.sensor_checks import SensorCheck
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_state import lately_words, state_words, told_words
from monitor.records import Finding
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, SECOND, SHORT_SINCE
from tests.dashboards.test_upkeep_parts import HOUR, item, record

CLOCK = PlantClock("UTC")
MINUTE = 60 * SECOND
HEATER = record("heater_dead", "heater", "zone_output:Z4", summary="Z4 6 K under set", decided_at=END - 55 * MINUTE)


def over(since: int, until: int, **more: object) -> Finding:
    return Finding(END, replace(HEATER, kind="closed", since=since, until=until, **more))  # type: ignore[arg-type]


def test_what_is_so_now_says_since_when_and_when_it_was_said() -> None:
    one = item(Finding(END, HEATER))
    assert (one.state, state_words(one, CLOCK)) == ("now", "So now, since 05:29, 1 h.")
    assert told_words(one, CLOCK) == ["Z4 6 K under set (said at 05:34)"]
    before = over(END - 5 * HOUR, END - 4 * HOUR)
    assert state_words(item(Finding(END, HEATER), before), CLOCK).endswith(
        "Once before within a day it began and ended."
    )


def test_of_a_line_that_stands_a_screen_is_told_as_found_and_a_zone_as_so_now() -> None:
    screen = item(Finding(END, HEATER), kind="screen", line_stands=True)
    assert state_words(screen, CLOCK) == ("Found at 05:29; the line stands, so nothing tells whether it is still so.")
    assert item(Finding(END, HEATER), kind="screen", line_stands=True, strain=1.0).state == "stood"
    zone = item(Finding(END, HEATER), line_stands=True)
    assert state_words(zone, CLOCK).startswith("So now")
    assert (screen.state, zone.state) == ("stood", "now") and sorted([screen, zone], key=UpkeepItem.order)[0] is zone


def test_what_is_over_says_until_when_or_how_often() -> None:
    once = item(over(END - 2 * HOUR, END - 90 * MINUTE))
    assert (once.state, state_words(once, CLOCK)) == ("gone", "Not now: was so 3 Mar 04:29 to 04:59, 30 min.")
    brief = item(over(END - 2 * HOUR, END - 2 * HOUR + 24 * SECOND))
    assert state_words(brief, CLOCK) == "Not now: was so 3 Mar 04:29, for 24 s."
    longest, newest = over(END - 5 * HOUR, END - 4 * HOUR), over(END - 90 * MINUTE, END - 80 * MINUTE)
    often = item(newest, longest)
    assert state_words(often, CLOCK) == (
        "Not now: began and ended 2 times within a day, the last 3 Mar 04:59 to 05:09, 10 min."
    )
    assert told_words(often, CLOCK) == ["the most pressing, 3 Mar 01:29 to 02:29: Z4 6 K under set"]


def test_a_finished_log_is_never_told_as_now() -> None:
    cut = Finding(END, replace(HEATER, kind="cut off", decided_at=END))
    ended = item(cut, live=False, words="heats 100 %")
    assert (ended.state, lately_words(ended)) == ("ended", "last 5 min of its log: heats 100 %")
    assert state_words(ended, CLOCK) == "Was so until its log ended, 3 Mar 06:29; since 05:29, 1 h."
    for one in (
        item(live=False, stop=(1800.0, 900.0, None)),
        item(live=False, strain=1.2),
        item(over(END - 2 * HOUR, END - HOUR), live=False),
    ):
        assert "now" not in state_words(one, CLOCK).lower().removeprefix("not now")
        assert "log ended, 3 Mar 06:29" in state_words(one, CLOCK)


def test_a_limit_ahead_a_sensor_in_doubt_and_strain_have_their_words() -> None:
    assert "trend" in state_words(item(stop=(1800.0, 900.0, None)), CLOCK)
    check = SensorCheck("zone_temperature:Z4", 6.0, END - 2 * HOUR)
    assert state_words(item(checks=(check,)), CLOCK).startswith("Seen at the stop that ended 3 Mar 04:29")
    assert "near its limit" in state_words(item(strain=1.0), CLOCK)
    assert state_words(item(), CLOCK) == "" and item().state == "usual"
    # What is strained now is no thing of the past, whatever began and ended before.
    both = item(over(END - 2 * HOUR, END - HOUR), strain=1.0)
    assert both.state == "now" and "near its limit" in state_words(both, CLOCK)


def test_the_page_lists_what_is_so_now_before_what_was(end_ns: int) -> None:
    held = twin()
    short = next(f for f in held.findings if f.last.channel == "feeder_rate:F4" and not f.last.part_of)
    gone = replace(
        short.last, kind="closed", until=SHORT_SINCE + 10 * MINUTE, channel="feeder_rate:F1", finding="gone", priority=1
    )
    late = replace(short.last, priority=3)
    held.findings = [Finding(end_ns, gone), Finding(end_ns, late)]
    data = MemoryData([held], clock=lambda: end_ns)
    text = as_html(upkeep.answer(data, {}, "light", 1384)[2])
    places = [text.index(part) for part in (">So now<", "talc T4</strong>", ">Not now: began", "carrier PX</strong>")]
    assert places == sorted(places)
    assert "So now, since 07:05, 24 min." in text and "Not now: was so 3 Mar 07:05 to 07:15, 10 min." in text


def test_the_page_says_so_where_nothing_is_so_now(end_ns: int) -> None:
    held = twin()
    gone = replace(
        held.findings[0].last, kind="closed", until=SHORT_SINCE, since=SHORT_SINCE - HOUR, priority=2, family="vacuum"
    )
    held.findings = [Finding(end_ns, gone)]
    row = held.block.channels.index("feeder_rate:F4")
    held.block.values[row] = 102.2
    held.block.values[held.block.channels.index("feeder_drive:F4")] = 58.0
    data = MemoryData([held], clock=lambda: end_ns)
    text = as_html(upkeep.answer(data, {}, "light", 1384)[2])
    assert "Nothing asks for a look now" in text and ">So now<" not in text
    assert "Not now: was so 3 Mar 06:05 to 07:05, 1 h." in text


def test_where_finished_logs_ended_waits_closed_beneath_a_line_that_is_watched(data: MemoryData) -> None:
    cut = Finding(END, replace(HEATER, kind="cut off", decided_at=END))
    ended, alive = item(cut, live=False, line="Line 3"), item(Finding(END, HEATER), line="Line 3")

    def details(items: list[UpkeepItem], chosen: UpkeepItem) -> list[bool]:
        blocks = upkeep_list.calling_list(data, items, upkeep_list.Entries(chosen, False, {}, ()))
        return [block.open for block in blocks if isinstance(block, html.Details)]  # type: ignore[attr-defined]

    assert details([alive, ended], alive) == [False] and details([alive, ended], ended) == [True]
    assert details([ended], ended) == []
