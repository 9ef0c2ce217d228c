"""Results of the laboratory: read, kept once, laid beside what the log says of the same product."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dashboards.data import JournalData
from dashboards.lab_file import read_results, text_of
from dashboards.lab_fit import LabView, Share, fed_span, fit_of, lab_views
from dashboards.lab_results import LabResult, lab_results, standing, write_results
from dashboards.memory_data import MemoryData
from dashboards.pages import lot_lab
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from dashboards.touched import Delay, touched_span
from monitor.journal import Journal
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, HOUR, SECOND, SHORT_SINCE

MINUTE = 60 * SECOND
BEGIN = END - 2 * HOUR
"""Of lot 4417, 05:29 in Madrid. Its talc falls short from 07:05 on."""

HEAD = "sampled,lot,quantity,value,unit,low,high,container,ingredient,u\n"


@pytest.fixture
def data() -> MemoryData:
    return MemoryData([twin(), single()], clock=lambda: END)


def result(at: int, value: float | None = 20.0, **more: object) -> LabResult:
    base: dict = {"sampled": at, "lot": BEGIN, "quantity": "ash", "value": value, "unit": "%", "ingredient": "F4"}
    return LabResult(**{**base, **more})


def read(data: MemoryData, text: str):
    return read_results(text, data, data.lots("Line 3")[-1])


def viewed(data: MemoryData, *results: LabResult) -> list[LabView]:
    write_results(data, "Line 3", "A. Person", results)
    lot = data.lots("Line 3")[-1]
    return lab_views(data, lot, lot.start, lot.end)


# -- reading


def test_a_file_is_read_with_all_its_columns(data: MemoryData) -> None:
    found = read(data, HEAD + "2026-03-03 06:00,4417,filler content,20.1,%,19,21,4417-2,talc T4,0.15\n")
    assert found.wrong == []
    assert found.results == [
        LabResult(BEGIN + 31 * MINUTE, BEGIN, "filler content", 20.1, "%", 19.0, 21.0, "4417-2", "F4", 0.15)
    ]


def test_rows_are_read_as_typed_in_any_order_of_columns_and_with_a_decimal_comma(data: MemoryData) -> None:
    typed = read(data, "2026-03-03 06:00;;moisture;0,04;%\n\n2026-03-03T05:10Z; 4417; melt flow rate; 11,2; g/10 min")
    assert typed.wrong == []
    assert [(one.quantity, one.value, one.unit, one.lot) for one in typed.results] == [
        ("moisture", 0.04, "%", BEGIN), ("melt flow rate", 11.2, "g/10 min", BEGIN)
    ]  # fmt: skip
    turned = read(data, '\ufeffUnit,Value,"Quantity",lot,sampled\n%,0.04,"ash, 600 °C",4416,2026-03-03 05:00\n')
    assert turned.wrong == [] and turned.results[0].lot == END - 3 * HOUR
    assert turned.results[0].quantity == "ash, 600 °C"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("yesterday,4417,ash,20,%", "Row 2, sampled 'yesterday': is no time; write it as"),
        ("2026-03-03 07:30,4417,ash,20,%", "is still to come; give the time"),
        ("2026-03-03 04:00,4417,ash,20,%", "is not in lot 4417, 2026-03-03 05:29 to 2026-03-03 07:29; mend"),
        ("2026-03-03 06:00,9999,ash,20,%", "Row 2, lot '9999': is no lot of Line 3; the newest are 4416, 4417"),
        ("2026-03-03 06:00,4417,,20,%", "Row 2, quantity '': is empty"),
        ("2026-03-03 06:00,4417,ash,<0.02,%", "Row 2, value '<0.02': is no number; write it as 18.7"),
        ("2026-03-03 06:00,4417,ash,inf,%", "Row 2, value 'inf'"),
        ("2026-03-03 06:00,4417,ash,,%", "Row 2, value ''"),
        ("2026-03-03 06:00,4417,ash,20,%,a lot,21", "Row 2, low 'a lot': is no number; write it as 18.7 or leave"),
        ("2026-03-03 06:00,4417,ash,20,%,22,21", "Row 2, low '22': is above the high limit 21"),
        ("2026-03-03 06:00,4417,ash,20,%,,,4417-9", "no known container of lot 4417; known are 4417-1, 4417-2"),
        ("2026-03-03 06:00,4417,ash,20,%,,,,chalk", "no one feeder of this line; there are carrier PX"),
        ("2026-03-03 06:00,4417,ash,20,g,,,,talc T4", "Row 2, unit 'g': is no share"),
        ("2026-03-03 06:00,4417,ash,20,%,,,,,-1", "Row 2, u '-1': is no uncertainty"),
        ("2026-03-03 06:00,4417,ash", "Row 2: 3 cells where 5 to 10 are wanted"),
    ],
)
def test_what_is_wrong_is_said_with_its_place_and_nothing_is_kept(data: MemoryData, row: str, said: str) -> None:
    text = HEAD + f"{row}\n2026-03-03 06:00,4417,ash,20,%\n"
    assert any(said in one for one in read(data, text).wrong), read(data, text).wrong
    told, left = lot_lab.written(data, data.lots("Line 3")[-1], "A. Person", text)
    assert "Nothing was written down" in as_html(told) and left == text
    assert lab_results(data, data.lots("Line 3")[-1]) == []


def test_all_mistakes_are_told_at_once(data: MemoryData) -> None:
    rows = "never,9999,ash,x,%\n2026-03-03 06:00,4417,ash,20,%\n2026-03-03 06:00,4417,,y,\n"
    wrong = read(data, HEAD + rows).wrong
    assert [one.split(" '")[0] for one in wrong] == [
        "Row 2, lot", "Row 2, sampled", "Row 2, value", "Row 4, quantity", "Row 4, unit", "Row 4, value"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("sampled,lot,value\n1,2,3\n", "Row 1: no column quantity, unit"),
        ("sampled,lot,quantity,value,unit,colour\n", "Row 1: column colour is not known"),
        ("sampled,lot,quantity,value,unit,unit\n", "Row 1: column unit stands there twice"),
        ("sampled,lot,quantity,value,unit\n", "There is no row"),
        ("", "There is no row"),
        ("2026-03-03 06:00;;ash;20;%\n" * 1001, "1001 rows; at most 1000"),
    ],
)
def test_a_file_that_cannot_be_used_says_why(data: MemoryData, text: str, said: str) -> None:
    assert said in read(data, text).wrong[0]


def test_what_is_no_text_is_refused(data: MemoryData) -> None:
    lot = data.lots("Line 3")[-1]
    assert text_of(b"PK\x03\x04") is None and text_of(b"a\x00b") is None
    assert text_of("Prüfung °C".encode("cp1252")) == "Prüfung °C"
    assert "book.xlsx is no CSV text" in lot_lab.dropped(data, lot, "A. Person", "book.xlsx", "data:;base64,UEsDBA==")
    assert "is no CSV text" in lot_lab.dropped(data, lot, "A. Person", "odd", "data:;base64,%%%")


# -- keeping


def test_twice_is_once_two_values_of_a_sample_stay_two_and_one_can_be_taken_back(data: MemoryData) -> None:
    text = HEAD + "2026-03-03 06:00,4417,ash,20.1,%\n2026-03-03 06:00,4417,ash,20.4,%\n2026-03-03 06:10,4417,ash,20,%\n"
    lot = data.lots("Line 3")[-1]
    assert lot_lab.written(data, lot, "A. Person", text) == ("Written down: 3.", "")
    assert lot_lab.written(data, lot, "A. Person", text)[0] == "Written down: 0; stood there already: 3."
    assert [one.value for one in lab_results(data, lot)] == [20.1, 20.4, 20.0]
    lot_lab.written(data, lot, "A. Person", "2026-03-03 06:00;;ash;-;%")
    assert [one.value for one in lab_results(data, lot)] == [20.0]
    again = result(BEGIN, 20.1)
    assert standing([again, replace(again, value=None), again]) == [again]


def test_results_go_to_their_own_lot(data: MemoryData) -> None:
    older, lot = data.lots("Line 3")
    said, _ = lot_lab.written(data, lot, "A. Person", "2026-03-03 05:00;4416;ash;20;%")
    assert "Of other lots, to be read on their pages: 4416." in said
    assert len(lab_results(data, older)) == 1 and lab_results(data, lot) == []
    assert lot_lab.written(data, lot, " ", "x")[0] == "Please give a name."


def test_the_journal_keeps_them(tmp_path: Path) -> None:
    one = result(BEGIN + HOUR, 19.7, u=0.2, container="4417-2")
    with Journal(tmp_path / "kept.sqlite") as journal:
        kept = JournalData(journal, clock=lambda: END)
        assert write_results(kept, "Line 3", "A. Person", [one, one]) == 1
    with Journal(tmp_path / "kept.sqlite") as journal:
        kept = JournalData(journal, clock=lambda: END)
        assert write_results(kept, "Line 3", "A. Person", [one]) == 0
        assert len(kept.actions("Line 3", f"lot@lab:{BEGIN}")) == 1


# -- beside the log


def test_a_sample_is_of_what_was_fed_before(data: MemoryData) -> None:
    """What an upset touches and what a sample is made of are one relation, read from both ends."""
    delay = Delay(41.0, 1.2, 900.0, 509.7, True)
    first, last = fed_span(END, END, delay)
    assert touched_span(first, first, delay)[1] == END and touched_span(last, last, delay)[0] == END


def test_the_delivered_share_is_that_of_the_sample_not_of_the_lot(data: MemoryData) -> None:
    """Just after the talc fell short the die still gives what was fed before; ten minutes later it does not."""
    before, after = viewed(data, result(SHORT_SINCE + 10 * SECOND), result(SHORT_SINCE + 10 * MINUTE))
    assert before.share is not None and after.share is not None
    assert before.share.value == pytest.approx(100 * 102.2 / 509.7, abs=0.15)
    assert after.share.value == pytest.approx(100 * 83.8 / 491.3, abs=0.15)
    assert before.share.error is not None and 0 < before.share.error < 1.5


def test_a_container_counts_for_all_of_its_filling(data: MemoryData) -> None:
    """Sampled at any time: 4417-2 was filled from 05:59 to 07:14, its last ten minutes short of talc."""
    [view] = viewed(data, result(BEGIN + HOUR, container="4417-2"))
    assert (view.start, view.end) == (BEGIN + 30 * MINUTE, END - 15 * MINUTE)
    short = (END - 15 * MINUTE - SHORT_SINCE) / (view.end - view.start)
    wanted = short * 17.06 + (1 - short) * 20.05
    assert view.share is not None and view.share.value == pytest.approx(wanted, abs=0.15)


def test_fit_takes_both_uncertainties_and_says_which_were_there() -> None:
    share = Share(20.0, 0.6)
    assert fit_of(result(0, 21.0, u=0.4), share) == ("fits", pytest.approx(2.0))
    assert fit_of(result(0, 21.1, u=0.4), share)[0] == "apart"
    assert fit_of(result(0, 20.5), share)[0] == "fits"
    assert fit_of(result(0, 21.0), share) == ("one_sided", pytest.approx(1 / 0.3))
    assert fit_of(result(0, 20.5, u=0.4), Share(20.0, None))[0] == "fits"
    assert fit_of(result(0, 20.0), Share(20.0, None)) == ("no_uncertainty", None)
    assert fit_of(result(0, 20.0, u=0.4), None) == ("no_share", None)


def test_a_value_out_of_line_while_the_log_is_quiet_is_a_question_about_both(data: MemoryData) -> None:
    quiet, told = viewed(
        data, result(BEGIN + HOUR, 15.0, u=0.3, low=19.0, high=21.0), result(SHORT_SINCE + 10 * MINUTE, 15.0, u=0.3)
    )
    assert (quiet.word, quiet.findings, quiet.out_of_line) == ("apart", (), True)
    assert told.word == "apart" and [f.last.channel for f in told.findings] == ["feeder_rate:F4"]
    text = as_html(lot_lab.lab_table(data, data.lots("Line 3")[-1], BEGIN, END))
    [first, second] = text.split("<tr")[2:]
    assert "a question about both" in first and "under its low 19" in first and "▼" in first and ">none<" in first
    assert "a question about both" not in second and "talc T4 delivers 83.8" in second


def with_pressure(shift_bar: float, *, since: int = END - 10 * MINUTE) -> MemoryData:
    held = twin()
    row = held.block.channels.index("melt_pressure:P2")
    held.block.values[row, held.block.times() >= since] += shift_bar
    rates = [held.block.channels.index(f"feeder_rate:{f.name}") for f in held.line.feeder]
    # The talc's shortage would be another rate, at which another pressure is expected.
    nominal = held.block.values[rates][:, :3000].mean(axis=1)
    t, total = held.quantities["total_feed"]
    held.quantities["total_feed"] = (t, np.full(len(total), nominal.sum()))
    return MemoryData([held], clock=lambda: END)


@pytest.mark.parametrize(
    ("shift_bar", "quantity", "value", "word", "told"),
    [
        (4.0, "viscosity", 480.0, "same", "P2 melt pressure higher than expected"),
        (4.0, "MFR", 480.0, "opposite", "P2 melt pressure higher than expected"),
        (-4.0, "melt flow rate", 480.0, "same", "P2 melt pressure lower than expected"),
        (4.0, "viscosity", 401.0, "no_move", "P2 melt pressure higher than expected"),
        (0.0, "viscosity", 480.0, "no_move", "P2 melt pressure as expected"),
        (0.0, "viscosity", 401.0, "same", "P2 melt pressure as expected"),
    ],
)
def test_viscosity_is_laid_beside_the_dies_pressure_by_direction_alone(
    shift_bar: float, quantity: str, value: float, word: str, told: str
) -> None:
    data = with_pressure(shift_bar)
    one = result(END - 5 * MINUTE, value, quantity=quantity, unit="Pa s", ingredient="", low=300.0, high=500.0)
    [view] = viewed(data, one)
    assert view.word == word
    text = as_html(lot_lab.lab_table(data, data.lots("Line 3")[-1], BEGIN, END))
    assert told in text and "bar" not in text.split("<tr")[2]


def test_what_is_far_apart_is_not_told_to_a_tenth(data: MemoryData) -> None:
    viewed(data, result(BEGIN + HOUR, 60.0, u=0.01), result(BEGIN + HOUR + MINUTE, 19.0, u=2.0))
    far, near = as_html(lot_lab.lab_table(data, data.lots("Line 3")[-1], BEGIN, END)).split("<tr")[2:]
    assert "apart by over 20 combined" in far and "apart by 0." in near


def test_without_limits_no_direction_is_said(data: MemoryData) -> None:
    [view] = viewed(data, result(BEGIN + HOUR, 400.0, quantity="viscosity", unit="Pa s", ingredient=""))
    assert view.word == "not_said"
    [other] = viewed(MemoryData([twin()], clock=lambda: END), result(BEGIN + HOUR, 0.4, quantity="dE", unit="1",
                                                                   ingredient="", high=0.3))  # fmt: skip
    assert other.word == "nothing" and other.out_of_line


def test_where_the_pressure_nearest_the_die_is_silent_the_next_one_tells() -> None:
    data = with_pressure(0.0)
    held = data.source._lines["Line 3"]  # type: ignore[attr-defined]
    held.block.values[held.block.channels.index("melt_pressure:P2")] = np.nan
    held.block.values[held.block.channels.index("melt_pressure:P1"), -600:] += 12.0
    one = result(END - 5 * MINUTE, 480.0, quantity="viscosity", unit="Pa s", ingredient="", low=300.0, high=500.0)
    [view] = viewed(data, one)
    assert view.pressure is not None and view.pressure.key == "melt_pressure:P1" and view.word == "same"


def test_at_another_rate_no_pressure_is_compared() -> None:
    data = with_pressure(4.0)
    held = data.source._lines["Line 3"]  # type: ignore[attr-defined]
    t, total = held.quantities["total_feed"]
    held.quantities["total_feed"] = (t, np.where(t >= END - 10 * MINUTE, 0.7 * total, total))
    one = result(END - 5 * MINUTE, 480.0, quantity="viscosity", unit="Pa s", ingredient="", low=300.0, high=500.0)
    assert [view.word for view in viewed(data, one)] == ["no_pressure"]


def test_a_line_without_shares_says_so(data: MemoryData) -> None:
    lot = data.lots("Line 5")[-1]
    one = LabResult(lot.start + MINUTE, lot.start, "ash", 20.0, "%", ingredient="H", u=0.1)
    write_results(data, "Line 5", "A. Person", [one])
    assert [v.word for v in lab_views(data, lot, lot.start, lot.end)] == ["no_share"]


def test_page_and_report_tell_it_and_a_stretch_only_its_own(data: MemoryData) -> None:
    lot = data.lots("Line 3")[-1]
    assert "None was given" in as_html(lot_lab.lab_table(data, lot, BEGIN, END))
    viewed(data, result(BEGIN + HOUR, 20.1, u=0.3), result(BEGIN + 90 * MINUTE, 19.9))
    page, report = as_html(lot_lab.lab_table(data, lot, BEGIN, END)), lot_report(data, lot, END)
    for text in (page, report):
        assert "ash 20.1 %" in text and "talc T4 20." in text and "no uncertainty given" in text and "u 0.3 %" in text
        assert "combined standard uncertainties" in text and "3 Mar 06:29" in text
    part = as_html(lot_lab.lab_table(data, lot, BEGIN + 80 * MINUTE, END))
    assert "ash 19.9 %" in part and "ash 20.1 %" not in part
