"""Workbooks of the kinds that do not stream, written by libraries that share nothing with the reader."""

from __future__ import annotations

import datetime as dt
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet, load
from odf.table import CoveredTableCell, Table, TableCell, TableRow
from odf.text import P
from xlwt.CompoundDoc import XlsDoc

from ingest import other_workbook
from ingest.errors import BadLog
from ingest.log_parts import log_parts
from tests.ingest.binary_workbook import ErrorCell as Error
from tests.ingest.binary_workbook import Formula, InPlace, save_binary
from tests.ingest.plain_log import cells_of, expected_cells, mapping, moment, read, same_blocks, steady, write_csv

COLUMNS = ("T1", "P die", "SP1")
ROWS = steady(300)
Sheet = list[list[object]]
DAY0 = dt.datetime(1899, 12, 30)


class Head(str):
    """A cell that spans three columns, the two behind it being COVERED."""


COVERED = object()


def stamp(ns: int) -> dt.datetime:
    """As a workbook holds it, without a zone."""
    return moment(ns).replace(tzinfo=None)


def sheet(first: int = 0, last: int = len(ROWS)) -> Sheet:
    """Head row and rows."""
    rows = ROWS[first:last]
    return [["Time", *COLUMNS], *([stamp(ns), *(values[name] for name in COLUMNS)] for ns, values in rows)]


def save_old(path: Path, sheets: dict[str, Sheet], *, from_1904: bool = False) -> Path:
    """The old binary kind. Stamps are given as serial numbers: the writer would cut off the milliseconds."""
    book = xlwt.Workbook()
    book.dates_1904 = from_1904
    moments, days, clocks = (xlwt.easyxf(num_format_str=one) for one in ("yyyy-mm-dd hh:mm:ss.000", "d.m.yy", "h:mm"))
    for title, rows in sheets.items():
        target = book.add_sheet(title)
        for y, row in enumerate(rows):
            for x, value in enumerate(row):
                if isinstance(value, dt.datetime):
                    target.write(y, x, (value - DAY0) / dt.timedelta(days=1) - 1462 * from_1904, moments)
                elif isinstance(value, dt.date):
                    target.write(y, x, (value - DAY0.date()).days - 1462 * from_1904, days)
                elif isinstance(value, dt.time):
                    target.write(y, x, value, clocks)
                elif isinstance(value, Error):
                    target.row(y).set_cell_error(x, str(value))
                elif isinstance(value, Head):
                    target.write_merge(y, y, x, x + 2, str(value))
                elif value is not None and value is not COVERED:
                    target.write(y, x, value)
    book.save(str(path))
    return path


def save_open(path: Path, sheets: dict[str, Sheet]) -> Path:
    """The open-document kind, with rows and cells that are said to be repeated to the end of the sheet."""
    book = OpenDocumentSpreadsheet()
    for title, rows in sheets.items():
        table = Table(name=title)
        for row in rows:
            line = TableRow()
            for value in row:
                line.addElement(_open_cell(value))
            line.addElement(TableCell(numbercolumnsrepeated=16000))
            table.addElement(line)
        table.addElement(TableRow(numberrowsrepeated=1_048_000))
        book.spreadsheet.addElement(table)
    book.save(str(path))
    return path


def _open_cell(value: object) -> object:
    if value is COVERED:
        return CoveredTableCell()
    kinds: dict[type, Callable[[], TableCell]] = {
        type(None): TableCell,
        bool: lambda: TableCell(valuetype="boolean", booleanvalue=str(value).lower()),
        int: lambda: TableCell(valuetype="float", value=str(value)),
        float: lambda: TableCell(valuetype="float", value=repr(value)),
        dt.datetime: lambda: TableCell(valuetype="date", datevalue=value.isoformat()),  # type: ignore[attr-defined]
        dt.date: lambda: TableCell(valuetype="date", datevalue=value.isoformat()),  # type: ignore[attr-defined]
        dt.time: lambda: TableCell(valuetype="time", timevalue=f"PT{value:%HH%MM%SS}"),
    }
    if type(value) in kinds:
        return kinds[type(value)]()
    spans = {"numbercolumnsspanned": 3, "numberrowsspanned": 1} if isinstance(value, Head) else {}
    cell = TableCell(valuetype="string", **spans, **({"stringvalue": ""} if isinstance(value, Error) else {}))
    cell.addElement(P(text=str(value)))
    return cell


