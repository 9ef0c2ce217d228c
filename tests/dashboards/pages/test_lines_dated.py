"""The lines page says of every figure and sentence which moment it is of."""

from __future__ import annotations

import itertools
from dataclasses import replace

from dash import Dash

from dashboards import parts
from dashboards.clock import MINUTE
from dashboards.figures.lines_sheet import lines_row
from dashboards.memory_data import MemoryData
from dashboards.pages import lines, lots, upkeep
from dashboards.report.as_html import as_html
from monitor.records import Evidence
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, HOUR, SECOND

DAY = 24 * HOUR


def told(data: MemoryData, name: str) -> str:
    return as_html(lines.line_block(data, name, 1384))


def test_a_live_line_is_dated_once_and_each_finding_by_when_it_was_said(data: MemoryData) -> None:
    text = told(data, "Line 3")

    assert text.count("as of 07:28:59, 2 s ago") == 1
    assert '102.2 wanted; its drive has climbed to 97 %<span class="soft"> (said at 07:06)</span>' in text


def test_a_line_whose_data_stopped_is_dated_by_its_last_reading(data: MemoryData) -> None:
    held = twin()
    later = MemoryData([held], clock=lambda: END + 3 * HOUR)
    text = told(later, "Line 3")

    assert "as of 07:28, the last reading" in text and " ago" not in text.partition("as of")[2]
    assert "Open when data stopped:" in text and "(said at 07:06)" in text
    assert "Open when data stopped:" not in told(data, "Line 3")


def test_a_finished_log_dates_its_most_pressing_finding() -> None:
    held = replace(twin(), source="finished log")
    data = MemoryData([held], clock=lambda: END + 9 * DAY)
    text = told(data, "Line 3")

    assert "The most pressing, act soon, 3 Mar 07:05 – 12 Mar T4" not in text, "it did not go on until now"
    assert "The most pressing, act soon, 3 Mar 07:05 – 07:29: talc T4" in text, "until the log ends, not until now"
    assert "as of" not in text, "its reason says until when it was read"


def test_of_a_finished_log_what_stood_at_its_end_goes_before_what_had_ended() -> None:
    held = replace(twin(), source="finished log")
    early = next(f for f in held.findings if f.last.condition == "vacuum_lost")
    held.findings.append(replace(early, last=replace(early.last, finding="early", priority=2, summary="had ended")))
    data = MemoryData([held], clock=lambda: END + 9 * DAY)
    now = data.line_now("Line 3")
    words = lines.found_in_all(data, now, data.clock("Line 3"))
    assert "talc T4 delivers" in words and "07:05 – 07:29" in words
    first = replace(early, last=replace(early.last, finding="first", priority=1, summary="more pressing"))
    held.findings.append(first)
    assert "more pressing" in lines.found_in_all(data, now, data.clock("Line 3"))


def test_a_log_ends_at_one_moment_on_every_page() -> None:
    held = replace(twin(), source="finished log")
    data = MemoryData([held], clock=lambda: END + 9 * DAY)
    assert "Read to its end at 3 Mar 07:29;" in told(data, "Line 3")
    stood = as_html(parts.newest(data.line_now("Line 3"), data.clock("Line 3"), 1.0))
    assert "its end: 3 Mar 07:29" in stood
    assert "3 Mar 07:29" in upkeep.answer(data, {}, "light", 1384)[1]


def test_the_page_is_asked_before_its_lines_are_looked_at() -> None:
    """A demo's clock runs sixty times as fast: no line may be older on the page than it says itself."""
    ticks = itertools.count(END, 30 * SECOND)
    data = MemoryData([twin()], clock=lambda: next(ticks))
    app = Dash(__name__)
    lines.register(app, data)
    shown = next(iter(app.callback_map.values()))["callback"].__wrapped__(0, 1384)
    assert "answered at 07:29:00" in str(shown[1])


def test_by_now_is_dated_and_a_longer_time_than_the_finding_is_explained() -> None:
    held = replace(twin(), source="finished log")
    old = held.findings[0]
    hot = replace(
        old.last, condition="hot_hold", priority=2, since=END - 79 * MINUTE, until=END, kind="closed", part_of="",
        summary="over its allowed 40 min: standing hot for 119 min by now",
        evidence=(Evidence("standing hot", 119.0, "min"),),
    )  # fmt: skip
    held.findings = [replace(old, last=hot)]
    text = told(MemoryData([held], clock=lambda: END + 9 * DAY), "Line 3")
    assert "by now" not in text
    assert "for 119 min by 07:29 (it was too long from 06:10 on; the time before that counts too)" in text
    held.findings = [replace(old, last=replace(hot, since=END - 119 * MINUTE))]
    assert "too long from" not in told(MemoryData([held], clock=lambda: END + 9 * DAY), "Line 3")


def test_the_row_has_its_day_a_mark_for_what_no_window_tells_and_a_legend() -> None:
    held = twin()
    old = held.findings[0]
    lonely = replace(
        old.last, channel="throat_temperature", since=END - HOUR, until=END - HOUR + MINUTE, part_of="",
        summary="nothing in a window <told>", evidence=(),
    )  # fmt: skip
    held.findings = [replace(old, last=lonely)]
    data = MemoryData([held], clock=lambda: END)
    run = data.run("Line 3", END - 3 * HOUR, END)
    row = lines_row(run, 1000)
    assert "3 Mar 2026" in row and 'class="fill other"' in row and "06:29 nothing in a window &lt;told&gt;" in row
    assert 'class="fill' not in lines_row(replace(run, findings=()), 1000)
    for page in (lines.layout(data), lots.lots_table(data, {})[0]):
        assert "upper half: a reading over its window" in str(page)
