"""A log that cannot be read says so in words that name the place and what to do; never a traceback."""

from __future__ import annotations

import gzip
from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.errors import BadLog
from ingest.mapping import ChannelSource, LogMapping
from tests.ingest.plain_log import (
    CHANNELS,
    START,
    Style,
    csv_text,
    mapping,
    nanoseconds,
    read,
    steady,
    write_csv,
    write_parquet,
)

GOOD = csv_text(steady(30), ("T1", "P die", "SP1"), Style())
LETTER = "Dear all,\n\nthe line ran well this week. Please find\nthe figures below.\n\nKind regards\n"


def refusal(tmp_path: Path, content: str | bytes, line: LogMapping | None = None, name: str = "log.csv") -> BadLog:
    """The error that reading this content raises."""
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(BadLog) as caught:
        read(path, line)
    assert str(caught.value).startswith(str(path))
    return caught.value


def column_cut(text: str, names: tuple[str, ...]) -> str:
    """The CSV text without some columns."""
    rows = [line.split(",") for line in text.splitlines()]
    keep = [i for i, name in enumerate(rows[0]) if name not in names]
    return "\n".join(",".join(row[i] for i in keep) for row in rows) + "\n"


@pytest.mark.parametrize(
    "content", [b"", b"\n\n  \n", b"\n" * 5000, b"\xef\xbb\xbf", b"\xff\xfe", gzip.compress(b"", mtime=0)]
)
def test_an_empty_log(tmp_path: Path, content: bytes) -> None:
    assert "is empty" in str(refusal(tmp_path, content))


def test_a_header_without_rows(tmp_path: Path) -> None:
    error = refusal(tmp_path, "Time,T1,P die,SP1\n")
    assert "has a header and no rows" in str(error)
    assert error.row == 1


def test_a_letter(tmp_path: Path) -> None:
    error = refusal(tmp_path, LETTER)
    assert "no columns can be made out" in str(error)
    assert "row 1" in str(error)
    assert "CSV" in error.hint


def test_a_delimiter_nobody_knows(tmp_path: Path) -> None:
    error = refusal(tmp_path, GOOD.replace(",", "!"))
    assert "'Time!T1!P die!SP1'" in str(error)
    assert "comma, semicolon, tab, vertical bar" in str(error)


def test_a_missing_column_names_the_nearest(tmp_path: Path) -> None:
    error = refusal(tmp_path, GOOD.replace("P die", "P_Die"))
    assert error.column == "P die"
    assert "column 'P die'" in str(error)
    assert "nearest: 'P_Die'" in str(error)
    assert "line file" in error.hint


def test_many_missing_columns_come_at_once(tmp_path: Path) -> None:
    error = refusal(tmp_path, column_cut(GOOD, ("T1", "SP1")))
    assert "2 columns are missing" in str(error)
    assert "'T1'" in str(error) and "'SP1'" in str(error)
    assert "'Time', 'P die'" in str(error)


def test_the_log_of_another_line(tmp_path: Path) -> None:
    error = refusal(tmp_path, "zzz;xxx;yyy\n2026-03-06 10:00:00;1;2\n2026-03-06 10:00:01;1;2\n")
    assert "none of the columns of the line file is in the log" in str(error)
    assert error.row == 1
    assert "another line" in error.hint


def test_no_header(tmp_path: Path) -> None:
    error = refusal(tmp_path, GOOD.split("\n", 1)[1])
    assert "there is no header row" in str(error)
    assert "2026-03-06 10:52:30" in str(error)


def test_a_column_that_is_there_twice(tmp_path: Path) -> None:
    error = refusal(tmp_path, GOOD.replace("SP1", "T1"), mapping(channels=CHANNELS[:2]))
    assert "column 'T1'" in str(error) and "twice" in str(error)


def test_decimal_commas_between_commas(tmp_path: Path) -> None:
    lines = ["Time,T1,P die,SP1", *(f"2026-03-06 10:00:{i:02d},200,5,99,3,210,0" for i in range(20))]
    error = refusal(tmp_path, "\n".join(lines))
    assert "the header has 4 columns and the rows have 7" in str(error)
    assert "decimal commas" in error.hint


