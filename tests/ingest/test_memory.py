"""A log is read in pieces: what is held in memory does not grow with its length."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pyarrow as pa
import pytest

from ingest.account import ReadingAccount
from ingest.read_log import read_in_pieces
from tests.ingest.plain_log import mapping, steady, write_csv, write_parquet


def peak(path: Path) -> int:
    """Most bytes held at one time, by Python and numpy and by Arrow."""
    arrow = 0
    tracemalloc.start()
    account = ReadingAccount()
    pieces = read_in_pieces([path], mapping(), account, block_s=600, block_bytes=20_000, batch_rows=500)
    cells = 0
    for block in pieces:
        cells += block.n
        arrow = max(arrow, pa.total_allocated_bytes())
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert cells == account.rows_accepted
    return most + arrow


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_memory_does_not_grow_with_the_log(tmp_path: Path, kind: str) -> None:
    peaks = []
    for count in (20_000, 20_000, 60_000):  # the first run also pays for what is set up once
        rows = steady(count)
        path = tmp_path / f"{count}.{kind}"
        peaks.append(peak(write_csv(path, rows) if kind == "csv" else write_parquet(path, rows, group=10_000)))
    # All values of the longer one alone would be 1.4 MB.
    assert peaks[2] < 1.1 * peaks[1], peaks
