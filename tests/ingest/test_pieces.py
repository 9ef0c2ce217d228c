"""Blocks and account do not depend on the size of the pieces in which a file is read."""

from __future__ import annotations

import random
import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.account import ReadingAccount
from ingest.mapping import ChannelSource, LogMapping
from tests.ingest.plain_log import CHANNELS, START, Style, csv_text, mapping, moment, nanoseconds, read, same_blocks

PIECES = (1, 61, 900)
ODD_LINES = (
    "2026-03-06 10:53:00,1,2",
    "2026-03-06 10:53:00,1,2,3,4,5",
    "",
    "   ",
    '2026-03-06 10:53:00,"1,2,3,x',
    "soon,1,2,3,L",
    "2026-02-30 10:00:00,1,2,3,L",
    "2026-03-06 10:00:00,1,2,3,L",
    "2026-03-06 19:00:00,1,2,3,L",
    "1970-01-01 00:00:00,1,2,3,L",
    ",,,,",
    "2026-03-06 10:53:10,off,OFF,Bad,L",
    "2026-03-06 10:53:11,off,2,,L",
    '2026-03-06 10:53:12,"1,234.5",2,inf,L',
    "2026-03-06 10:53:13, 7 ,+2,1e2,L\xe9",
)
LINE = mapping(
    channels=(*CHANNELS[:2], ChannelSource("SP1", "zone_setpoint:Z1", "C", "last", 4, 0, 400)), lot_column="Lot"
)


def odd_log(seed: int) -> bytes:
    """A log with rows of every kind, strewn in by chance."""
    chance = random.Random(seed)
    lines = ["Time,T1,P die,SP1,Lot"]
    at = nanoseconds(START)
    for i in range(chance.randrange(3, 120)):
        at += chance.choice([0, 100, 1000, 1000, 1000, 5000, 90_000, 1_800_000]) * 1_000_000
        late = chance.choice([0, 0, 0, 0, 0, 3000, 9999, 12_000]) * 1_000_000
        lines.append(
            f"{moment(at - late):%Y-%m-%d %H:%M:%S.%f},{200 + i / 7},{i % 9},{i % 3},{'A' if i % 40 < 30 else 'B'}"
        )
        if chance.random() < 0.15:
            lines.append(chance.choice(ODD_LINES))
    text = "\n".join(lines) + chance.choice(["\n", "", "\n2026-03-06 1"])
    return text.encode("latin-1")


