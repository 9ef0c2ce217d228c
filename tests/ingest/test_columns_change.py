"""A second header row in the middle of a file, as where a recorder was started anew with other columns."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ingest.errors import BadLog
from ingest.mapping import ChannelSource
from ingest.propose import propose
from tests.ingest.plain_log import CHANNELS, Row, Style, cells_of, csv_text, expected_cells, mapping, read, steady

COLUMNS = ("T1", "P die", "SP1")
ROWS = steady(90)
PLAIN = Style()
SIZES = (150, 1000, 1 << 20)


def parts(tmp_path: Path, columns: Sequence[Sequence[str]], style: Style = PLAIN, rows: Sequence[Row] = ROWS) -> Path:
    """A log in equal parts, each with a header row and columns of its own."""
    size = len(rows) // len(columns)
    path = tmp_path / "log.csv"
    path.write_text(
        "".join(csv_text(rows[i * size : (i + 1) * size], some, style) for i, some in enumerate(columns)),
        encoding=style.encoding,
    )
    return path


def expected(columns: Sequence[Sequence[str]], rows: Sequence[Row] = ROWS) -> list[Row]:
    """Only the values that stand in the log."""
    size = len(rows) // len(columns)
    return [(ns, {name: values[name] for name in columns[i // size]}) for i, (ns, values) in enumerate(rows)]


CHANGES = {
    "order": [COLUMNS, ("P die", "T1", "SP1"), ("SP1", "P die", "T1")],
    "less": [COLUMNS, ("T1", "P die")],
    "more": [("T1", "P die"), COLUMNS],
    "more, other order": [("P die", "SP1"), ("SP1", "T1", "P die"), ("P die", "SP1")],
    "one not mapped between": [COLUMNS, ("T1", "Other", "P die", "SP1"), COLUMNS],
}


@pytest.mark.parametrize("columns", CHANGES.values(), ids=CHANGES)
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("style", [Style(), Style(delimiter=";", decimal=",", units=True, quote=True)])
def test_every_part_is_read_after_its_header(
    tmp_path: Path, columns: list[tuple[str, ...]], size: int, style: Style
) -> None:
    rows = [(ns, {**values, "Other": 7.5}) for ns, values in ROWS]
    blocks, account = read(parts(tmp_path, columns, style, rows), mapping(), block_bytes=size)
    assert cells_of(blocks) == expected_cells(expected(columns, rows), mapping())
    heads = (len(columns) - 1) * (2 if style.units else 1)
    assert account.set_aside_by_reason == {"header row stands here again": heads}
    assert (account.rows_accepted, account.rows_read) == (90, 90 + heads)
    told = [one for one in account.assumptions if "another header row stands here" in one]
    assert len(told) == len(columns) - 1
    assert f"row {2 + style.units + 90 // len(columns)}: another" in told[0]


def test_the_account_names_what_came_and_went(tmp_path: Path) -> None:
    _, account = read(parts(tmp_path, [COLUMNS, ("T1", "P die", "T2")], rows=[(n, {**v, "T2": 1.0}) for n, v in ROWS]))
    (told,) = [one for one in account.assumptions if "another header row" in one]
    assert told.endswith("row 47: another header row stands here, 'T2' is added and 'SP1' is no more there; the rows "
                         "below are read after it")  # fmt: skip
    assert account.how_sure[told] == "sure"
    assert account.values_missing["SP1"] == 45


def test_without_a_line_end_behind_the_last_row(tmp_path: Path) -> None:
    path = parts(tmp_path, [COLUMNS, ("T1", "P die")])
    path.write_text(path.read_text().rstrip("\n"))
    blocks, account = read(path)
    assert cells_of(blocks) == expected_cells(expected([COLUMNS, ("T1", "P die")]), mapping())
    assert any("has no line end; it is taken as whole" in one for one in account.assumptions)


def test_the_newest_row_first(tmp_path: Path) -> None:
    blocks, _ = read(parts(tmp_path, [COLUMNS, ("P die", "T1", "SP1")], rows=ROWS[::-1]))
    assert cells_of(blocks) == expected_cells(ROWS, mapping())


def test_the_long_layout_with_its_columns_in_another_order(tmp_path: Path) -> None:
    lines = ["Time,Tag,Value"]
    for i, (ns, values) in enumerate(ROWS):
        if i == 45:
            lines.append("Value,Time,Tag")
        at = datetime.fromtimestamp(ns / 1e9, UTC).replace(tzinfo=None)
        cells = [(f"{at}", name, str(values[name])) for name in COLUMNS]
        lines += [",".join(one if i < 45 else (one[2], one[0], one[1])) for one in cells]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    of = mapping(layout="long", tag_column="Tag", value_column="Value")
    assert cells_of(read(path, of)[0]) == expected_cells(ROWS, mapping())


@pytest.mark.parametrize("way", ["behind", "below"])
def test_another_unit_is_refused(tmp_path: Path, way: str) -> None:
    one, other = (csv_text(some, COLUMNS, Style()) for some in (ROWS[:45], ROWS[45:]))
    if way == "behind":
        one, other = one.replace("T1", "T1 [°C]", 1), other.replace("T1", "T1 [°F]", 1)
    else:
        one, other = (text.replace("SP1\n", f"SP1\n,{unit},bar,°C\n", 1) for text, unit in ((one, "°C"), (other, "°F")))
    path = tmp_path / "log.csv"
    path.write_text(one + other)
    row = {"behind": 47, "below": 49}[way]
    what = "from here on the unit is '°F', before it is '°C'. Split"
    with pytest.raises(BadLog, match=rf"row {row}, column 'T1': {what}"):
        read(path)


def test_a_column_of_another_file_that_comes_up_in_this_one_is_refused(tmp_path: Path) -> None:
    path = parts(tmp_path, [("T1", "P die"), COLUMNS])
    beside = tmp_path / "beside.csv"
    beside.write_text(csv_text(ROWS, ("SP1",), Style()))
    with pytest.raises(BadLog, match=r"row 47, column 'SP1': from here on the log has this column too.*Split"):
        read([path, beside])


def test_a_text_that_is_a_column_name_makes_no_header(tmp_path: Path) -> None:
    rows = [(ns, {**values, "Lot": "T1" if i > 40 else "A"}) for i, (ns, values) in enumerate(ROWS)]
    rows[60][1]["T1"] = "bad"  # type: ignore[index]
    path = parts(tmp_path, [("T1", "Lot")], rows=rows)
    of = mapping(channels=CHANNELS[:1], lot_column="Lot", time_columns=())
    _, account = read(path, of)
    assert (account.rows_accepted, account.rows_set_aside) == (90, 0)
    one = ChannelSource("A", "zone_temperature:Z1", "C", "mean", 60)
    text = path.read_text().replace("T1", "A", 1).replace(",bad,", ",odd,")
    path.write_text(text)
    assert read(path, mapping(channels=(one,), time_columns=()))[1].rows_accepted == 89


def test_headers_without_end_are_refused_in_time(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    text = csv_text(ROWS, COLUMNS, Style())
    path.write_text(text + "Time,P die,T1,SP1\nTime,T1,P die,SP1\n" * 20_000)
    with pytest.raises(BadLog, match=r"the columns change for the 1001th time"):
        read(path)


def test_a_line_file_is_proposed_from_both_parts(tmp_path: Path) -> None:
    rows = [(ns, {"Zone 1 temp degC": v["T1"], "Melt pressure bar": v["P die"]}) for ns, v in ROWS]
    names = ("Zone 1 temp degC", "Melt pressure bar")
    found = propose([parts(tmp_path, [names, names[::-1]], rows=rows)]).lines[0].tags
    assert {one.tag: one.role for one in found} == dict(zip(names, ("zone_temperature", "melt_pressure"), strict=True))
    whole = propose([parts(tmp_path, [names], rows=rows)]).lines[0].tags
    assert [(one.tag, one.seen) for one in found] == [(one.tag, one.seen) for one in whole]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("size", SIZES)
def test_a_row_of_units_that_stands_again_alone(tmp_path: Path, size: int, end: str) -> None:
    head, units, *rows = csv_text(ROWS, COLUMNS, Style(units=True)).splitlines()
    path = tmp_path / "log.csv"
    path.write_bytes(end.join([head, units, *rows[:40], units, *rows[40:70], units, *rows[70:], ""]).encode())
    blocks, account = read(path, mapping(), block_bytes=size)
    assert cells_of(blocks) == expected_cells(ROWS, mapping())
    assert account.set_aside_by_reason == {"header row stands here again": 2}
    assert [one.row for one in account.set_aside] == [43, 74]
