"""Logs in random dialects with random damage come back exactly: values, status, and every damage in the account."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.account import ReadingAccount
from ingest.read_log import read_in_pieces
from tests.ingest.dialect_writer import FRESH, write_log


def check(seed: int, folder: Path, damaged: bool, block_bytes: int = 1 << 20) -> None:
    """Writes the log of a seed and compares what is read with what was written."""
    written = write_log(seed, folder, damaged)
    account = ReadingAccount()
    found = {}
    for block in read_in_pieces(written.paths, written.mapping, account, block_bytes=block_bytes):
        assert account.rows_read == account.rows_accepted + account.rows_set_aside
        for key, values, status in zip(block.channels, block.values, block.status, strict=True):
            for i in np.flatnonzero(status & FRESH):
                found[key, block.t0 + int(i) * block.step] = (float(values[i]), int(status[i]))
    said = written.said
    assert account.rows_read == written.rows == sum(one.rows for one in account.files), said
    assert account.set_aside_by_reason == written.aside, said
    assert account.rows_accepted == written.accepted, said
    assert {tag: bad.count for tag, bad in account.values_unreadable.items()} == written.bad_values, said
    assert account.duplicates == written.duplicates, said
    assert account.out_of_order == written.out_of_order, said
    assert found == written.cells, said
    for one in account.files:
        assert one.rows == one.rows_accepted + sum(one.set_aside_by_reason.values()), said


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**9), damaged=st.booleans())
def test_any_dialect(seed: int, damaged: bool) -> None:
    with tempfile.TemporaryDirectory() as folder:
        check(seed, Path(folder), damaged)


@pytest.mark.parametrize("seed", [43, 58])
def test_seeds_that_once_failed(seed: int, tmp_path: Path) -> None:
    check(seed, tmp_path, damaged=True)
