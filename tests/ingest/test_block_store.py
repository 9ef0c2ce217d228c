"""Blocks in a file and back: to the bit, only what is wanted, or a message."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.block import Block, Note
from ingest.block_store import StoredBlocks, read_stored, write_blocks
from ingest.errors import BadLog
from tests.ingest.plain_log import same_blocks, write_parquet

SECOND = 10**9
CHANNELS = ("torque", "zone_temperature:Z1", "zone_temperature:Z 2|x")
BITS = st.integers(0, 2**64 - 1).map(lambda bits: float(np.frombuffer(np.uint64(bits).tobytes(), np.float64)[0]))


def block(t0_s: int, n: int, seed: int = 0, notes: tuple[Note, ...] = ()) -> Block:
    """A Block of CHANNELS with holes."""
    chance = np.random.default_rng(seed + t0_s)
    values = np.round(chance.normal(200, 5, (len(CHANNELS), n)), 1)
    status = chance.choice([0, 1, 2, 3, 4, 5, 6], (len(CHANNELS), n)).astype(np.uint8)
    values[status == 3] = np.nan
    return Block(t0_s * SECOND, SECOND, CHANNELS, values, status, notes)


def hours() -> list[Block]:
    """Three hours, a gap of ten, one more; with notes."""
    return [
        block(3600 * 100 + 50, 3550, notes=(Note((3600 * 100 + 50) * SECOND, "lot", "A 1"),)),
        block(
            3600 * 101,
            3600,
            notes=(Note((3600 * 101 + 7) * SECOND + 5, "recipe", "ü\n"), Note((3600 * 102 - 1) * SECOND, "lot", "B")),
        ),
        block(3600 * 102, 3600),
        block(3600 * 112 + 9, 100, notes=(Note((3600 * 112 + 9) * SECOND, "remark", ""),)),
    ]


def test_there_and_back(tmp_path: Path) -> None:
    blocks = hours()
    path = tmp_path / "store.parquet"
    assert write_blocks(path, iter(blocks)) == 3550 + 3600 + 3600 + 100
    assert same_blocks(list(read_stored(path)), blocks)
    store = StoredBlocks(path)
    assert (store.channels, store.step) == (CHANNELS, SECOND)
    assert (store.t0, store.end) == (blocks[0].t0, blocks[-1].end)
    assert store.notes == tuple(note for one in blocks for note in one.notes)
    assert pq.ParquetFile(path).metadata.num_row_groups == 4
    assert list(tmp_path.iterdir()) == [path]


@settings(max_examples=40, deadline=None)
@given(values=st.lists(BITS | st.sampled_from([0.0, -0.0, 1.5]), min_size=1, max_size=40), step=st.integers(1, 10**10))
def test_every_bit_pattern_survives(values: list[float], step: int) -> None:
    array = np.array([values])
    one = Block(-3 * step, step, ("torque",), array, np.arange(len(values), dtype=np.uint8)[None, :] % 7)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "store.parquet"
        write_blocks(path, [one])
        assert same_blocks(list(read_stored(path)), [one])


def test_the_file_can_be_read_by_others(tmp_path: Path) -> None:
    path = tmp_path / "store.parquet"
    write_blocks(path, hours())
    table = pq.read_table(path)
    assert table.column_names[:3] == ["time", "torque", "status:torque"]
    assert table.schema.field("time").type == pa.timestamp("ns", "UTC")
    assert table.column("time")[0].value == hours()[0].t0


@settings(max_examples=60, deadline=None)
@given(t0=st.integers(-20, 46_000), length=st.integers(0, 46_000), odd=st.integers(-1, 1))
def test_a_span(stored: Path, t0: int, length: int, odd: int) -> None:
    low = (3600 * 100 + t0) * SECOND + odd
    high = low + length * SECOND
    wanted = []
    for one in hours():
        inside = np.flatnonzero((one.times() >= low) & (one.times() < high))
        if len(inside):
            wanted.append(one.cut(int(inside[0]), int(inside[-1]) + 1))
    assert same_blocks(list(read_stored(stored, t0=low, t1=high)), wanted)


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """hours() in a file."""
    path = tmp_path_factory.mktemp("store") / "store.parquet"
    write_blocks(path, hours())
    return path


def test_some_channels_in_any_order(stored: Path) -> None:
    picked = list(read_stored(stored, channels=(CHANNELS[2], CHANNELS[0])))
    for one, whole in zip(picked, hours(), strict=True):
        assert one.channels == (CHANNELS[2], CHANNELS[0])
        assert one.values.tobytes() == whole.values[[2, 0]].tobytes()
        assert one.status.tobytes() == whole.status[[2, 0]].tobytes()
        assert one.notes == whole.notes


def test_only_wanted_row_groups_and_columns_are_read(stored: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, list[str]]] = []
    original = pq.ParquetFile.read_row_group

    def spy(self: pq.ParquetFile, group: int, columns: list[str]) -> pa.Table:
        asked.append((group, columns))
        return original(self, group, columns=columns)

    monkeypatch.setattr(pq.ParquetFile, "read_row_group", spy)
    list(read_stored(stored, ["torque"], t0=3600 * 102 * SECOND, t1=3600 * 110 * SECOND))
    assert asked == [(2, ["torque", "status:torque"])]


def test_blocks_are_written_as_they_come(tmp_path: Path) -> None:
    path = tmp_path / "store.parquet"
    sizes = []

    def slowly() -> Iterator[Block]:
        for hour in range(30):
            yield block(3600 * hour, 3600)
            sizes.append((tmp_path / "store.parquet.part").stat().st_size)

    write_blocks(path, slowly())
    assert sizes[-1] > sizes[5] > 0


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ([], "no block"),
        ([block(0, 10), block(9, 10)], "before the end"),
        (
            [block(0, 10), Block(10 * SECOND, SECOND, ("torque",), np.zeros((1, 1)), np.zeros((1, 1), np.uint8))],
            "other channels",
        ),
    ],
)
def test_what_cannot_be_written(tmp_path: Path, blocks: list[Block], words: str) -> None:
    path = tmp_path / "store.parquet"
    with pytest.raises(ValueError, match=words):
        write_blocks(path, blocks)
    assert list(tmp_path.iterdir()) == []


def test_a_failure_half_way_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "store.parquet"
    write_blocks(path, hours())

    def breaking() -> Iterator[Block]:
        yield block(0, 10)
        raise BadLog("log.csv", "is cut off")

    with pytest.raises(BadLog):
        write_blocks(path, breaking())
    assert same_blocks(list(read_stored(path)), hours())
    assert list(tmp_path.iterdir()) == [path]


def test_files_that_are_no_store(tmp_path: Path, stored: Path) -> None:
    with pytest.raises(BadLog, match="does not exist"):
        read_stored(tmp_path / "no.parquet")
    log = write_parquet(tmp_path / "log.parquet", [(1, {})])
    with pytest.raises(BadLog, match="not one of blocks"):
        read_stored(log)
    cut = tmp_path / "cut.parquet"
    cut.write_bytes(stored.read_bytes()[:-100])
    with pytest.raises(BadLog, match="cut off or damaged"):
        read_stored(cut)
    with pytest.raises(BadLog, match="channel 'torqe' is not stored; nearest: 'torque'"):
        read_stored(stored, ["torqe"])
