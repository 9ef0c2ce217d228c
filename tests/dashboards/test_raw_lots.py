"""Which raw-material lot went into which kilograms and containers."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dashboards.data import JournalData
from dashboards.memory_data import MemoryData
from dashboards.pages import lot_raw, lots
from dashboards.raw_lots import Filled, RawSpan, fillings, raw_spans, read_rows, rest_ns, write_rows
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from monitor.journal import Journal
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, HOUR, SECOND

MINUTE = 60 * SECOND
BEGIN = END - 2 * HOUR
"""Of lot 4417. Its first container was full after half an hour, the second a quarter of an hour before the end."""


@pytest.fixture
def data() -> MemoryData:
    return MemoryData([twin(), single()], clock=lambda: END)


def spans(data: MemoryData, *rows: Filled):
    write_rows(data, "Line 3", "A. Person", rows)
    lot = data.lots("Line 3")[-1]
    return raw_spans(data, lot, lot.start, lot.end)


def named(found: list[RawSpan]) -> list[RawSpan]:
    return [one for one in found if one.number]


def test_rows_are_read_as_typed_and_as_pasted(data: MemoryData) -> None:
    line, clock = twin().line, data.clock("Line 3")
    found, wrong = read_rows("2026-03-03 06:00; talc T4; R-1\n\n2026-03-03T06:10Z\tF1\tR-2", line, clock, END)
    assert wrong == []
    assert found == [Filled("F4", "R-1", END - 89 * MINUTE), Filled("F1", "R-2", END - 19 * MINUTE)]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("06:00; T4; R-1", "'06:00' is no time"),
        ("2026-03-03 07:30; T4; R-1", "still to come"),
        ("2026-03-03 06:00; T9; R-1", "no one feeder 'T9'; there are carrier PX"),
        ("2026-03-03 06:00; T4;", "the lot is missing"),
        ("2026-03-03 06:00; T4", "three parts"),
    ],
)
def test_what_is_wrong_with_a_row_is_said_and_nothing_is_kept(data: MemoryData, row: str, said: str) -> None:
    lot = data.lots("Line 3")[-1]
    told, left = lot_raw.written(data, lot, "A. Person", f"2026-03-03 06:00; T4; R-0\n{row}")
    assert said in as_html(told) and "Row 2" in as_html(told) and left.startswith("2026")
    assert fillings(data, "Line 3") == []


def test_kilograms_follow_the_rate_between_two_fillings(data: MemoryData) -> None:
    first, second = named(spans(data, Filled("F1", "A", BEGIN - HOUR), Filled("F1", "B", BEGIN + HOUR)))
    assert (first.number, second.number, first.title) == ("A", "B", "carrier PX")
    # The log has a gap of 180 s before this lot; the feeder gives 376.9 kg/h.
    assert (first.kg, second.kg) == (pytest.approx(376.9, rel=0.01), pytest.approx(376.9, rel=0.01))
    assert first.whole and second.whole and second.end == END


@pytest.mark.parametrize(("minutes", "names"), [(2, ["4417-1"]), (25, ["4417-1", "4417-2"])])
def test_a_container_is_named_while_the_hopper_still_holds_the_lot_before(
    data: MemoryData, minutes: int, names: list[str]
) -> None:
    """The hopper lasts 9 to 24 min; the first container is full at 30 min."""
    changed = BEGIN + minutes * MINUTE
    first, second = named(spans(data, Filled("F1", "A", BEGIN - HOUR), Filled("F1", "B", changed)))
    line = twin().line
    assert first.last - first.end == rest_ns(data, line, line.feeder_named("F1"), changed) > 5 * MINUTE
    assert [one.number for one in first.containers] == names
    assert [one.number for one in second.containers] == ["4417-1", "4417-2", "4417-2"]
    assert second.containers[-1].after


def test_a_lot_replaced_before_this_one_is_told_as_long_as_the_hopper_held_some(data: MemoryData) -> None:
    early = named(spans(data, Filled("F4", "A", BEGIN - HOUR), Filled("F4", "B", BEGIN - 5 * MINUTE)))
    assert [(one.number, one.kg) for one in early[:1]] == [("A", 0.0)] and early[1].number == "B"
    assert [one.number for one in early[0].containers][:1] == ["4417-1"]
    later = spans(data, Filled("F4", "B", BEGIN - 50 * MINUTE), Filled("F4", "-", BEGIN - 40 * MINUTE))
    assert "B" in [one.number for one in later]


def test_the_last_word_about_a_filling_counts_and_a_lot_can_end(data: MemoryData) -> None:
    rows = [Filled("F2", "wrong", BEGIN), Filled("F2", "K-7", BEGIN), Filled("F2", "-", BEGIN + 30 * MINUTE)]
    found = named(spans(data, *rows))
    assert [(one.number, one.end) for one in found] == [("K-7", BEGIN + 30 * MINUTE)]


def test_a_lot_is_found_by_its_raw_material(data: MemoryData) -> None:
    write_rows(data, "Line 3", "A. Person", [Filled("F3", "S-99", BEGIN + HOUR)])
    assert [item.lot.number for item in lots.listed(data, {"find": "s-99"})] == ["4417"]


def test_a_lot_is_found_by_what_was_left_in_the_hopper(data: MemoryData) -> None:
    """Replaced 5 min before the lots changed: of the carrier at least 9 min were left. An hour before: nothing."""
    rows = [Filled("F1", "OLD", BEGIN - HOUR), Filled("F1", "NEW", BEGIN - 50 * MINUTE)]
    write_rows(data, "Line 3", "A. Person", [*rows, Filled("F1", "NEXT", BEGIN - 5 * MINUTE)])

    def found(number: str) -> list[str]:
        return [item.lot.number for item in lots.listed(data, {"find": number}) if item.lot.line == "Line 3"]

    assert (found("OLD"), found("NEW"), found("NEXT")) == (["4416"], ["4417", "4416"], ["4417", "4416"])


def test_page_and_report_tell_it(data: MemoryData) -> None:
    lot = data.lots("Line 3")[-1]
    assert "None was written down" in as_html(lot_raw.raw_table(data, lot, lot.start, lot.end))
    said, left = lot_raw.written(data, lot, "A. Person", "2026-03-03 06:00; T4; R-17")
    assert (said, left) == ("Written down: 1.", "")
    for text in (as_html(lot_raw.raw_table(data, lot, lot.start, lot.end)), lot_report(data, lot, END)):
        assert "R-17" in text and "3 Mar 06:00" in text
        mine = next(row for row in text.split("<tr") if "R-17" in row)
        assert "4417-2" in mine and "all after 4417-2 until 07:29" in mine and "4417-1" not in mine


def test_a_line_whose_feeder_has_no_rate_says_so(data: MemoryData) -> None:
    lot = data.lots("Line 5")[-1]
    write_rows(data, "Line 5", "A. Person", [Filled("H", "G-1", lot.start)])
    text = as_html(lot_raw.raw_table(data, lot, lot.start, lot.end))
    assert "G-1" in text and "not known" in text


def test_the_journal_keeps_it(tmp_path: Path) -> None:
    with Journal(tmp_path / "kept.sqlite") as journal:
        kept = JournalData(journal, clock=lambda: END)
        write_rows(kept, "Line 3", "A. Person", [Filled("F1", "R-2", BEGIN)])
        assert fillings(kept, "Line 3") == [Filled("F1", "R-2", BEGIN)]


def test_what_was_fed_without_a_known_lot_is_told_for_every_feeder(data: MemoryData) -> None:
    """The carrier's lot came half an hour after the lot began; nothing was written about the other three feeders."""
    found = spans(data, Filled("F1", "A", BEGIN + 30 * MINUTE))
    carrier = [one for one in found if one.feeder == "F1"]
    assert [(one.number, one.start, one.end) for one in carrier] == [
        ("", BEGIN, BEGIN + 30 * MINUTE),
        ("A", BEGIN + 30 * MINUTE, END),
    ]
    assert carrier[0].kg == pytest.approx(376.9 / 2, rel=0.02)
    others = [one for one in found if one.feeder != "F1"]
    assert [(one.feeder, one.number, one.start, one.end) for one in others] == [
        (feeder, "", BEGIN, END) for feeder in ("F2", "F3", "F4")
    ]
    assert all(one.kg > 1 for one in others)
    text = as_html(lot_raw.raw_table(data, data.lots("Line 3")[-1], BEGIN, END))
    assert text.count("lot not known</b>") == 4


