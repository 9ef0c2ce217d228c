"""Texts as plants and loggers write them: encodings, quotes, head rows, footers, rows that are no rows."""

from __future__ import annotations

import csv
import io
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.csv as arrow_csv
import pytest

from ingest.account import ReadingAccount
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from tests.ingest.plain_log import (
    CHANNELS,
    Style,
    all_cells,
    cells_of,
    csv_text,
    expected_cells,
    mapping,
    moment,
    read,
    same_blocks,
    steady,
    write_csv,
)

COLUMNS = ("T1", "P die", "SP1")
ROWS = steady(60)
PLAIN = csv_text(ROWS, COLUMNS, Style())
EXPECTED = expected_cells(ROWS, mapping())


def good(tmp_path: Path, content: str | bytes, line: LogMapping | None = None, rows: int = 60) -> ReadingAccount:
    """The account of a log whose cells must be those of ROWS, however it is cut into pieces."""
    path = tmp_path / "log.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    blocks, account = read(path, line)
    assert cells_of(blocks) == EXPECTED
    assert account.rows_read == account.rows_accepted + account.rows_set_aside
    assert account.rows_accepted == rows
    for size in (1, 77, 1000):
        other, again = read(path, line, block_bytes=size)
        assert same_blocks(blocks, other), size
        assert account.as_dict() == again.as_dict(), size
    return account


def named(one: str, two: str, three: str) -> LogMapping:
    """The usual line with other tags."""
    channels = [replace(source, tag=tag) for source, tag in zip(CHANNELS, (one, two, three), strict=True)]
    return mapping(channels=tuple(channels))


@pytest.mark.parametrize(
    ("encoding", "names"),
    [
        ("cp1252", ("Zone 1 °C", "Düsendruck", "Sollwert ½")),
        ("cp1250", ("Teplota č. 1", "Tlak ř", "Žádaná")),
        ("cp1251", ("Температура 1", "Давление", "Задание")),
        ("cp1253", ("Θερμοκρασία", "Πίεση", "Τιμή")),
        ("cp1254", ("Sıcaklık", "Basınç ş", "Değer ğ")),
        ("cp850", ("Zone 1 ø", "Düse", "Größe")),
        ("cp866", ("Температура 1", "Давление", "Задание")),
        ("cp932", ("温度1", "圧力", "設定")),
        ("gb18030", ("温度1", "压力", "设定")),
        ("utf-8", ("温度1", "Düse", "Задание")),
        ("utf-8-sig", ("温度1", "Düse", "Задание")),
        ("utf-16", ("温度1", "Düse", "Задание")),
        ("utf-16-le", ("Zone 1", "Düse", "Soll")),
        ("utf-16-be", ("Zone 1", "Düse", "Soll")),
        ("utf-32", ("温度1", "Düse", "Задание")),
    ],
)
def test_encodings(tmp_path: Path, encoding: str, names: tuple[str, str, str]) -> None:
    text = PLAIN.replace("Time,T1,P die,SP1", ",".join(("Time", *names)))
    good(tmp_path, text.encode(encoding), named(*names))


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
def test_line_ends(tmp_path: Path, end: str, last: bool) -> None:
    text = PLAIN.replace("\n", end)
    good(tmp_path, text if last else text.removesuffix(end))


def test_mixed_line_ends(tmp_path: Path) -> None:
    chance = random.Random(2)
    good(tmp_path, "".join(line + chance.choice(["\n", "\r\n", "\r"]) for line in PLAIN.splitlines()))


def test_nul_bytes(tmp_path: Path) -> None:
    lines = PLAIN.encode().splitlines(keepends=True)
    account = good(tmp_path, b"".join(lines[:20]) + bytes(300_000) + b"".join(lines[20:]) + bytes(5000))
    (sentence,) = [one for one in account.assumptions if "NUL bytes" in one]
    assert "the first on row 21" in sentence


