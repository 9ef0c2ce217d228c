"""Damage done by chance: the answer is either Blocks with an account that balances, or BadLog."""

from __future__ import annotations

import random
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.errors import BadLog
from tests.ingest.plain_log import Style, csv_text, mapping, read, steady, write_parquet

COLUMNS = ("T1", "P die", "SP1")
TEXTS = [
    csv_text(steady(60), COLUMNS, Style()).encode(),
    csv_text(steady(60), COLUMNS, Style(";", ",", time="day first", quote=True)).encode(),
    csv_text(steady(60), COLUMNS, Style("\t", ".", encoding="utf-16", time="epoch ms")).encode("utf-16"),
]
PIECES = [
    b"\n",
    b"\r",
    b";",
    b",",
    b'"',
    b"\x00",
    b"\xff",
    b"NaN",
    b"-",
    b"1e999",
    b"99999999999999999999",
    b"\xe2\x80\xa8",
]


def answer(data: bytes, name: str = "log.csv", **changes: object) -> None:
    """Reads the damaged file; anything but an answer fails."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        try:
            blocks, account = read(path, mapping(**changes))
        except BadLog as error:
            assert str(path) in str(error)
            return
    assert blocks
    assert account.rows_read == account.rows_accepted + account.rows_set_aside > 0


@settings(max_examples=100, deadline=None)
@given(seed=st.integers(0, 10**9), which=st.integers(0, len(TEXTS) - 1), looked_for=st.booleans())
def test_csv(seed: int, which: int, looked_for: bool) -> None:
    chance = random.Random(seed)
    data = bytearray(TEXTS[which])
    for _ in range(chance.randrange(1, 12)):
        at = chance.randrange(len(data) + 1)
        match chance.randrange(4):
            case 0:
                data[at : at + chance.randrange(1, 40)] = b""
            case 1:
                data[at:at] = chance.choice(PIECES)
            case 2:
                data[at : at + 1] = bytes([chance.randrange(256)])
            case 3:
                data = data[: max(at, 20)]
    answer(bytes(data), time_columns=() if looked_for else ("Time",))


@settings(max_examples=50, deadline=None)
@given(data=st.binary(max_size=400) | st.text(max_size=300).map(str.encode))
def test_anything(data: bytes) -> None:
    answer(data)
    answer(b"Time,T1,P die,SP1\n" + data)


@pytest.fixture(scope="module")
def parquet(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A small whole Parquet file."""
    return write_parquet(tmp_path_factory.mktemp("whole") / "log.parquet", steady(300)).read_bytes()


@pytest.mark.parametrize("seed", range(60))
def test_parquet(parquet: bytes, seed: int) -> None:
    chance = random.Random(seed)
    data = bytearray(parquet)
    for _ in range(chance.randrange(1, 5)):
        at = chance.randrange(len(data))
        data[at] = chance.randrange(256)
    answer(bytes(data), "log.parquet")
