"""The lines page says of every figure and sentence which moment it is of."""

from __future__ import annotations

from dataclasses import replace

from dashboards.memory_data import MemoryData
from dashboards.pages import lines
from dashboards.report.as_html import as_html
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, HOUR

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
    assert "The most pressing, act soon, 3 Mar 07:05 – 07:28: talc T4" in text, "until the log ends, not until now"
    assert "as of" not in text, "its reason says until when it was read"