def test_byte_order_marks_and_head_rows_in_the_middle(tmp_path: Path) -> None:
    head, *rows = PLAIN.splitlines(keepends=True)
    text = "".join(["\ufeff", head, *rows[:20], "\ufeff", head, *rows[20:40], head, *rows[40:]])
    account = good(tmp_path, text)
    assert account.set_aside_by_reason == {"header row stands here again": 2}
    assert [one.row for one in account.set_aside] == [22, 43]
    assert any("byte order marks inside the text are left out, the first on row 22" in s for s in account.assumptions)


def test_files_joined_with_units_and_preamble(tmp_path: Path) -> None:
    style = Style(preamble=("Line 3;x", "Export of a week"), units=True, delimiter=";", decimal=",")
    one, other = csv_text(ROWS[:30], COLUMNS, style), csv_text(ROWS[30:], COLUMNS, style)
    account = good(tmp_path, one + other)
    assert account.set_aside_by_reason == {"header row stands here again": 2, "wrong number of columns": 2}


def test_totals_and_remarks_below_the_data(tmp_path: Path) -> None:
    account = good(tmp_path, PLAIN + "\nTotal,12000,5000,12600\nMean,200,100,210\nEnd of export\n,,,\n")
    assert account.set_aside_by_reason == {"no readable time": 3, "wrong number of columns": 1}
    assert [one.row for one in sorted(account.set_aside, key=lambda one: one.row)] == [63, 64, 65, 66]


@pytest.mark.parametrize("order", ["name unit text", "name text unit", "text name unit", "unit name text"])
def test_three_head_rows(tmp_path: Path, order: str) -> None:
    rows = {
        "name": "Time;T1;P die;SP1",
        "unit": ";°C;psi;°C",
        "text": "stamp;barrel zone;die pressure;set point",
    }
    body = csv_text(ROWS, COLUMNS, Style(delimiter=";")).split("\n", 1)[1]
    account = good(tmp_path, "\n".join(rows[part] for part in order.split()) + "\n" + body)
    if order != "unit name text":
        (sentence,) = [one for one in account.assumptions if "'P die'" in one]
        assert "the log gives 'psi', the line file says 'bar'" in sentence


@pytest.mark.parametrize(
    "head",
    ["Time,T1 [°C],P die [psi],SP1 (C)", "Time,T1_degC,P die / psi,SP1 °F", 'Time,"T1\n[°C]","P die\n(psi)",SP1'],
)
def test_units_behind_the_names(tmp_path: Path, head: str) -> None:
    account = good(tmp_path, PLAIN.replace("Time,T1,P die,SP1", head))
    assert any("for 'P die' the log gives 'psi', the line file says 'bar'" in one for one in account.assumptions)


