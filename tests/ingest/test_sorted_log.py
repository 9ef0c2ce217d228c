"""Rows in no order at all: sorted where their stamps tell the order, and never where a clock was put back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from tests.ingest.plain_log import Row, mapping, moment, read, same_blocks, steady, write_csv, write_parquet

SORTED = "they are sorted by time"


def shuffled(rows: Sequence[Row], seed: int = 1) -> list[Row]:
    return [rows[i] for i in np.random.default_rng(seed).permutation(len(rows))]


@pytest.mark.parametrize("write", [write_csv, write_parquet])
@pytest.mark.parametrize("count", [40, 3000])
def test_the_same_log_as_in_order(tmp_path: Path, write, count: int) -> None:
    rows = steady(count)
    plain, _ = read(write(tmp_path / "plain.log", rows))
    some, account = read(write(tmp_path / "some.log", shuffled(rows)))
    assert same_blocks(plain, some)
    assert account.rows_accepted == account.rows_read == count and not account.clock_step_count
    (said,) = [one for one in account.assumptions if SORTED in one]
    assert "some.log" in said and account.how_sure[said] == "likely"


def pages(rows: Sequence[Row], order: Sequence[int], count: int) -> list[Row]:
    width = len(rows) // count
    return [row for page in order for row in rows[page * width : (page + 1) * width]]


@pytest.mark.parametrize("order", [(1, 0), (0, 2, 1, 3), (5, 1, 4, 0, 3, 2)])
def test_days_put_together_in_another_order(tmp_path: Path, order: tuple[int, ...]) -> None:
    rows = steady(12_000, step_ms=60_000)
    plain, _ = read(write_csv(tmp_path / "plain.csv", rows), mapping(cadence_s=60.0))
    some, account = read(write_csv(tmp_path / "some.csv", pages(rows, order, len(order))), mapping(cadence_s=60.0))
    assert account.rows_accepted == len(rows) and same_blocks(plain, some)
    assert any(SORTED in one for one in account.assumptions)


def test_a_clock_put_back_once_into_a_time_that_was_left_out_is_not_sorted(tmp_path: Path) -> None:
    rows = steady(4000)
    # The logger was off from 1000 s to 3000 s; at 3500 s its clock is put back by 2000 s.
    rows = [*rows[:1000], *rows[3000:3500], *((ns - 2000 * 10**9, values) for ns, values in rows[3500:])]
    _, account = read(write_csv(tmp_path / "some.csv", rows))
    assert not any(SORTED in one for one in account.assumptions)
    assert account.set_aside_by_reason["clock runs backwards"] == 500


def test_the_rows_of_each_line_are_looked_at_by_themselves(tmp_path: Path) -> None:
    rows = steady(1000)
    two = [(ns, {**values, "Line": name}) for ns, values in rows for name in ("L1", "L2")]
    path = write_csv(tmp_path / "some.csv", shuffled(two), ("T1", "P die", "SP1", "Line"))
    some, account = read(path, mapping(line_column="Line", line_value="L1"))
    assert account.rows_accepted == 1000
    assert same_blocks(some, read(write_csv(tmp_path / "plain.csv", rows))[0])


def test_pieces_do_not_show(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "some.csv", shuffled(steady(3000)))
    assert same_blocks(read(path)[0], read(path, block_bytes=2000)[0])


def test_a_row_without_a_time_is_set_aside_under_its_own_number(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "some.csv", shuffled(steady(500)))
    lines = path.read_text().splitlines()
    lines[100] = "when?" + lines[100][lines[100].index(",") :]
    path.write_text("\n".join(lines) + "\n")
    _, account = read(path)
    assert [(one.row, one.text) for one in account.set_aside] == [(101, "when?")]
    assert account.rows_read == 500 and account.rows_accepted == 499


def test_where_a_time_is_there_twice_nothing_is_sorted(tmp_path: Path) -> None:
    rows = steady(500)
    _, account = read(write_csv(tmp_path / "some.csv", shuffled([*rows, rows[7]])))
    assert not any(SORTED in one for one in account.assumptions)
    assert account.set_aside_by_reason["clock runs backwards"] > 400


def test_the_hour_that_comes_twice_is_not_sorted(tmp_path: Path) -> None:
    path = tmp_path / "some.csv"
    first = 1_792_886_400 * 10**9  # 2026-10-25 00:00 UTC, an hour before the clock of Madrid is put back
    at = [first + i * 7 * 10**9 for i in range(1000)]
    texts = [f"{moment(ns).astimezone(ZoneInfo('Europe/Madrid')):%Y-%m-%d %H:%M:%S},{i}" for i, ns in enumerate(at)]
    assert len({text.split(",")[0] for text in texts}) == len(texts)
    order = np.random.default_rng(1).permutation(len(texts))
    path.write_text("Time,T1\n" + "\n".join(texts[i] for i in order) + "\n")
    line = mapping(time_zone="Europe/Madrid", channels=mapping().channels[:1])
    assert not any(SORTED in one for one in read(path, line)[1].assumptions)


def test_a_clock_that_is_put_back_often_is_none_of_it(tmp_path: Path) -> None:
    rows = steady(2000)
    # Every 100 s the clock is put back by 15.5 s: no stamp is there twice.
    often = [(ns - (i // 100) * 15_500_000_000, values) for i, (ns, values) in enumerate(rows)]
    _, account = read(write_csv(tmp_path / "some.csv", often))
    assert not any(SORTED in one for one in account.assumptions) and account.clock_step_count > 10
