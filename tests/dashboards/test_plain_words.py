"""Words a reader stumbled over, where they are made: said once, dated, and with what they rest on."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from dashboards.ahead import Room
from dashboards.clock import MINUTE
from dashboards.figures.barrel_strip import barrel_strip
from dashboards.figures.channel_chart import channel_chart
from dashboards.figures.findings_line import findings_lane
from dashboards.figures.look import look
from dashboards.figures.strip_corridor import short_name
from dashboards.figures.strip_view import StripView
from dashboards.figures.time_axis import TimeAxis
from dashboards.memory_data import MemoryData
from dashboards.pages import lot_beside, lot_parts, upkeep_form
from dashboards.pages.file_versions import plant_clock, saved_at
from dashboards.pages.live_shift import room_list
from dashboards.pages.lot_touched import containers_row
from dashboards.parts import finding_block
from dashboards.report.as_html import as_html
from dashboards.spoken_findings import fact_words
from dashboards.touched import Container, Verdict
from monitor.records import Cause, Evidence
from tests.dashboards.lines import twin
from tests.dashboards.lots_world import nine_lots
from tests.dashboards.plant import END, HOUR


def test_what_is_said_twice_is_said_once() -> None:
    held = twin()
    fact = Evidence("rate of talc T4", 83.8, "kg/h", 102.2)
    cause = Cause("screws over-fed", ("flooded at full rate", "flooded at full rate"))
    finding = replace(held.findings[2], last=replace(held.findings[2].last, evidence=(fact, fact), causes=(cause,)))
    text = as_html(finding_block(held.line, finding, END, MemoryData([held]).clock("Line 3"), "/"))
    assert text.count("flooded at full rate") == 1 and text.count("rate of talc T4") == 1


@pytest.mark.parametrize(("value", "expected"), [(100.0, 100.0), (99.98, 100.0)])
def test_a_drive_at_its_limit_is_not_told_as_it_is_expected(value: float, expected: float) -> None:
    line = twin().line
    fact = Evidence("feeder drive", value, "%", expected, None, "feeder_drive:F4")
    assert fact_words(fact, line) == "feeder drive at its limit of 100 %"
    assert "expected 58" in fact_words(replace(fact, expected=58.0), line)
    assert "expected 60" in fact_words(replace(fact, value=60.0, expected=60.0), line)


def test_the_room_of_torque_says_what_is_taken_off_first() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    now = data.line_now("Line 3")
    rooms = [Room("torque", 79.0, 95.0, 1.22), Room("feeder_drive:F1", 58.0, 100.0, 1.7)]
    idle = now.line.drive.no_load_torque_pct
    assert f"Of torque, the {idle:g} % that turning empty takes is taken off first" in as_html(room_list(now, rooms))
    assert "turning empty" not in as_html(room_list(now, rooms[1:] * 2))


def test_containers_to_hold_come_first_and_untouched_ones_are_folded() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    lot = data.lots("Line 3")[-1]
    words: tuple[tuple[str, Verdict], ...] = (("A", "clear"), ("B", "check"), ("C", "hold"), ("D", "hold"))
    at = lot.start
    packed = [
        Container(name, at + i * MINUTE, at + (i + 1) * MINUTE, 30.0, 3.0 * (word != "clear"), (), word)
        for i, (name, word) in enumerate(words)
    ]
    text = as_html(containers_row(data, lot, packed, {}))
    places = [text.index(part) for part in (">Status<", "■ hold", "□ check", "Untouched: 1", "no finding")]
    assert places == sorted(places) and text.index(">C</td>") < text.index(">D</td>") < text.index(">B</td>")
    assert "act now or act soon" in text and "priority" not in text
    whole = lot_parts.body(data, lot, data.run("Line 3", lot.start, lot.end), {})
    assert "Containers" in as_html(whole[0]) and "has each kilogram once" in as_html(whole[1])


def test_what_was_different_says_up_to_which_lot() -> None:
    data = nine_lots()
    name = data.line_names()[0]
    lots = data.lots(name)
    text = as_html(lot_beside.different_rows(data, lots[2], {}))
    newest = max(other.start for other in lots if other.start != lots[2].start)
    assert f"The newest of the others began {data.clock(name).day_minute(newest)}; lots that come later" in text


def test_out_of_service_is_only_promised_with_its_button() -> None:
    told = [part for part in upkeep_form.repair_form().children if "out of service" in str(part)]
    assert told and all("if-out" in str(part.className) or "if-in" in str(part.className) for part in told)


def test_the_strip_shows_the_recipe_s_edge_below_the_machine_s_limit() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    now = data.line_now("Line 3")
    drawn = barrel_strip(StripView(now.line, now.readings, now.windows), 1384)
    # P1 has an outer limit of 80 bar in its recipe, P2 one of 50; the machine bears 120.
    assert drawn.count('class="edge"') == 2 and ">80<" in drawn and ">50<" in drawn and "machine 120" in drawn
    assert 'class="edge"' not in barrel_strip(StripView(now.line, now.readings, {}), 1384)


def test_names_of_narrow_zones_do_not_meet() -> None:
    assert [short_name(name, 40) for name in ("adapter", "screen", "Z10")] == ["ada", "scr", "Z10"]


def test_files_are_dated_by_the_plant_s_clock() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    assert saved_at(END, plant_clock(data)) == "3 Mar 07:29 UTC+1"
    assert saved_at(END, plant_clock(MemoryData([], clock=lambda: END))) == "3 Mar 06:29 UTC"


def test_findings_on_the_time_axis_have_a_shape_and_are_explained() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    chart = data.chart("Line 3", "feeder_rate:F4", END - HOUR, END, 400)
    layout = channel_chart(chart, look("light"))["layout"]
    assert "▼" in [note["text"] for note in layout["annotations"]] and "lasts" in layout["meta"]["marks"]
    calm = channel_chart(replace(chart, findings=()), look("light"))["layout"]
    assert "lasts" not in calm["meta"]["marks"] and "▼" not in [note["text"] for note in calm["annotations"]]


def test_on_a_telephone_a_finding_has_its_bar_and_all_of_its_label() -> None:
    """In the middle of the lane no side has room for the label: it stands above the bar, not over it."""
    held = twin()
    finding = replace(
        held.findings[2], last=replace(held.findings[2].last, since=END - 75 * MINUTE, until=END - 45 * MINUTE)
    )
    axis = TimeAxis(END - 3 * HOUR, END, 358, MemoryData([held]).clock("Line 3"))
    drawn = findings_lane(held.line, [finding], axis, 0.0)[0][0]
    bar, label = (
        re.search(r'<path d="M[0-9.]+ ([0-9.]+)L[^>]*class="span', drawn),
        re.search(r'<text x="([0-9.]+)" y="([0-9.]+)" class="small ink"', drawn),
    )
    assert bar and label and float(label[2]) < float(bar[1]) - 4 and float(label[1]) >= axis.left