def test_a_name_with_something_else_behind_it_is_another_tag(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    for name in ("T1 A", "T1 actual", "T1_2"):
        path.write_text(PLAIN.replace("T1", name))
        with pytest.raises(BadLog, match=f"column is missing: 'T1'.*'{name}'"):
            read(path)
    path.write_text(PLAIN.replace("Time,T1,P die", "Time,T1 [C],T1 [F]"))
    with pytest.raises(BadLog, match="2 columns are missing"):
        read(path)


def test_other_columns_that_are_there_twice_do_no_harm(tmp_path: Path) -> None:
    lines = PLAIN.splitlines()
    text = "\n".join([lines[0] + ",x,x,,", *(line + ",1,2,3,4" for line in lines[1:])])
    good(tmp_path, text + "\n")


# RFC 4180, section 2: rule 5 quotes round any field, rule 6 line ends and delimiters inside them, rule 7 doubled ones.
REMARKS = (
    "all well",
    "pump cleaned,\nthen started",
    'says "hot"',
    "a\r\nb\r\n\r\nc",
    ";|\t",
    "",
    'one " only',
    "ends with a break\n",
    "\n\n\n",
)


def remark_log(line_end: str) -> str:
    """ROWS with remarks, as Python's csv module writes them."""
    sink = io.StringIO()
    writer = csv.writer(sink, lineterminator=line_end)
    writer.writerow(["Time", "Remark", *COLUMNS])
    for i, (ns, values) in enumerate(ROWS):
        stamp = f"{moment(ns):%Y-%m-%d %H:%M:%S}"
        writer.writerow([stamp, REMARKS[i % len(REMARKS)], *values.values()])
    return sink.getvalue()


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_rfc_4180(tmp_path: Path, line_end: str) -> None:
    text = remark_log(line_end)
    account = good(tmp_path, text)
    assert account.rows_set_aside == 0
    table = pd.read_csv(io.StringIO(text))
    assert len(table) == account.rows_accepted
    blocks, _ = read(tmp_path / "log.csv")
    for name, values in zip(COLUMNS, all_cells(blocks), strict=True):
        assert np.array_equal(table[name].to_numpy(float), values)


def test_rows_behind_a_line_break_keep_their_numbers(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(remark_log("\n") + "soon,x,1,2,3\n")
    _, account = read(path)
    (one,) = account.set_aside
    assert one.row == remark_log("\n").count("\n") + 1


def test_a_stray_quotation_mark_costs_its_row_only(tmp_path: Path) -> None:
    lines = PLAIN.splitlines()
    for marked in ([10], [10, 11], [10, 30]):
        text = "\n".join(f'{line},"x' if i in marked else f"{line},x" for i, line in enumerate(lines)) + "\n"
        path = tmp_path / "log.csv"
        path.write_text(text)
        _, account = read(path)
        assert account.rows_accepted == 60 - len(marked), marked
        assert account.set_aside_by_reason == {"quotation mark is never closed": len(marked)}
        assert [one.row for one in account.set_aside] == [i + 1 for i in marked]


@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("group", ["", ",", ".", " ", "\u00a0", "\u2009", "\u202f", "'", "\u2019"])
def test_thousands_marks(tmp_path: Path, decimal: str, group: str) -> None:
    if group == decimal:
        return
    rows = [(ns, {"T1": 1234.5 * i, "P die": -1e6 / 8 * i, "SP1": 0.25 * i}) for i, (ns, _) in enumerate(steady(60))]

    def text(value: float) -> str:
        return f"{value:,.3f}".replace(",", "#").replace(".", decimal).replace("#", group)

    lines = ["Time;T1;P die;SP1"]
    lines += [f"{moment(ns):%Y-%m-%d %H:%M:%S};" + ";".join(map(text, v.values())) for ns, v in rows]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    blocks, account = read(path)
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert account.rows_accepted == 60 and not account.values_unreadable


@pytest.mark.parametrize("per_s", [1, 1000, 10**6, 10**9])
@pytest.mark.parametrize("found", [True, False])
def test_epoch_of_every_unit(tmp_path: Path, per_s: int, found: bool) -> None:
    lines = ["ts,T1,P die,SP1"]
    lines += [f"{ns * per_s // 10**9}," + ",".join(map(str, v.values())) for ns, v in ROWS]
    account = good(tmp_path, "\n".join(lines) + "\n", mapping(time_columns=() if found else ("ts",)))
    assert account.files[0].found["time"].startswith("epoch")


@pytest.mark.parametrize("decimal", [".", ","])
def test_equal_to_pandas_and_pyarrow(tmp_path: Path, decimal: str) -> None:
    chance = random.Random(11)
    rows = [
        (ns, {name: round(chance.uniform(-1e3, 1e6), chance.randrange(6)) for name in COLUMNS}) for ns, _ in steady(500)
    ]
    path = write_csv(tmp_path / "log.csv", rows, COLUMNS, Style(delimiter=";", decimal=decimal))
    blocks, _ = read(path)
    ours = all_cells(blocks)
    by_pandas = pd.read_csv(path, sep=";", decimal=decimal)
    by_arrow = arrow_csv.read_csv(
        path,
        parse_options=arrow_csv.ParseOptions(delimiter=";"),
        convert_options=arrow_csv.ConvertOptions(decimal_point=decimal),
    )
    for i, name in enumerate(COLUMNS):
        assert np.array_equal(ours[i], by_pandas[name].to_numpy())
        assert np.array_equal(ours[i], by_arrow.column(name).to_numpy())
