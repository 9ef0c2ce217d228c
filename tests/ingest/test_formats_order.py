"""Logs that are not in order of time as a whole: newest row first, tag by tag, several files side by side."""

from __future__ import annotations

import gzip
import random
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pyarrow as pa
import pytest

from ingest.account import ReadingAccount
from ingest.read_log import read_in_pieces
from tests.ingest.plain_log import (
    Row,
    Style,
    cells_of,
    csv_text,
    expected_cells,
    mapping,
    moment,
    read,
    same_blocks,
    steady,
    write_csv,
    write_parquet,
)

LONG = mapping(layout="long", tag_column="Tag", value_column="Value")
COLUMNS = ("T1", "P die", "SP1")


def turned(path: Path, to: Path) -> Path:
    """The CSV log with its rows the other way round."""
    head, *rows = path.read_text().splitlines()
    to.write_text("\n".join([head, *reversed(rows)]) + "\n")
    return to


def long_lines(rows: Sequence[Row], tags: Sequence[str] = COLUMNS) -> list[tuple[str, str]]:
    """(tag, line) of every reading, stamp by stamp."""
    return [
        (tag, f"{moment(ns):%Y-%m-%d %H:%M:%S.%f},{tag},{'' if values[tag] is None else values[tag]}")
        for ns, values in rows
        for tag in tags
    ]


def by_tag(rows: Sequence[Row], page: int = 10**9) -> str:
    """A long log, all of one tag and then all of the next, or so page by page."""
    lines = ["Time,Tag,Value"]
    for start in range(0, len(rows), page):
        part = long_lines(rows[start : start + page])
        lines += [line for tag in COLUMNS for other, line in part if other == tag]
    return "\n".join(lines) + "\n"


def identity(account: ReadingAccount, rows: int) -> None:
    """Every row is accounted for."""
    assert account.rows_read == rows
    assert account.rows_read == account.rows_accepted + account.rows_set_aside


@pytest.mark.parametrize("kind", ["csv", "gz", "parquet"])
def test_newest_row_first(tmp_path: Path, kind: str) -> None:
    rows = steady(5000)
    whole, _ = read(write_csv(tmp_path / "whole.csv", rows))
    path = tmp_path / f"log.{kind}"
    if kind == "parquet":
        write_parquet(path, rows[::-1])
    else:
        text = turned(write_csv(tmp_path / "plain.csv", rows), path).read_bytes()
        path.write_bytes(gzip.compress(text) if kind == "gz" else text)
    blocks, account = read(path)
    assert same_blocks(blocks, whole)
    identity(account, 5000)
    assert any("newest row comes first" in sentence for sentence in account.assumptions)


def test_newest_row_first_keeps_row_numbers_and_rejects(tmp_path: Path) -> None:
    head, *rows = csv_text(steady(1200), COLUMNS, Style()).splitlines()
    rows.reverse()
    rows[600] += ",9"
    rows[800] = "soon,1,2,3"
    path = tmp_path / "log.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    reference, account = read(path)
    identity(account, 1200)
    assert {(one.row, one.reason) for one in account.set_aside} == {
        (602, "wrong number of columns"),
        (802, "no readable time"),
    }
    for size in (1, 700, 20_000):
        blocks, other = read(path, block_bytes=size)
        assert same_blocks(reference, blocks)
        assert account.as_dict() == other.as_dict()


def test_newest_row_first_through_the_repeated_hour(tmp_path: Path) -> None:
    # Berlin put its clocks back on 25 October 2026 at 01:00 UTC (IANA time zone data base).
    rows = steady(200, 60_000, datetime(2026, 10, 24, 23, 30, tzinfo=UTC))
    line = mapping(time_zone="Europe/Berlin")
    text = csv_text(rows, COLUMNS, Style(zone="Europe/Berlin"))
    (tmp_path / "whole.csv").write_text(text)
    whole, _ = read(tmp_path / "whole.csv", line)
    assert {key[1] for key in cells_of(whole)} >= {ns for ns, _ in rows}
    blocks, account = read(turned(tmp_path / "whole.csv", tmp_path / "log.csv"), line)
    assert same_blocks(blocks, whole)
    identity(account, 200)


