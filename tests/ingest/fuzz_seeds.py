"""Small logs of every kind, to be damaged at random, and how each is read. Built the same way every time."""

from __future__ import annotations

import gzip
import io
import random
import zipfile
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from ingest.account import ReadingAccount
from ingest.errors import BadLog
from ingest.mapping import ChannelSource, LogMapping
from ingest.read_log import read_in_pieces
from tests.ingest.binary_workbook import binary_workbook

_CHANNELS = (
    ChannelSource("T1", "zone_temperature:Z1", "C", "mean", 60, low=0, high=400),
    ChannelSource("P die", "melt_pressure:die", "psi", "max", 15),
    ChannelSource("SP1", "zone_setpoint:Z1", "C", "last", 600),
)
WIDE = LogMapping("L1", 1.0, "Europe/Berlin", _CHANNELS, lot_column="Lot")
LONG = LogMapping(
    "L1",
    1.0,
    "UTC",
    _CHANNELS,
    layout="long",
    tag_column="Tag",
    value_column="Value",
    quality_column="Q",
    line_column="Line",
    line_value="A",
)
_START = datetime(2026, 10, 25, 2, 58, 40)


def _wide(delimiter: str, decimal: str, head: str = "") -> bytes:
    chance = random.Random(3)
    lines = [head, delimiter.join(["Time", "T1", "T1.q", "P die", "SP1", "Lot"])] if head else []
    lines = lines or [delimiter.join(["Time", "T1", "T1.q", "P die", "SP1", "Lot"])]
    for i in range(150):
        at = _START + timedelta(seconds=i)
        cells = [f"{at:%d.%m.%Y %H:%M:%S}", f"{chance.uniform(190, 230):.1f}", chance.choice(["192", "192", "64", "0"])]
        cells += [f"{chance.uniform(900, 1800):.2f}", "210.0", chance.choice(["A", '"A;1"', ""])]
        lines.append(
            delimiter.join(cells).replace(".0,", ".0,")
            if decimal == "."
            else delimiter.join(cell if k in (0, 5) else cell.replace(".", decimal) for k, cell in enumerate(cells))
        )
    return ("\r\n".join(lines) + "\r\n").encode()


def _long() -> bytes:
    chance = random.Random(4)
    lines = ["Time,Line,Tag,Value,Q"]
    for i in range(260):
        at = _START + timedelta(seconds=i // 3)
        tag = ("T1", "P die", "SP1")[i % 3]
        cells = [f"{at:%Y-%m-%dT%H:%M:%S}Z", chance.choice("AAAB"), tag, f"{chance.uniform(100, 300):.1f}"]
        lines.append(",".join([*cells, chance.choice(["Good", "Good", "Bad", "Uncertain"])]))
    return ("\n".join(lines) + "\n").encode()


def _table() -> pa.Table:
    chance = random.Random(5)
    at = [_START + timedelta(seconds=i) for i in range(150)]
    return pa.table(
        {
            "Time": pa.array(at, pa.timestamp("ms", "UTC")),
            "T1": [chance.uniform(190, 230) for _ in at],
            "P die": pa.array([chance.uniform(900, 1800) for _ in at], pa.float32()),
            "SP1": [210] * 150,
            "Lot": pa.array(["A"] * 150).dictionary_encode(),
        }
    )


def _parquet(compression: str) -> bytes:
    out = io.BytesIO()
    pq.write_table(_table(), out, row_group_size=40, compression=compression)
    return out.getvalue()


def _workbook() -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    names = _table().column_names
    sheet.append(names)
    for row in _table().to_pylist():
        sheet.append([row[name].replace(tzinfo=None) if name == "Time" else row[name] for name in names])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _old_workbook() -> bytes:
    import xlwt

    book = xlwt.Workbook()
    sheet = book.add_sheet("Data")
    stamps = xlwt.easyxf(num_format_str="yyyy-mm-dd hh:mm:ss")
    names = _table().column_names
    for x, name in enumerate(names):
        sheet.write(0, x, name)
    for y, row in enumerate(_table().to_pylist(), 1):
        for x, name in enumerate(names):
            if name == "Time":
                sheet.write(y, x, row[name].replace(tzinfo=None), stamps)
            else:
                sheet.write(y, x, row[name])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _binary_workbook() -> bytes:
    names = _table().column_names
    rows: list[list[object]] = [list(names)]
    for row in _table().to_pylist():
        rows.append([row[name].replace(tzinfo=None) if name == "Time" else row[name] for name in names])
    return binary_workbook({"Data": rows})


_OPEN_SPACES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
)