def test_a_lot_written_down_before_and_still_there_leaves_nothing_unknown(data: MemoryData) -> None:
    assert all(one.number for one in spans(data, *(Filled(f, "A", BEGIN - HOUR) for f in ("F1", "F2", "F3", "F4"))))


def test_a_raw_lot_in_touched_product_is_marked_and_one_that_was_used_up_before_is_not(data: MemoryData) -> None:
    """The talc falls short late in the lot; what was in the carrier's hopper before is all out by then."""
    early, late = named(spans(data, Filled("F1", "A", BEGIN - HOUR), Filled("F1", "B", BEGIN + 5 * MINUTE)))
    assert (early.verdict, early.kg_touched, late.verdict) == ("clear", 0.0, "hold")
    lot = data.lots("Line 3")[-1]
    assert late.kg_touched > 10
    # The name of a column tells what the marks mean.
    cells = re.sub(r' data-label="[^"]*"', "", as_html(lot_raw.raw_table(data, lot, BEGIN, END))).split("<tr")
    mine = {number: next(row for row in cells if f">{number}<" in row) for number in ("A", "B")}
    assert "■ hold" in mine["B"] and "kg of product" in mine["B"] and "■" not in mine["A"]
    held = [one.number for one in late.containers if one.verdict == "hold"]
    assert held and all(f"■ {number}" in mine["B"] or f"■ all after {number}" in mine["B"] for number in held)


def test_what_was_fed_while_no_lot_was_written_down_is_told_too(data: MemoryData) -> None:
    """Of the carrier in the first hour; of every other feeder in the whole lot."""
    found = spans(data, Filled("F1", "B", BEGIN + HOUR))

    nameless = [one for one in found if not one.number]
    assert [(one.start, one.end) for one in nameless if one.feeder == "F1"] == [(BEGIN, BEGIN + HOUR)]
    others = [one for one in nameless if one.feeder != "F1"]
    assert {one.feeder for one in others} == {feeder.name for feeder in twin().line.feeder} - {"F1"}
    assert all((one.start, one.end) == (BEGIN, END) and one.kg > 0 for one in others)


def test_a_raw_lot_in_touched_product_is_marked_with_how_much_of_that_is_touched(data: MemoryData) -> None:
    found = spans(data, Filled("F1", "B", BEGIN - HOUR))
    page = as_html(lot_raw.raw_table(data, data.lots("Line 3")[-1], BEGIN, END))

    touched = [one for one in found if one.verdict != "clear"]
    assert touched and all(one.kg_touched > 0 for one in touched)
    assert {one.verdict for one in found if one.kg_touched == 0} <= {"clear"}
    assert "lot not known" in page and any(mark in page for mark in ("■ 4417", "□ 4417"))