def test_files_that_run_either_way(tmp_path: Path) -> None:
    rows = steady(900)
    whole, _ = read(write_csv(tmp_path / "whole.csv", rows))
    one = turned(write_csv(tmp_path / "p1.csv", rows[:300]), tmp_path / "1.csv")
    two = write_csv(tmp_path / "2.csv", rows[300:600])
    three = turned(write_csv(tmp_path / "p3.csv", rows[600:]), tmp_path / "3.csv")
    blocks, account = read([three, two, one])
    assert same_blocks(blocks, whole)
    assert account.gap_count == 0


@pytest.mark.parametrize("page", [10**9, 300, 100])
@pytest.mark.parametrize("packed", [False, True])
def test_all_of_one_tag_then_all_of_the_next(tmp_path: Path, page: int, packed: bool) -> None:
    rows = steady(2500)
    path = tmp_path / "log.csv"
    data = by_tag(rows, page).encode()
    path.write_bytes(gzip.compress(data) if packed else data)
    blocks, account = read(path, LONG)
    identity(account, 7500)
    assert account.rows_accepted == 7500
    assert cells_of(blocks) == expected_cells(rows, LONG)
    assert any("stand tag by tag" in sentence for sentence in account.assumptions)


def test_tag_by_tag_and_newest_first(tmp_path: Path) -> None:
    rows = steady(800)
    path = tmp_path / "log.csv"
    path.write_text(by_tag(rows[::-1]))
    blocks, account = read(path, LONG)
    identity(account, 2400)
    assert cells_of(blocks) == expected_cells(rows, LONG)


def test_tag_by_tag_does_not_depend_on_pieces_or_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    chance = random.Random(7)
    head, *lines = by_tag(steady(300)).splitlines()
    for _ in range(60):
        place = chance.randrange(len(lines))
        lines[place] = chance.choice([lines[place] + ",9", "soon,T1,5", lines[place][:-3] + "x", lines[place]])
    lines[100], lines[105] = lines[105], lines[100]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([head, *lines]) + "\n")
    whole, account = read(path, LONG)
    identity(account, 900)
    assert account.rows_accepted > 800
    for run, part, sizes in ((97, 10, (1, 900)), (500, 33, (900, 30_000))):
        monkeypatch.setattr("ingest.time_sort.RUN_ROWS", run)
        monkeypatch.setattr("ingest.time_sort.PART_ROWS", part)
        for size in sizes:
            blocks, other = read(path, LONG, block_bytes=size)
            assert same_blocks(whole, blocks), (run, size)
            assert account.as_dict() == other.as_dict(), (run, size)


def test_tag_by_tag_in_the_repeated_hour(tmp_path: Path) -> None:
    rows = steady(400, 30_000, datetime(2026, 10, 24, 23, 30, tzinfo=UTC))
    line = mapping(layout="long", tag_column="Tag", value_column="Value", time_zone="Europe/Berlin")
    lines = ["Time,Tag,Value"]
    for tag in COLUMNS:
        for ns, values in rows:
            local = moment(ns).astimezone(ZoneInfo("Europe/Berlin"))
            lines.append(f"{local:%Y-%m-%d %H:%M:%S},{tag},{values[tag]}")
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    blocks, account = read(path, line)
    assert account.rows_accepted == 1200
    assert cells_of(blocks) == expected_cells(rows, line)


def test_a_clock_step_is_no_tag_by_tag_log(tmp_path: Path) -> None:
    rows = steady(2000)
    lines = [line for _, line in long_lines([*rows[:1000], *rows[400:1400]])]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["Time,Tag,Value", *lines]) + "\n")
    _, account = read(path, LONG)
    assert account.clock_step_count == 1
    assert not any("tag by tag" in sentence for sentence in account.assumptions)
    identity(account, 6000)


