"""Logs in workbooks, compared with what pandas makes of the same file."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from ingest.errors import BadLog
from tests.ingest.plain_log import (
    Row,
    all_cells,
    cells_of,
    expected_cells,
    mapping,
    moment,
    read,
    same_blocks,
    steady,
    write_csv,
)

COLUMNS = ("T1", "P die", "SP1")
ROWS = steady(300)
Sheet = Sequence[Sequence[object]]


def stamp(ns: int) -> dt.datetime:
    """As a workbook holds it, without a zone."""
    return moment(ns).replace(tzinfo=None)


def sheet(rows: Sequence[Row] = ROWS) -> list[list[object]]:
    """Head row and rows."""
    return [["Time", *COLUMNS], *([stamp(ns), *(values[name] for name in COLUMNS)] for ns, values in rows)]


def save(path: Path, sheets: dict[str, Sheet]) -> Path:
    """A workbook."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets.items():
        target = book.create_sheet(title)
        for row in rows:
            target.append(list(row))
    book.save(path)
    return path


def test_a_workbook_is_read_like_the_csv_log(tmp_path: Path) -> None:
    path = save(tmp_path / "log.xlsx", {"Data": sheet()})
    blocks, account = read(path)
    assert same_blocks(blocks, read(write_csv(tmp_path / "log.csv", ROWS))[0])
    assert account.files[0].path == f"{path}: sheet Data"
    path.rename(tmp_path / "export.dat")
    assert same_blocks(read(tmp_path / "export.dat")[0], blocks)
    save(path, {"Data": sheet()})
    for size in (1, 999):
        other, again = read(path, block_bytes=size)
        assert same_blocks(blocks, other)
        assert account.as_dict() == again.as_dict()


def test_equal_to_pandas(tmp_path: Path) -> None:
    rows = [(ns, {"T1": 1 / (i + 3), "P die": 10.0**-i, "SP1": float(i)}) for i, (ns, _) in enumerate(ROWS)]
    path = save(tmp_path / "log.xlsx", {"Data": sheet(rows)})
    ours, table = all_cells(read(path)[0]), pd.read_excel(path, engine="openpyxl")
    for name, values in zip(COLUMNS, ours, strict=True):
        assert np.array_equal(values, table[name].to_numpy(float))


def test_preamble_units_gaps_and_totals(tmp_path: Path) -> None:
    head, *rows = sheet()
    rows[10][2] = None
    rows[11][2] = "#N/A"
    rows[12][1] = 'off\twith\n"odd" text'
    content = [["Line 3"], [], [None, "exported", dt.date(2026, 3, 7)], head, [None, "°C", "bar", "°C"], *rows[:100]]
    content += [[], *rows[100:], [], ["Mean", 200.0, 100.0, 210.0]]
    path = save(tmp_path / "log.xlsx", {"Data": content})
    _, account = read(path)
    assert account.rows_accepted == 300
    assert account.values_missing == {"P die": 2}
    assert account.values_unreadable["T1"].row == 18
    (one,) = account.set_aside
    assert (one.row, one.text) == (308, "Mean")


def test_a_sheet_a_day_and_a_summary(tmp_path: Path) -> None:
    sheets: dict[str, Sheet] = {
        "Summary": [["Line", "Mean"], ["L1", 200.0]],
        "Empty": [],
        "Day 2": sheet(ROWS[150:]),
        "Day 1": sheet(ROWS[:150]),
    }
    blocks, account = read(save(tmp_path / "log.xlsx", sheets))
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert [entry.path.rsplit(" ", 1)[1] for entry in account.files] == ["1", "2"]
    assert sum("is left out" in sentence for sentence in account.assumptions) == 2


def test_date_and_time_in_two_columns(tmp_path: Path) -> None:
    content: list[list[object]] = [["Date", "Clock", *COLUMNS]]
    for ns, values in ROWS:
        when = stamp(ns)
        content.append([when.date(), when.time(), *values.values()])
    path = save(tmp_path / "log.xlsx", {"Data": content})
    for columns in ((), ("Date", "Clock")):
        blocks, _ = read(path, mapping(time_columns=columns))
        assert cells_of(blocks) == expected_cells(ROWS, mapping())


def test_milliseconds(tmp_path: Path) -> None:
    rows = steady(200, 250)
    blocks, _ = read(save(tmp_path / "log.xlsx", {"Data": sheet(rows)}))
    assert cells_of(blocks) == expected_cells(rows, mapping())


def test_a_workbook_in_a_zip(tmp_path: Path) -> None:
    save(tmp_path / "log.xlsx", {"Data": sheet()})
    with zipfile.ZipFile(tmp_path / "log.zip", "w") as file:
        file.write(tmp_path / "log.xlsx", "week/log.xlsx")
    blocks, account = read(tmp_path / "log.zip")
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert account.files[0].path.endswith("log.zip: week/log.xlsx: sheet Data")


def repacked(path: Path, to: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    """The workbook with one part changed."""
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as target:
        for info in source.infolist():
            data = source.read(info)
            target.writestr(info.filename, change(data) if info.filename == part else data)
    return to


def test_workbooks_that_are_refused(tmp_path: Path) -> None:
    path = save(tmp_path / "log.xlsx", {"Data": sheet()})
    part = "xl/worksheets/sheet1.xml"
    (tmp_path / "cut.xlsx").write_bytes(path.read_bytes()[:-100])
    with pytest.raises(BadLog, match="cut off or damaged"):
        read(tmp_path / "cut.xlsx")
    with pytest.raises(BadLog, match="workbook is damaged"):
        read(repacked(path, tmp_path / "torn.xlsx", part, lambda data: data[: len(data) // 2]))
    with pytest.raises(BadLog, match=r"unpacks to \d+ MB, which no log does"):
        read(repacked(path, tmp_path / "bomb.xlsx", part, lambda data: data + b" " * 100_000_000))
    laughs = b'<!DOCTYPE l [<!ENTITY a "ha">%s]>' % b"".join(
        b'<!ENTITY %c "&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;">' % (98 + i, *[97 + i] * 10) for i in range(12)
    )

    def laughing(data: bytes) -> bytes:
        head, rest = data.split(b"<worksheet", 1) if b"<?xml" in data else (b"", data.split(b"<worksheet", 1)[1])
        return head + laughs + b"<worksheet" + rest.replace(b"<v>200.125</v>", b"<v>&m;</v>", 1)

    with pytest.raises(BadLog):
        read(repacked(path, tmp_path / "laughs.xlsx", part, laughing))
    for name in ("xl/workbook.bin", "content.xml"):
        with zipfile.ZipFile(tmp_path / "other.bin", "w") as file:
            file.writestr(name, b"x")
        with pytest.raises(BadLog, match="workbook is damaged"):
            read(tmp_path / "other.bin")


def test_rows_and_columns_that_are_only_said_to_be_there(tmp_path: Path) -> None:
    path = save(tmp_path / "log.xlsx", {"Data": sheet()})
    part = "xl/worksheets/sheet1.xml"
    far = repacked(path, tmp_path / "far.xlsx", part, lambda data: data.replace(b'<row r="301"', b'<row r="900000000"'))
    with pytest.raises(BadLog) as caught:
        blocks, _ = read(far)
        # The row is beyond the end of any sheet and is not read.
        assert len(all_cells(blocks)[0]) == 299
        raise BadLog(far, "read without it")
    assert "read without it" in str(caught.value) or "damaged" in str(caught.value)
    said = repacked(
        path, tmp_path / "said.xlsx", part, lambda data: data.replace(b'ref="A1:D301"', b'ref="A1:XFD1048576"')
    )
    blocks, _ = read(said)
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
