"""Logs whose rows hold only times of day, the date standing above the table or in the name of the file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ingest.errors import BadLog
from tests.ingest.plain_log import Row, cells_of, expected_cells, mapping, moment, nanoseconds, read, steady

COLUMNS = ("T1", "P die", "SP1")
EVENING = datetime(2026, 3, 6, 23, 50, tzinfo=UTC)


def saved(path: Path, rows: Sequence[Row], above: Sequence[str] = (), clock: str = "%H:%M:%S") -> Path:
    """A log with times of day; their texts are taken from `values['clock']` where that is given."""
    lines = [*above, ";".join(("Time", *COLUMNS))]
    for ns, values in rows:
        stamp = str(values.get("clock", moment(ns).strftime(clock)))
        lines.append(";".join((stamp, *(str(values[name]) for name in COLUMNS))))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def said(account: object) -> list[str]:
    return [one for one in account.assumptions if "time" in one]  # type: ignore[attr-defined]


NAMES = ["log 2026-03-06.csv", "20260306_2350.csv", "L1_20260306235000.csv", "06.03.2026 night.csv", "6 March 2026.csv"]
NAMES += ["Linie 3 2026_03_06-2026_03_09.csv", "L 13-03-2026 x.csv"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("columns", [(), ("Time",)])
def test_the_date_is_in_the_name(tmp_path: Path, name: str, columns: tuple[str, ...]) -> None:
    start = datetime(2026, 3, 13, 23, 50, tzinfo=UTC) if "13-" in name else EVENING
    rows = steady(1200, start=start)  # over midnight
    of = mapping(time_columns=columns)
    blocks, account = read(saved(tmp_path / name, rows), of)
    assert cells_of(blocks) == expected_cells(rows, of)
    assert account.rows_accepted == 1200
    (one,) = [sentence for sentence in account.assumptions if "holds times of day only" in sentence]
    assert f"of {start:%Y-%m-%d}, after the name of the file ('{name}')" in one
    assert account.files[0].found["time"] == f"HH:MM:SS from {start:%Y-%m-%d} on"


ABOVE = [["Line 3", "Date;06.03.2026"], ["Start: 2026-03-06", "End: 2026-03-09"], ["6. März 2026"], ["March 6, 2026;;"]]
ABOVE += [["Zeitraum von 06.03.2026 bis 09.03.2026"], ["Exported 2026-03-20", "From 2026-03-06"]]


@pytest.mark.parametrize("above", ABOVE, ids=[one[-1] for one in ABOVE])
def test_the_date_is_above_the_table(tmp_path: Path, above: list[str]) -> None:
    rows = steady(3 * 1440, 60_000, EVENING)  # three days, a row a minute
    of = mapping(time_columns=(), cadence_s=60.0)
    blocks, account = read(saved(tmp_path / "log.csv", rows, above, "%H:%M"), of)
    assert cells_of(blocks) == expected_cells(rows, of)
    assert account.rows_set_aside == 0


def test_what_stands_above_the_table_counts_more_than_the_name_which_is_said(tmp_path: Path) -> None:
    rows = steady(60)
    path = saved(tmp_path / "export 2026-03-09.csv", rows, ["Date: 2026-03-06"], "%I:%M:%S %p")
    blocks, account = read(path, mapping(time_columns=()))
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert any("the name of the file also says '2026-03-09'" in one for one in account.assumptions)


@pytest.mark.parametrize(
    ("name", "above", "what"),
    [
        ("log.csv", [], "no column the date; nor does a line above the table or the name of the file"),
        ("log.csv", ["Exported 06.03.2026"], "is that of the export"),
        ("log.csv", ["Day 2026-03-06", "Day 2026-03-09"], "several dates stand above the table"),
        ("log.csv", ["Date: 06/03/2026"], "day and month cannot be told apart"),
        ("log 05-03-2026.csv", [], "day and month cannot be told apart"),
        ("log 2026-02-30.csv", [], "nor does a line"),
        ("log 123456789.csv", ["Order 420260306"], "nor does a line"),
    ],
)
def test_no_day_or_several_are_refused(tmp_path: Path, name: str, above: list[str], what: str) -> None:
    path = saved(tmp_path / name, steady(60), above)
    with pytest.raises(BadLog, match=what) as caught:
        read(path, mapping(time_columns=()))
    assert "Put the day of the first row into the name of the file" in str(caught.value)


def test_a_column_that_counts_from_the_start_is_no_time_of_day(tmp_path: Path) -> None:
    path = saved(tmp_path / "log 2026-03-06.csv", steady(60))
    path.write_text(path.read_text().replace("Time;", "Elapsed time;"))
    with pytest.raises(BadLog, match="seems to count from a start"):
        read(path, mapping(time_columns=()))


def test_stops_late_rows_and_a_clock_that_is_put_back(tmp_path: Path) -> None:
    """A stop over night is another day, a clock put back by an hour is none, nor is a row that stands out."""
    first = steady(600, start=datetime(2026, 3, 6, 20, 0, tzinfo=UTC))
    second = steady(600, start=datetime(2026, 3, 7, 9, 0, tzinfo=UTC))
    back = [(ns - 3600 * 10**9, values) for ns, values in steady(60, start=datetime(2026, 3, 7, 9, 10, tzinfo=UTC))]
    third = steady(600, start=datetime(2026, 3, 7, 9, 20, tzinfo=UTC))
    odd = [(ns, {**values, "clock": "02:00:00"} if i in (300, 301) else values) for i, (ns, values) in enumerate(third)]
    path = saved(tmp_path / "2026-03-06.csv", [*first, *second, *back, *odd])
    for size in (400, 3_000, 1 << 20):
        blocks, account = read(path, mapping(time_columns=()), block_bytes=size)
        cells = cells_of(blocks)
        assert all(cells["zone_temperature:Z1", ns][0] == values["T1"] for ns, values in [*first, *second])
        kept = [one for i, one in enumerate(third) if i not in (300, 301)]
        assert all(cells["zone_temperature:Z1", ns][0] == values["T1"] for ns, values in kept)
        assert account.set_aside_by_reason == {"clock runs backwards": 60, "no readable time": 2}
        (new_day,) = [one for one in account.assumptions if "taken as the next day" in one]
        assert "row 602: the time of day falls from 20:09:59 to 09:00:00" in new_day


def test_late_rows_around_midnight_stay_on_their_day(tmp_path: Path) -> None:
    rows = steady(120, start=datetime(2026, 3, 6, 23, 59, tzinfo=UTC))
    mixed = [*rows[:59], rows[60], rows[59], *rows[61:]]
    for size in (200, 1 << 20):
        blocks, account = read(saved(tmp_path / "2026-03-06.csv", mixed), mapping(time_columns=()), block_bytes=size)
        assert cells_of(blocks) == expected_cells(rows, mapping())
        assert (account.out_of_order, account.rows_set_aside) == (1, 0)


def test_a_file_a_day(tmp_path: Path) -> None:
    rows = steady(2880, 60_000, datetime(2026, 3, 6, tzinfo=UTC))
    paths = [saved(tmp_path / f"2026-03-{6 + i:02d}.csv", rows[i * 1440 : i * 1440 + 1440]) for i in (1, 0)]
    of = mapping(time_columns=(), cadence_s=60.0)
    assert cells_of(read(paths, of)[0]) == expected_cells(rows, of)


def test_local_days_with_a_clock_change(tmp_path: Path) -> None:
    """On 29 March 2026 the clock of Madrid goes from 02:00 to 03:00: 23 hours of rows make one day."""
    rows = steady(2 * 1440, 60_000, datetime(2026, 3, 28, 12, 0, tzinfo=UTC))
    lines = ["Time;T1;P die;SP1"]
    from zoneinfo import ZoneInfo

    for ns, values in rows:
        at = moment(ns).astimezone(ZoneInfo("Europe/Madrid"))
        lines.append(f"{at:%H:%M:%S};{values['T1']};{values['P die']};{values['SP1']}")
    path = tmp_path / "2026-03-28.csv"
    path.write_text("\n".join(lines) + "\n")
    of = mapping(time_columns=(), cadence_s=60.0, time_zone="Europe/Madrid")
    blocks, account = read(path, of)
    assert account.rows_set_aside == 0
    assert cells_of(blocks) == expected_cells(rows, of)


LONG = {"layout": "long", "tag_column": "Tag", "value_column": "Value", "time_columns": ()}


def test_the_long_layout_of_one_day_and_of_more(tmp_path: Path) -> None:
    rows = steady(300)
    path = tmp_path / "2026-03-06.csv"
    cells = [f"{moment(ns):%H:%M:%S},{name},{values[name]}" for ns, values in rows for name in COLUMNS]
    path.write_text("\n".join(["Time,Tag,Value", *cells]) + "\n")
    assert cells_of(read(path, mapping(**LONG))[0]) == expected_cells(rows, mapping())
    by_tag = [f"{i:02d}:00:00,{name},{200 + i}" for name in COLUMNS for i in range(24)]
    path.write_text("\n".join(["Time,Tag,Value", *by_tag]) + "\n")
    with pytest.raises(BadLog, match=r"row 26: the time of day falls from 23:00:00 to 00:00:00, and whether another"):
        read(path, mapping(**LONG))


def test_the_day_of_the_first_row_is_that_of_the_oldest_where_the_newest_comes_first(tmp_path: Path) -> None:
    rows = steady(1200, start=EVENING)
    path = saved(tmp_path / "2026-03-06.csv", rows[::-1])
    blocks, _ = read(path, mapping(time_columns=()))
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert nanoseconds(EVENING) == rows[0][0]
