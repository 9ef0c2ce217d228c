"""Times of day with points, and the keys of the line file that say how a log writes its time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from ingest.account import ReadingAccount
from ingest.day_or_month import written_like
from ingest.errors import BadLog
from ingest.stamp_text import is_clock_only
from tests.ingest.plain_log import mapping, nanoseconds, read

FIRST = datetime(2027, 4, 6, 6, 0, 0, tzinfo=UTC)


def log(folder: Path, columns: dict[str, str], **keys: object) -> tuple[list[int], ReadingAccount]:
    """Times of the cells of a log whose columns of time are written so. columns: name -> strptime format."""
    rows = [
        ";".join([*((FIRST + timedelta(seconds=10 * i)).strftime(form) for form in columns.values()), "1", "2", "3"])
        for i in range(90)
    ]
    path = folder / "log.csv"
    path.write_text("\n".join([";".join([*columns, "T1", "P die", "SP1"]), *rows]) + "\n", encoding="utf-8")
    blocks, account = read(path, mapping(time_columns=(), cadence_s=10.0, **keys))
    return [block.t0 + i * block.step for block in blocks for i in range(block.n)], account


@pytest.mark.parametrize(
    "columns",
    [
        {"Data ora": "%d/%m/%y %H.%M.%S"},
        {"Tid": "%d.%m.%Y %H.%M.%S"},
        {"Data": "%d/%m/%y", "Ora": "%H.%M.%S"},
        {"Ora": "%H.%M.%S", "Data": "%d.%m.%y"},
    ],
)
def test_points_in_the_time_of_day(tmp_path: Path, columns: dict[str, str]) -> None:
    times, account = log(tmp_path, columns)
    assert times[0] == nanoseconds(FIRST) and len(times) == 90
    assert any("day first, as is usual with points" in said for said in account.assumptions)


def test_a_number_is_no_time_of_day() -> None:
    assert is_clock_only("06.00.10") and is_clock_only("06:00")
    assert not is_clock_only("6.50") and not is_clock_only("12.30")


@pytest.mark.parametrize(
    ("columns", "form"),
    [
        ({"n": "%d+%m+%Y %H-%M-%S"}, "%d+%m+%Y %H-%M-%S"),
        ({"day": "%d_%m_%y", "clock": "%Hh%M-%S"}, "%d_%m_%y %Hh%M-%S"),
        ({"clock": "%Hh%M-%S", "day": "%d_%m_%y"}, "%d_%m_%y %Hh%M-%S"),
    ],
)
def test_time_format_alone_finds_its_columns(tmp_path: Path, columns: dict[str, str], form: str) -> None:
    with pytest.raises(BadLog) as refused:
        log(tmp_path, columns)
    assert "time_format" in str(refused.value) and "time_columns" in str(refused.value)

    times, account = log(tmp_path, columns, time_format=form)
    assert times[0] == nanoseconds(FIRST) and len(times) == 90
    assert any("written like time_format" in said for said in account.assumptions)


def test_a_format_that_no_column_has(tmp_path: Path) -> None:
    with pytest.raises(BadLog) as refused:
        log(tmp_path, {"Data ora": "%d/%m/%y %H.%M.%S"}, time_format="%d.%m.%Y %H:%M:%S")
    said = str(refused.value)
    assert "no column is written like time_format '%d.%m.%Y %H:%M:%S'" in said
    assert "'Data ora' starts with '06/04/27 06.00.00'" in said and "time_columns" in said


@pytest.mark.parametrize(
    "form", ["%d/%m/%y %H.%M.%S", "%d.%m.%Y %H:%M", "%d-%m-%Y %I:%M:%S %p", "%d/%m/%Y %H:%M:%S,%f", "%d/%m/%y"]
)
def test_the_format_proposed_is_the_one_the_log_has(form: str) -> None:
    text = datetime(2027, 4, 6, 6, 5, 4, 30_000, tzinfo=UTC).strftime(form)
    assert written_like(text, "d") == form
    assert written_like(text, "m") == form.replace("%d", "%?").replace("%m", "%d").replace("%?", "%m")