@pytest.mark.parametrize("stamp", ["soon", "2026-13-45 99:00:00", "1234"])
def test_no_readable_time(tmp_path: Path, stamp: str) -> None:
    error = refusal(tmp_path, "Time,T1,P die,SP1\n" + f"{stamp},1,2,3\n" * 20)
    assert "there is no readable time" in str(error)
    assert "column 'Time'" in str(error)
    assert stamp in str(error)


def test_day_numbers_of_a_spreadsheet(tmp_path: Path) -> None:
    error = refusal(tmp_path, "Time,T1,P die,SP1\n" + "46087.4531,1,2,3\n" * 20)
    assert "spreadsheet" in error.hint


def test_no_time_column_to_be_found(tmp_path: Path) -> None:
    error = refusal(tmp_path, column_cut(GOOD, ("Time",)), mapping(time_columns=()))
    assert "no readable time" in str(error)
    assert "time_columns" in error.hint


def test_dates_that_may_be_read_both_ways(tmp_path: Path) -> None:
    rows = "".join(f"03/04/2026 10:00:{i:02d},1,2,3\n" for i in range(30))
    error = refusal(tmp_path, "Time,T1,P die,SP1\n" + rows)
    assert "'03/04/2026 10:00:00' may be day 3 of month 4 or the other way round" in str(error)
    assert error.row == 2
    assert "'%d/%m/%Y %H:%M:%S'" in error.hint and "'%m/%d/%Y %H:%M:%S'" in error.hint


@pytest.mark.parametrize("text", ["%Q", "%H:%M", "%Y-%m-%d %Y"])
def test_a_time_format_that_cannot_be_used(tmp_path: Path, text: str) -> None:
    error = refusal(tmp_path, GOOD, mapping(time_format=text))
    assert f"time_format '{text}'" in str(error)


def test_a_time_format_that_does_not_fit(tmp_path: Path) -> None:
    error = refusal(tmp_path, GOOD, mapping(time_format="%d.%m.%Y %H:%M:%S"))
    assert "'2026-03-06 10:52:30' is not written like time_format '%d.%m.%Y %H:%M:%S'" in str(error)
    assert error.row == 2


def test_everything_set_aside_names_reason_and_place(tmp_path: Path) -> None:
    error = refusal(tmp_path, "Time,T1,P die,SP1\n" + "".join(f"2026-03-06 10:00:{i:02d},x,y,z\n" for i in range(20)))
    assert "all 20 rows had to be set aside" in str(error)
    assert "no value can be read" in str(error)
    assert error.row == 2


def test_no_row_of_the_line(tmp_path: Path) -> None:
    text = "Time,T1,P die,SP1,Line\n" + "2026-03-06 10:00:00,1,2,3,Extruder 7\n" * 20
    error = refusal(tmp_path, text, mapping(line_column="Line", line_value="Extruder 1"))
    assert "no row belongs to line 'Extruder 1'; lines in the log: 'Extruder 7'" in str(error)
    assert "line_value" in error.hint


def test_no_tag_of_the_line_in_a_long_log(tmp_path: Path) -> None:
    text = "Time,Tag,Value\n" + "2026-03-06 10:00:00,P_die,3\n" * 20
    line = mapping(layout="long", tag_column="Tag", value_column="Value", channels=CHANNELS[1:2])
    error = refusal(tmp_path, text, line)
    assert "no row has a tag of the line file, such as 'P die'; tags in the log: 'P_die'" in str(error)


@pytest.mark.parametrize(
    ("start", "words"),
    [
        (b"PK\x03\x04", "workbook or zip"),
        (b"SQLite format 3\x00", "database"),
        (b"%PDF-1.7", "PDF"),
        (b"BZh9", "bzip2"),
        (bytes(range(1, 256)) * 20, "not text"),
    ],
)
def test_files_of_other_kinds(tmp_path: Path, start: bytes, words: str) -> None:
    error = refusal(tmp_path, start + b"rest" * 50)
    assert words in str(error)
    assert error.hint


