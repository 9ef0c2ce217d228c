"""Writes workbooks of the binary kind (.xlsb), part by part after the open specification [MS-XLSB].

Shares no code with the reader. Numbers in brackets behind records are those of the specification.
"""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path

DAY0 = dt.datetime(1899, 12, 30)
FORMATS = {164: "yyyy\\-mm\\-dd hh:mm:ss.000", 165: "d.m.yy", 166: "h:mm"}
STAMPS, DAYS, CLOCKS = 1, 2, 3
"""Places of the formats among the cell styles; 0 is the general one."""
ERRORS = {"#NULL!": 0x00, "#DIV/0!": 0x07, "#VALUE!": 0x0F, "#REF!": 0x17, "#NAME?": 0x1D, "#NUM!": 0x24, "#N/A": 0x2A}


class ErrorCell(str):
    """A cell that shows an error."""


class Formula(float):
    """A number that a formula gives."""


class InPlace(str):
    """A text that stands in its cell and not among the shared ones."""


def record(number: int, data: bytes = b"") -> bytes:
    """A record: its number and length, seven bits a byte, low ones first (2.1.4)."""
    head = bytes([number]) if number < 128 else bytes([number & 0x7F | 0x80, number >> 7])
    length = len(data)
    while length > 0x7F:
        head += bytes([length & 0x7F | 0x80])
        length >>= 7
    return head + bytes([length]) + data


