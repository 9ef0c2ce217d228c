"""The lines page says of every figure and sentence which moment it is of."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from dash import Dash, html

from dashboards import parts
from dashboards.clock import MINUTE
from dashboards.figures.lines_sheet import lines_row
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.pages import lines, lots, upkeep
from dashboards.report.as_html import as_html
from dashboards.views import Run
from monitor.records import Evidence
from tests.dashboards.lines import single, twin
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
    assert "read at 07:29:00" in str(shown[1])


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


def labels(run: Run, width: float) -> list[tuple[float, str]]:
    return [
        (float(x), text)
        for x, text in re.findall(r'<text x="([\d.]+)"[^>]*>([^<]*)</text>', lines_row(run, width))
        if re.search(r"\d", text)
    ]


@pytest.mark.parametrize("hours_before", [0.02, 0.5, 2.0, 5.0, 7.9])
@pytest.mark.parametrize("width", [390, 1022])
def test_the_new_day_stands_at_midnight_and_no_label_runs_into_another(hours_before: float, width: int) -> None:
    held = twin()
    data = MemoryData([held], clock=lambda: END)
    midnight = data.clock("Line 3").parse_day("2026-03-03")
    assert midnight is not None
    start = midnight - round(hours_before * HOUR)
    run = replace(data.run("Line 3", END - 3 * HOUR, END), t0=start, t1=start + 8 * HOUR)
    told = labels(run, width)
    at = 2 + (width - 4) * hours_before / 8
    (new,) = (x for x, text in told if text == "3 Mar 2026")
    assert abs(new - at) <= 38 + 1e-6 and not any("00:00" in text for _, text in told)
    assert [text for _, text in told].count("2 Mar 2026") == (at >= 2 + 2 * 76)
    spans = sorted((x, x + 76) if text == "2 Mar 2026" else (x - 38, x + 38) if "Mar" in text else (x - 17, x + 17)
                   for x, text in told)  # fmt: skip
    assert all(last <= first for (_, last), (first, _) in itertools.pairwise(spans)), told
    assert spans[-1][1] <= width


def test_lines_that_ask_for_somebody_stand_first() -> None:
    """To act on now, outside, without data, to be looked at, standing, inside, ended; by name where they are alike."""
    held = twin()

    def named(name: str, **more: object) -> MemoryLine:
        line = held.line.model_copy(update={"line": held.line.line.model_copy(update={"name": name})})
        return replace(held, line=line, **more)

    old = next(f for f in held.findings if f.last.priority == 2)
    urgent = replace(old, last=replace(old.last, priority=1))
    mended = held.block.values.copy()
    mended[held.block.channels.index("feeder_rate:F4"), -1440:] = 102.2
    well = replace(held.block, values=mended)
    stood = [(held.block.t0, END - HOUR, "steady"), (END - HOUR, END, "stopped")]
    plants = [
        named("A", source="finished log"), named("B", block=well, findings=[]),
        named("C", block=well, findings=[], phases=stood), single(), named("E"),
        named("F", block=well, findings=[old]), named("G", findings=[urgent]), named("D"),
    ]  # fmt: skip
    data = MemoryData(plants, clock=lambda: END)
    text = as_html(html.Div(lines.in_order(data, sorted(data.line_names()), 1384)))
    assert re.findall(r"<h2>(?:<[^>]*>)?([^<]*)<", text) == ["G", "D", "E", "Line 5", "F", "C", "B", "A"]