def test_a_gzip_file_that_is_cut_off(tmp_path: Path) -> None:
    import random

    chance = random.Random(1)
    text = GOOD + "".join(
        f"2026-03-06 11:00:{i % 60:02d},{chance.random()},{chance.random()},3\n" for i in range(90_000)
    )
    whole = gzip.compress(text.encode())
    assert "gzip" in str(refusal(tmp_path, whole[: len(whole) - 1000], name="end.csv.gz"))
    assert "gzip" in str(refusal(tmp_path, whole[:300], name="start.csv.gz"))


def test_a_line_without_end(tmp_path: Path) -> None:
    error = refusal(tmp_path, GOOD * 20_000 + "7" * 3_000_000)
    assert "longer than 1 MB" in str(error)
    assert error.row == 31 * 20_000 + 1


def test_a_very_long_line_among_others_is_one_row(tmp_path: Path) -> None:
    lines = GOOD.splitlines()
    for extra, accepted in ((f'2026-03-06 10:52:38,1,2,"{"7" * 1_500_000}"', 31), ("7," * 700_000, 30)):
        path = tmp_path / "log.csv"
        path.write_text("\n".join([*lines[:9], extra, *lines[9:]]) + "\n")
        _, account = read(path)
        assert (account.rows_read, account.rows_accepted) == (31, accepted)


@pytest.mark.parametrize("size", [0, 3, 4, 50, 800])
def test_truncated_parquet(tmp_path: Path, size: int) -> None:
    whole = write_parquet(tmp_path / "whole.parquet", steady(50)).read_bytes()
    error = refusal(tmp_path, whole[:size], name="log.parquet")
    assert "not a whole Parquet file" in str(error)
    assert "Copy it again" in error.hint


def test_damaged_parquet_pages(tmp_path: Path) -> None:
    whole = bytearray(write_parquet(tmp_path / "whole.parquet", steady(5000)).read_bytes())
    whole[5000:9000] = bytes(4000)
    assert "cut off or damaged" in str(refusal(tmp_path, bytes(whole), name="log.parquet"))


def test_parquet_with_missing_columns(tmp_path: Path) -> None:
    path = write_parquet(tmp_path / "log.parquet", steady(5), columns=("T1", "SP1"))
    with pytest.raises(BadLog, match=r"column 'P die'.*missing.*'T1', 'SP1'"):
        read(path)


def test_parquet_without_rows(tmp_path: Path) -> None:
    path = write_parquet(tmp_path / "log.parquet", [])
    with pytest.raises(BadLog, match="is empty"):
        read(path)


def test_parquet_with_lists(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    columns = {"Time": pa.array([nanoseconds(START)], pa.timestamp("ns")), "T1": [[1.0]], "P die": [1.0], "SP1": [1.0]}
    pq.write_table(pa.table(columns), path)
    with pytest.raises(BadLog, match=r"column 'T1': column holds list"):
        read(path)


def test_files_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(BadLog, match="does not exist"):
        read(tmp_path / "no.csv")
    with pytest.raises(BadLog, match="is a folder"):
        read(tmp_path)
    with pytest.raises(BadLog, match="no log file is given"):
        read([])


def test_mistakes_of_the_line_file(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "log.csv", steady(5))
    with pytest.raises(BadLog, match=r"column 'T1'.*unit.*'furlong'"):
        read(path, mapping(channels=(replace(CHANNELS[0], unit="furlong"),)))
    with pytest.raises(BadLog, match="'Europe/Atlantis' of the line file is no IANA time zone"):
        read(path, mapping(time_zone="Europe/Atlantis"))


def test_a_lot_column_that_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ingest.note_texts.MOST_TEXTS", 20)
    path = write_csv(tmp_path / "log.csv", steady(50))
    line = mapping(channels=(ChannelSource("P die", "melt_pressure:die", "bar", "max", 15),), lot_column="T1")
    with pytest.raises(BadLog, match=r"column 'T1': the lot changes nearly every row"):
        read(path, line)