def _open_cell(value: object) -> str:
    kind, said = "float", f'office:value="{value!r}"'
    if isinstance(value, datetime):
        kind, said = "date", f'office:date-value="{value:%Y-%m-%dT%H:%M:%S}"'
    if isinstance(value, str):
        kind, said = "string", ""
    return f'<table:table-cell office:value-type="{kind}" {said}><text:p>{value}</text:p></table:table-cell>'


def _open_workbook() -> bytes:
    names = _table().column_names
    rows = [dict(zip(names, names, strict=True)), *_table().to_pylist()]
    lines = [f"<table:table-row>{''.join(_open_cell(row[name]) for name in names)}</table:table-row>" for row in rows]
    content = (
        f'<?xml version="1.0"?><office:document-content {_OPEN_SPACES}><office:body><office:spreadsheet>'
        f'<table:table table:name="Data">{"".join(lines)}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    manifest = '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
    members = {"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": content}
    members["META-INF/manifest.xml"] = manifest
    return _zip({name: text.encode() for name, text in members.items()}, zipfile.ZIP_DEFLATED)


def _zip(members: dict[str, bytes], method: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(zipfile.ZipInfo(name), data, method)
    return out.getvalue()


SEEDS: dict[str, tuple[Callable[[], bytes], str, LogMapping]] = {
    "wide": (lambda: _wide(",", "."), ".csv", WIDE),
    "comma": (lambda: _wide(";", ",", "Linie 3;Schicht 2"), ".csv", WIDE),
    "utf16": (lambda: _wide("\t", ".").decode().encode("utf-16"), ".csv", WIDE),
    "long": (_long, ".csv", LONG),
    "gz": (lambda: gzip.compress(_wide(",", "."), mtime=0), ".csv.gz", WIDE),
    "zst": (lambda: pa.Codec("zstd").compress(_long(), asbytes=True), ".csv.zst", LONG),
    "parquet": (lambda: _parquet("none"), ".parquet", WIDE),
    "snappy": (lambda: _parquet("snappy"), ".parquet", WIDE),
    "stored": (lambda: _zip({"a.csv": _wide(",", "."), "b.csv": _wide(";", ",")}, zipfile.ZIP_STORED), ".zip", WIDE),
    "zip": (lambda: _zip({"a.csv": _long(), "p.parquet": _parquet("snappy")}, zipfile.ZIP_DEFLATED), ".zip", LONG),
    "xlsx": (_workbook, ".xlsx", WIDE),
    "xls": (_old_workbook, ".xls", WIDE),
    "ods": (_open_workbook, ".ods", WIDE),
    "xlsb": (_binary_workbook, ".xlsb", WIDE),
}
"""Name: (bytes, ending, how it is read)."""


def outcome_of(path: Path, mapping: LogMapping) -> str:
    """Reads a file and says how that ended: 'clean', 'set aside' or 'BadLog'; whatever else is raised goes on.

    Raises AssertionError where the account does not balance.
    """
    account = ReadingAccount()
    try:
        for _ in read_in_pieces([path], mapping, account):
            assert account.rows_read == account.rows_accepted + account.rows_set_aside
    except BadLog as error:
        assert str(error) and "Traceback" not in str(error)
        return "BadLog"
    assert sum(one.rows for one in account.files) == account.rows_read
    assert account.rows_read == account.rows_accepted + account.rows_set_aside
    account.as_dict()
    return "set aside" if account.rows_set_aside or account.values_unreadable else "clean"