def save_new(path: Path, sheets: dict[str, Sheet]) -> Path:
    """The kind that streams, for comparison."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets.items():
        target = book.create_sheet(title)
        for row in rows:
            cells = [None if value is COVERED else value for value in row]
            target.append([str(value) if isinstance(value, str) else value for value in cells])
    book.save(path)
    return path


def save_new_binary(path: Path, sheets: dict[str, Sheet], *, from_1904: bool = False) -> Path:
    """The newer binary kind."""
    plain = {
        title: [[None if value is COVERED else value for value in row] for row in rows]
        for title, rows in sheets.items()
    }
    return save_binary(path, plain, from_1904=from_1904)


SAVE = {"xls": save_old, "ods": save_open, "xlsb": save_new_binary}
kinds = pytest.mark.parametrize("kind", SAVE)


def texts(path: Path) -> dict[str, str]:
    """What is read of every sheet, before it is a log."""
    found = {}
    for part in log_parts(path):
        stream = part.open()
        found[part.inside] = b"".join(iter(lambda s=stream: s.read(1 << 20), b"")).decode()
        stream.close()
    return found


ODD: Sheet = [
    ["Line 3", None, dt.date(2026, 3, 7)],
    [],
    [None, "Head over", None, None, "far"],
    [None, Head("merged"), COVERED, COVERED, "behind"],
    ["Time", "Day", "Clock", "whole", "fraction", "switch", "text", "error"],
    *(
        [
            dt.datetime(2026, 3, 6, 23, 59, 58) + i * dt.timedelta(milliseconds=125),
            dt.date(2026, 3, 6),
            dt.time(23, i, 58),
            i * 10**i,
            round(1 / (i + 3), 12),  # the writer of the kind that streams rounds to 16 digits
            bool(i % 2),
            'off\twith\n"odd" text'[: i * 3],
            Error("#DIV/0!"),
        ]
        for i in range(20)
    ),
    [],
    [None, None, "Mean", 3],
]


@kinds
def test_cell_for_cell_like_the_kind_that_streams(tmp_path: Path, kind: str) -> None:
    mine = texts(SAVE[kind](tmp_path / f"log.{kind}", {"Odd": ODD, "Second": [[1, 2.5]]}))
    new = texts(save_new(tmp_path / "log.xlsx", {"Odd": ODD, "Second": [[1, 2.5]]}))
    assert list(mine) == list(new) == ["sheet Odd", "sheet Second"]
    for title in new:
        lines, expected = mine[title].splitlines(), new[title].replace("#DIV/0!", "").splitlines()
        assert [line.rstrip("\t") for line in lines] == [line.rstrip("\t") for line in expected]


@pytest.mark.parametrize("save", [save_old, save_new_binary])
def test_days_counted_from_1904(tmp_path: Path, save: Callable[..., Path]) -> None:
    other = texts(save(tmp_path / "a.dat", {"Odd": ODD}, from_1904=True))
    assert other == texts(save(tmp_path / "b.dat", {"Odd": ODD}))


def test_every_kind_of_number_and_text_of_the_newer_binary_kind(tmp_path: Path) -> None:
    """Whole numbers and hundredths in 30 bits, others in 64; formulas; texts in their cells."""
    numbers = [0, -1, 536_870_911, -536_870_912, 536_870_912, 0.01, -212.45, 1 / 3, -1e-300, 1.7e308, 5_368_709.11]
    rows: Sheet = [["shared", InPlace("in its cell"), Formula(0.1 + 0.2)], [*numbers], ["\N{DEGREE SIGN}C \U0001f321"]]
    (text,) = texts(save_binary(tmp_path / "log.xlsb", {"Data": rows})).values()
    lines = [line.rstrip("\t").split("\t") for line in text.splitlines()]
    assert lines[0] == ["shared", "in its cell", "0.30000000000000004"]
    assert [float(one) for one in lines[1]] == numbers
    assert lines[2] == ["\N{DEGREE SIGN}C \U0001f321"]


@kinds
def test_read_like_the_csv_log(tmp_path: Path, kind: str) -> None:
    path = SAVE[kind](tmp_path / f"log.{kind}", {"Data": sheet()})
    blocks, account = read(path)
    assert same_blocks(blocks, read(write_csv(tmp_path / "log.csv", ROWS))[0])
    assert account.files[0].path == f"{path}: sheet Data"
    assert account.files[0].rows == 300
    path.rename(tmp_path / "export.dat")
    assert same_blocks(read(tmp_path / "export.dat")[0], blocks)
    with zipfile.ZipFile(tmp_path / "log.zip", "w") as file:
        file.write(tmp_path / "export.dat", f"week/log.{kind}")
    blocks, account = read(tmp_path / "log.zip")
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert account.files[0].path.endswith(f"log.zip: week/log.{kind}: sheet Data")


@kinds
def test_a_sheet_a_day_and_a_summary(tmp_path: Path, kind: str) -> None:
    sheets: dict[str, Sheet] = {"Summary": [["Line", "Mean"], ["L1", 200.0]], "Empty": []}
    sheets |= {"Day 2": sheet(150), "Day 1": sheet(0, 150)}
    blocks, account = read(SAVE[kind](tmp_path / f"log.{kind}", sheets))
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert [entry.path.rsplit(" ", 1)[1] for entry in account.files] == ["1", "2"]
    assert sum("is left out" in sentence for sentence in account.assumptions) == 2


@kinds
def test_an_unreadable_cell_is_named_by_the_row_of_the_sheet(tmp_path: Path, kind: str) -> None:
    head, *rows = sheet()
    rows[12][1] = "off"
    content: Sheet = [["Line 3"], [], head, *rows, [], ["Mean", 200.0, 100.0, 210.0]]
    _, account = read(SAVE[kind](tmp_path / f"log.{kind}", {"Data": content}))
    assert account.values_unreadable["T1"].row == 16
    (one,) = account.set_aside
    assert (one.row, one.text) == (305, "Mean")


@kinds
def test_damaged(tmp_path: Path, kind: str) -> None:
    data = SAVE[kind](tmp_path / f"log.{kind}", {"Data": sheet()}).read_bytes()
    for name, some in (("cut", data[: len(data) // 2]), ("start", data[:600])):
        path = tmp_path / f"{name}.{kind}"
        path.write_bytes(some)
        with pytest.raises(BadLog, match=r"damaged|no whole workbook") as caught:
            read(path)
        assert str(caught.value).startswith(f"{path}: ")


def test_protected_by_a_password(tmp_path: Path) -> None:
    book = xlwt.Workbook()
    book.add_sheet("Data").write(0, 0, "Time")
    stream = book.get_biff_data()
    begin = 4 + struct.unpack("<H", stream[2:4])[0]
    locked = stream[:begin] + struct.pack("<HHHHH", 0x2F, 6, 1, 1, 1) + stream[begin:]
    XlsDoc().save(str(tmp_path / "old.xls"), locked)
    # A newer workbook with a password is a compound file with a stream of this name.
    name, other = "Workbook".encode("utf-16-le"), "EncryptedPackage".encode("utf-16-le")
    XlsDoc().save(str(tmp_path / "new.xlsx"), stream)
    data = (tmp_path / "new.xlsx").read_bytes()
    at = data.index(name)
    entry = other.ljust(64, b"\0") + struct.pack("<H", len(other) + 2)
    (tmp_path / "new.xlsx").write_bytes(data[:at] + entry + data[at + 66 :])
    save_open(tmp_path / "plain.ods", {"Data": sheet()})
    with zipfile.ZipFile(tmp_path / "plain.ods") as source, zipfile.ZipFile(tmp_path / "open.ods", "w") as target:
        for info in source.infolist():
            part = source.read(info)
            if info.filename == "META-INF/manifest.xml":
                kept = b'<manifest:encryption-data manifest:checksum="x"/></manifest:file-entry>'
                before, after = part.split(b'manifest:full-path="content.xml"', 1)
                part = before + b'manifest:full-path="content.xml"' + after.replace(b"/>", b">" + kept, 1)
            target.writestr(info.filename, part)
    for path in ("old.xls", "new.xlsx", "open.ods"):
        with pytest.raises(BadLog, match="protected by a password"):
            read(tmp_path / path)


def test_cells_that_are_only_said_to_be_there_fill_no_memory(tmp_path: Path) -> None:
    table_of = load(str(save_open(tmp_path / "log.ods", {"Data": sheet()})))
    table = table_of.spreadsheet.getElementsByType(Table)[0]
    line = TableRow(numberrowsrepeated=1_000_000)
    line.addElement(TableCell(valuetype="float", value="1", numbercolumnsrepeated=16000))
    table.addElement(line)
    table_of.save(str(tmp_path / "bomb.ods"))
    with pytest.raises(BadLog, match="larger than any"):
        read(tmp_path / "bomb.ods")
    # Two cells at far corners: the sheet between them is laid out in memory.
    book = xlwt.Workbook()
    target = book.add_sheet("Data")
    target.write(0, 0, "Time")
    target.write(7, 255, 1234.5)
    data = book.get_biff_data()
    cell = struct.pack("<HHH", 7, 255, 17)
    assert data.count(cell) == 1
    XlsDoc().save(str(tmp_path / "far.xls"), data.replace(cell, struct.pack("<HHH", 65535, 65535, 17)))
    with pytest.raises(BadLog, match=r"larger than any|damaged"):
        read(tmp_path / "far.xls")
    with (
        zipfile.ZipFile(tmp_path / "log.ods") as source,
        zipfile.ZipFile(tmp_path / "zeros.ods", "w", zipfile.ZIP_DEFLATED) as packed,
    ):
        for info in source.infolist():
            tail = b" " * 100_000_000 if info.filename == "content.xml" else b""
            packed.writestr(info.filename, source.read(info) + tail)
    with pytest.raises(BadLog, match=r"unpacks to \d+ MB, which no log does"):
        read(tmp_path / "zeros.ods")


def test_too_long_to_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = save_old(tmp_path / "log.xls", {"Data": sheet()})
    monkeypatch.setattr(other_workbook, "LONGEST_S", 0.01)
    with pytest.raises(BadLog, match="takes longer than"):
        read(path)
