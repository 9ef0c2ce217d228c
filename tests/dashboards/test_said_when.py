"""A finding's figures are told apart from what the line reads now."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dashboards.clock import PlantClock
from dashboards.memory_data import MemoryData
from dashboards.pages import live_parts, lot
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from dashboards.said_when import figures_when, mean_seconds, present_of, present_words
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, SECOND, SHORT_SINCE

CLOCK = PlantClock("Europe/Madrid")
MINUTE = 60 * SECOND


def short_of_talc():
    return next(f for f in twin().findings if f.last.channel == "feeder_rate:F4")


def test_an_open_finding_says_when_its_figures_were_so_and_what_is_read_now() -> None:
    held = twin()
    row = held.block.channels.index("feeder_rate:F4")
    held.block.values[row, -120:] = 61.0
    data = MemoryData([held], clock=lambda: END)
    now = data.line_now("Line 3")

    text = as_html(live_parts.findings_list(data, now, CLOCK, ""))
    mine = next(block for block in text.split("<article") if "talc T4 delivers" in block)

    # Said one minute after it began; what it reads since two minutes ago stands beside it, over how long a mean.
    assert "as said at 07:06." in mine and "83.8 kg/h" in mine
    assert "Now, 07:28:59: talc T4 rate 61.0\u202fkg/h (mean of 60 s); talc T4 drive 97\u202f% (mean of 10 s)." in mine


def test_the_mean_is_over_what_the_live_page_takes() -> None:
    line = twin().line
    assert [mean_seconds(line, key) for key in ("torque", "feeder_rate:F4", "melt_pressure:P1")] == [60, 60, 10]
    assert mean_seconds(line, "feeder_gravimetric:F4") == mean_seconds(line, "share:F4") == 0
    slow = line.model_copy(update={"line": line.line.model_copy(update={"cadence_s": 30.0})})
    assert mean_seconds(slow, "melt_pressure:P1") == 30


def test_one_that_is_over_tells_its_worst_and_no_present_reading() -> None:
    finding = short_of_talc()
    over = replace(finding, last=replace(finding.last, kind="closed", until=SHORT_SINCE + 14 * MINUTE))
    present = present_of(MemoryData([twin()], clock=lambda: END).line_now("Line 3"))
    assert figures_when(over, END, CLOCK) == "Figures above and measured: its worst, 07:05 – 07:19."
    assert present is not None and present_words(over, twin().line, present, CLOCK) == ""
    cut = replace(finding, last=replace(finding.last, kind="cut off", decided_at=END))
    assert figures_when(cut, END, CLOCK).endswith("as last said, not later than 07:29.")
    plain = replace(finding, last=replace(finding.last, summary="data stopped", evidence=()))
    assert figures_when(plain, END, CLOCK) == ""


def test_nothing_is_called_now_where_nothing_is_live() -> None:
    assert present_of(MemoryData([single()], clock=lambda: END).line_now("Line 5")) is None
    stopped = MemoryData([twin()], clock=lambda: END + 5 * MINUTE)
    assert present_of(stopped.line_now("Line 3")) is None


def test_lot_and_report_tell_it_too_and_only_a_running_lot_reads_now() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    one = data.lots("Line 3")[-1]

    def page(number: str) -> str:
        found = data.lot("Line 3", number)
        assert found is not None
        return as_html(lot.findings_rows(data, found, data.run("Line 3", found.start, found.end), CLOCK, {}))

    assert one.running and "as said at 07:06." in page("4417") and "Now, 07:28:59: talc T4 rate" in page("4417")
    assert "Now, " not in page("4416")
    assert "as said at 07:06." in lot_report(data, one, END)


def test_a_finding_inside_one_minute_tells_its_length() -> None:
    finding = short_of_talc()
    brief = replace(finding, last=replace(finding.last, kind="closed", until=SHORT_SINCE + 24 * SECOND))
    held = replace(twin(), findings=[brief])
    data = MemoryData([held], clock=lambda: END)
    found = data.lot("Line 3", "4417")
    assert found is not None
    text = as_html(lot.findings_rows(data, found, data.run("Line 3", found.start, found.end), CLOCK, {}))
    assert "07:05, for 24 s" in text and "ended 07:05" not in text
    ended = as_html(live_parts.ended_lately(data, data.line_now("Line 3"), CLOCK))
    assert "07:05, for 24 s" in ended and "07:05 – 07:05" not in ended
    assert np.isfinite(held.block.values[0, -1])