def wide(text: str) -> bytes:
    """A text, its length in letters of two bytes before it (2.5.168)."""
    data = text.encode("utf-16-le")
    return struct.pack("<I", len(data) // 2) + data


def save_binary(path: Path, sheets: Mapping[str, Sequence[Sequence[object]]], *, from_1904: bool = False) -> Path:
    """Writes sheets of rows of cells and returns the path."""
    path.write_bytes(binary_workbook(sheets, from_1904=from_1904))
    return path


def binary_workbook(sheets: Mapping[str, Sequence[Sequence[object]]], *, from_1904: bool = False) -> bytes:
    """The same as bytes; equal sheets give equal bytes."""
    texts: dict[str, int] = {}
    parts = {f"xl/worksheets/sheet{i}.bin": _sheet(rows, texts, from_1904) for i, rows in enumerate(sheets.values(), 1)}
    parts |= {"xl/workbook.bin": _book(list(sheets), from_1904), "xl/styles.bin": _styles()}
    shared = b"".join(record(19, b"\0" + wide(text)) for text in texts)  # BrtSSTItem
    counts = struct.pack("<II", len(texts), len(texts))
    parts["xl/sharedStrings.bin"] = record(159, counts) + shared + record(160)  # BrtBeginSst, BrtEndSst
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        for name, data in {**_package(len(sheets)), **parts}.items():
            book.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _book(titles: list[str], from_1904: bool) -> bytes:
    about = struct.pack("<II", int(from_1904), 0) + wide("")
    bundle = b"".join(
        record(156, struct.pack("<II", 0, i) + wide(f"rId{i}") + wide(title)) for i, title in enumerate(titles, 1)
    )  # BrtBundleSh
    # BrtBeginBook, BrtWbProp, BrtBeginBundleShs ... BrtEndBundleShs, BrtEndBook
    return record(131) + record(153, about) + record(143) + bundle + record(144) + record(132)


def _styles() -> bytes:
    formats = b"".join(record(44, struct.pack("<H", number) + wide(text)) for number, text in FORMATS.items())  # BrtFmt
    kinds = [0, *FORMATS]
    styles = b"".join(record(47, struct.pack("<HHHHHBBHH", 0, one, 0, 0, 0, 0, 0, 0, 0)) for one in kinds)  # BrtXF
    return (
        record(278)  # BrtBeginStyleSheet
        + record(615, struct.pack("<I", len(FORMATS)))  # BrtBeginFmts
        + formats
        + record(616)
        + record(617, struct.pack("<I", len(kinds)))  # BrtBeginCellXFs
        + styles
        + record(618)
        + record(279)
    )


def _sheet(rows: Sequence[Sequence[object]], texts: dict[str, int], from_1904: bool) -> bytes:
    wide_ = max(map(len, rows), default=0)
    data = [record(129), record(148, struct.pack("<IIII", 0, max(0, len(rows) - 1), 0, max(0, wide_ - 1)))]
    data.append(record(145))  # BrtBeginSheet, BrtWsDim, BrtBeginSheetData
    for y, row in enumerate(rows):
        if not row:
            continue  # rows without cells are left out
        span = struct.pack("<III", 1, 0, len(row) - 1)
        data.append(record(0, struct.pack("<IIH3x", y, 0, 300) + span))  # BrtRowHdr
        data += [_cell(x, value, texts, from_1904) for x, value in enumerate(row)]
    return b"".join([*data, record(146), record(130)])


def _cell(x: int, value: object, texts: dict[str, int], from_1904: bool) -> bytes:
    def cell(number: int, data: bytes, style: int = 0) -> bytes:
        return record(number, struct.pack("<II", x, style) + data)

    if value is None:
        return cell(1, b"")  # BrtCellBlank
    if isinstance(value, bool):
        return cell(4, bytes([value]))  # BrtCellBool
    if isinstance(value, dt.datetime):
        return cell(5, struct.pack("<d", _serial(value, from_1904)), STAMPS)  # BrtCellReal
    if isinstance(value, dt.date):
        midnight = dt.datetime.combine(value, dt.time())
        return cell(2, _short(_serial(midnight, from_1904)) or b"", DAYS)  # BrtCellRk
    if isinstance(value, dt.time):
        share = (dt.datetime.combine(DAY0, value) - DAY0) / dt.timedelta(days=1)
        return cell(5, struct.pack("<d", share), CLOCKS)
    if isinstance(value, ErrorCell):
        return cell(3, bytes([ERRORS[value]]))  # BrtCellError
    if isinstance(value, InPlace):
        return cell(6, wide(value))  # BrtCellSt
    if isinstance(value, str):
        return cell(7, struct.pack("<I", texts.setdefault(str(value), len(texts))))  # BrtCellIsst
    if isinstance(value, Formula):
        formula = struct.pack("<HI", 0, 9) + b"\x1f" + struct.pack("<dI", float(value), 0)  # a constant, PtgNum
        return cell(9, struct.pack("<d", float(value)) + formula)  # BrtFmlaNum
    number = float(value)  # type: ignore[arg-type]
    short = _short(number) if abs(number) < 1e9 else None
    return cell(5, struct.pack("<d", number)) if short is None else cell(2, short)


def _serial(when: dt.datetime, from_1904: bool) -> float:
    return (when - DAY0) / dt.timedelta(days=1) - 1462 * from_1904


def _short(number: float) -> bytes | None:
    """A number in 30 bits (RkNumber, 2.5.122), None where none of its four ways holds it.

    The top of the float comes first, as spreadsheets write it: what reads dates goes by that.
    """
    for hundredths, given in enumerate((number, round(number * 100))):
        if hundredths and given / 100 != number:
            break
        (bits,) = struct.unpack("<Q", struct.pack("<d", given))
        if not bits & ((1 << 34) - 1):
            return struct.pack("<I", bits >> 32 | hundredths)
        if float(given).is_integer() and -(1 << 29) <= given < 1 << 29:
            return struct.pack("<I", (int(given) << 2) & 0xFFFFFFFF | 2 | hundredths)
    return None


def _package(sheets: int) -> dict[str, str]:
    """What every package of this kind says of its parts (ECMA-376 part 2)."""
    head, types = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>', "application/vnd.ms-excel."
    kinds = {"/xl/workbook.bin": "sheet.binary.macroEnabled.main", "/xl/styles.bin": "styles"}
    kinds |= {f"/xl/worksheets/sheet{i}.bin": "worksheet" for i in range(1, sheets + 1)}
    kinds["/xl/sharedStrings.bin"] = "sharedStrings"
    parts = "".join(f'<Override PartName="{name}" ContentType="{types}{kind}"/>' for name, kind in kinds.items())
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"

    def related(pairs: list[tuple[str, str, str]]) -> str:
        lines = "".join(f'<Relationship Id="{i}" Type="{office}/{kind}" Target="{to}"/>' for i, kind, to in pairs)
        return f'{head}<Relationships xmlns="{package}/relationships">{lines}</Relationships>'

    inside = [(f"rId{i}", "worksheet", f"worksheets/sheet{i}.bin") for i in range(1, sheets + 1)]
    inside += [("rId90", "styles", "styles.bin"), ("rId91", "sharedStrings", "sharedStrings.bin")]
    rest = '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    return {
        "[Content_Types].xml": f'{head}<Types xmlns="{package}/content-types">{rest}{parts}</Types>',
        "_rels/.rels": related([("rId1", "officeDocument", "xl/workbook.bin")]),
        "xl/_rels/workbook.bin.rels": related(inside),
    }