def account_of(account: ReadingAccount) -> dict[str, object]:
    """What an account says, but for the order in which sentences were found."""
    return {**account.as_dict(), "assumptions": sorted(account.assumptions)}


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_wide_csv(seed: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(odd_log(seed))
        whole, account = read(path, LINE)
        for size in PIECES:
            blocks, other = read(path, LINE, block_bytes=size)
            assert same_blocks(whole, blocks), size
            assert account_of(account) == account_of(other), size


def long_rows(seed: int) -> list[str]:
    """A long log with tags of several lines, quality and texts."""
    chance = random.Random(seed)
    at = nanoseconds(START)
    lines = ["Time,Line,Tag,Value,Quality"]
    for _ in range(chance.randrange(20, 100)):
        at += chance.choice([0, 0, 0, 50, 300, 1000, 4000, 70_000]) * 1_000_000
        tag = chance.choice(["T1", "P die", "SP1", "unknown"])
        reading = chance.choice(["1.5", "200", "-3", "", "Bad", "x", "401", f"{chance.random() * 300}"])
        quality = chance.choice(["192", "192", "0", "64", "", "216", "strange"])
        late = chance.choice([0, 0, 0, 2000, 11_000]) * 1_000_000
        lines.append(f"{moment(at - late):%Y-%m-%d %H:%M:%S.%f},{chance.choice('AAAB')},{tag},{reading},{quality}")
    return lines


LONG = mapping(
    channels=LINE.channels,
    layout="long",
    tag_column="Tag",
    value_column="Value",
    quality_column="Quality",
    line_column="Line",
    line_value="A",
)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_long_csv(seed: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_text("\n".join(long_rows(seed)) + "\n")
        whole, account = read(path, LONG)
        for size in PIECES:
            blocks, other = read(path, LONG, block_bytes=size)
            assert same_blocks(whole, blocks), size
            assert account_of(account) == account_of(other), size


@pytest.mark.parametrize("zone", ["Europe/Berlin", "Australia/Lord_Howe"])
@pytest.mark.parametrize("step_ms", [250, 10_000, 300_000])
def test_a_repeated_hour(tmp_path: Path, zone: str, step_ms: int) -> None:
    # Both zones put their clocks back in this window: Berlin on 25 October 2026, Lord Howe on 5 April 2026.
    start = nanoseconds(START.replace(month=10, day=25, hour=0, minute=30, second=0))
    if zone.startswith("Australia"):
        start = nanoseconds(START.replace(month=4, day=4, hour=14, minute=30, second=0))
    rows = [(start + i * step_ms * 1_000_000, {"T1": float(i), "P die": 1.0, "SP1": 2.0}) for i in range(60)]
    path = tmp_path / "log.csv"
    path.write_text(csv_text(rows, ("T1", "P die", "SP1"), Style(zone=zone)))
    line = mapping(time_zone=zone)
    whole, _ = read(path, line)
    for size in PIECES:
        assert same_blocks(whole, read(path, line, block_bytes=size)[0]), size


def test_parquet(tmp_path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    chance = random.Random(5)
    at, stamps = nanoseconds(START), []
    for _ in range(200):
        at += chance.choice([0, 500, 1000, 30_000]) * 1_000_000
        stamps.append(at - chance.choice([0, 0, 4000, 20_000]) * 1_000_000)
    table = {"Time": pa.array(stamps, pa.timestamp("ns"))}
    table |= {
        name: pa.array([chance.choice([None, chance.random()]) for _ in stamps]) for name in ("T1", "P die", "SP1")
    }
    path = tmp_path / "log.parquet"
    pq.write_table(pa.table(table), path, row_group_size=33)
    whole, account = read(path)
    assert account.rows_set_aside > 0
    for rows in (1, 2, 17, 33, 1000):
        blocks, other = read(path, batch_rows=rows)
        assert same_blocks(whole, blocks)
        assert account_of(account) == account_of(other)


def test_blocks_are_cut_at_multiples_and_hang_together(tmp_path: Path) -> None:
    lines = ["Time,T1,P die,SP1"]
    start = nanoseconds(START)
    lines += [f"{moment(start + i * 10 * 10**9):%Y-%m-%d %H:%M:%S},{i},1,2" for i in range(1500)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    for block_s in (60.0, 600.0, 3600.0, 86400.0):
        blocks, _ = read(path, block_s=block_s)
        size = round(block_s * 1e9)
        assert blocks[0].t0 == start
        assert all(block.t0 // size == (block.end - 1) // size for block in blocks)
        assert all(after.t0 == before.end and after.t0 % size == 0 for before, after in pairwise(blocks))
        assert sum(block.n for block in blocks) == 14991


def test_a_cadence_that_does_not_divide_the_hour(tmp_path: Path) -> None:
    line: LogMapping = mapping(cadence_s=7.0)
    lines = ["Time,T1,P die,SP1"]
    start = nanoseconds(START)
    lines += [f"{moment(start + i * 7 * 10**9):%Y-%m-%d %H:%M:%S},{i},1,2" for i in range(2000)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    blocks, _ = read(path, line)
    assert all(block.t0 % block.step == 0 for block in blocks)
    assert all(after.t0 == before.end for before, after in pairwise(blocks))
    hour = 3600 * 10**9
    assert all(block.t0 // hour == (block.end - block.step) // hour for block in blocks)
