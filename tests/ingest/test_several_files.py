"""A log in several files, in any order, with overlaps."""

from __future__ import annotations

from pathlib import Path

from tests.ingest.plain_log import (
    cells_of,
    expected_cells,
    mapping,
    read,
    same_blocks,
    steady,
    write_csv,
    write_parquet,
)


def test_files_are_read_in_order_of_their_first_stamp(tmp_path: Path) -> None:
    rows = steady(300)
    whole, _ = read(write_csv(tmp_path / "whole.csv", rows))
    parts = [
        write_csv(tmp_path / "z.csv", rows[:100]),
        write_parquet(tmp_path / "m.parquet", rows[100:200]),
        write_csv(tmp_path / "a.csv", rows[200:]),
    ]
    for order in (parts, parts[::-1], [parts[1], parts[2], parts[0]]):
        blocks, account = read(order)
        assert same_blocks(blocks, whole)
        assert [Path(entry.path).name for entry in account.files] == ["z.csv", "m.parquet", "a.csv"]
        assert [entry.rows for entry in account.files] == [100, 100, 100]
        assert account.rows_accepted == 300
        assert account.gap_count == 0


def test_rows_that_overlap_are_duplicates(tmp_path: Path) -> None:
    rows = steady(300)
    one, other = write_csv(tmp_path / "a.csv", rows[:200]), write_csv(tmp_path / "b.csv", rows[100:])
    blocks, account = read([other, one])
    assert cells_of(blocks) == expected_cells(rows, mapping())
    # The last 10 s of the first file are near enough to be sorted in as second rows of their stamps.
    assert account.set_aside_by_reason == {"overlaps an earlier file": 89}
    assert account.duplicates == 100
    assert account.rows_read == 400
    assert (account.set_aside[0].file, account.set_aside[0].row) == (str(other), 2)
    assert account.clock_step_count == 0


def test_one_file_twice(tmp_path: Path) -> None:
    rows = steady(100)
    path = write_csv(tmp_path / "a.csv", rows)
    blocks, account = read([path, path])
    assert cells_of(blocks) == expected_cells(rows, mapping())
    assert account.duplicates == 100
    assert account.rows_read == 200


def test_a_gap_between_files(tmp_path: Path) -> None:
    rows = steady(300)
    paths = [write_csv(tmp_path / "a.csv", rows[:100]), write_csv(tmp_path / "b.csv", rows[200:])]
    _, account = read(paths)
    (gap,) = account.gaps
    assert (Path(gap.file).name, gap.row, (gap.to_ns - gap.from_ns) / 1e9) == ("b.csv", 2, 101)