def test_memory_does_not_grow_with_a_log_that_is_sorted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ingest.time_sort.RUN_ROWS", 5000)
    monkeypatch.setattr("ingest.time_sort.PART_ROWS", 200)
    monkeypatch.setattr("ingest.time_sort._OUT_ROWS", 2000)
    peaks = []
    for count in (4000, 4000, 16_000):
        path = tmp_path / f"{count}.csv"
        path.write_text(by_tag(steady(count)))
        most = 0
        account = ReadingAccount()
        for _ in read_in_pieces([path], LONG, account, block_s=600, block_bytes=20_000):
            most = max(most, pa.total_allocated_bytes())
        assert account.rows_accepted == 3 * count
        peaks.append(most)
    # All rows of the longer one take more than 2 MB in Arrow.
    assert peaks[2] < 1.5 * peaks[1] + 200_000, peaks


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_columns_in_files_side_by_side(tmp_path: Path, kind: str) -> None:
    rows = steady(700)
    write = write_csv if kind == "csv" else write_parquet
    paths = [
        write(tmp_path / f"a1.{kind}", rows[:350], ("T1",)),
        write(tmp_path / f"a2.{kind}", rows[350:], ("T1",)),
        write(tmp_path / f"b.{kind}", rows, ("P die", "SP1")),
    ]
    whole, _ = read(write_csv(tmp_path / "whole.csv", rows))
    for order in (paths, paths[::-1]):
        blocks, account = read(order)
        assert cells_of(blocks) == cells_of(whole)
        identity(account, 1400)
        assert account.rows_accepted == 1400
        assert account.duplicates == 0
        assert account.gap_count == 0
        assert any("side by side" in sentence for sentence in account.assumptions)


def test_files_side_by_side_on_other_steps_and_with_lots(tmp_path: Path) -> None:
    slow = [(ns, values) for ns, values in steady(600) if ns // 10**9 % 7 == 0]
    rows = steady(600)
    fast = write_csv(tmp_path / "fast.csv", rows, ("P die",))
    lines = [
        "Time,T1,SP1,Lot",
        *(f"{moment(ns):%Y-%m-%d %H:%M:%S},{v['T1']},{v['SP1']},L{ns // 10**11}" for ns, v in slow),
    ]
    (tmp_path / "slow.csv").write_text("\n".join(lines) + "\n")
    line = mapping(lot_column="Lot")
    blocks, account = read([fast, tmp_path / "slow.csv"], line)
    joined = [(ns, {"P die": v["P die"]}) for ns, v in rows] + [
        (ns, {"T1": v["T1"], "SP1": v["SP1"]}) for ns, v in slow
    ]
    assert cells_of(blocks) == expected_cells(joined, line)
    assert len({note.text for block in blocks for note in block.notes}) > 3
    for size in (1, 500):
        other, again = read([fast, tmp_path / "slow.csv"], line, block_bytes=size)
        assert same_blocks(blocks, other)
        assert account.as_dict() == again.as_dict()


def test_a_file_for_every_tag(tmp_path: Path) -> None:
    rows = steady(500)
    paths = []
    for tag in COLUMNS:
        path = tmp_path / f"{tag}.csv"
        path.write_text("\n".join(["Time,Tag,Value", *(line for _, line in long_lines(rows, (tag,)))]) + "\n")
        paths.append(path)
    blocks, account = read(paths, LONG)
    identity(account, 1500)
    assert account.rows_accepted == 1500
    assert cells_of(blocks) == expected_cells(rows, LONG)


def test_a_column_that_came_later(tmp_path: Path) -> None:
    rows = steady(300)
    paths = [
        write_csv(tmp_path / "1.csv", rows[:150], ("T1", "P die")),
        write_csv(tmp_path / "2.csv", rows[150:], ("T1", "P die", "SP1")),
    ]
    blocks, account = read(paths)
    expected = [(ns, {**v, "SP1": v["SP1"] if i >= 150 else None}) for i, (ns, v) in enumerate(rows)]
    assert cells_of(blocks) == expected_cells(expected, mapping())
    identity(account, 300)
