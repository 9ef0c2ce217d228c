"""Blocks into an archive and back: to the bit, with status and notes, only where wanted."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.archive.layout import group_ns
from ingest.archive.read import ArchivedLine, archive_blocks
from ingest.block import NONE, NOTE_KINDS, Block, Note
from ingest.errors import BadLog
from tests.ingest.archive.archive_cases import DAY, HOUR, LINE, MINUTE, SECOND, cells, hours_are_whole, keep, notes

BITS = st.integers(0, 2**64 - 1).map(lambda one: float(np.frombuffer(np.uint64(one).tobytes(), np.float64)[0]))
VALUES = st.sampled_from([0.0, -0.0, 21.5, 21.5, 21.6, float("nan")]) | BITS


@st.composite
def some_blocks(draw: st.DrawFn) -> list[Block]:
    """A few Blocks of one line, near the ends of hours and days, with every status and any bits."""
    step = draw(st.sampled_from([100_000_000, SECOND, 7 * SECOND, MINUTE, 17 * MINUTE]))
    channels = draw(st.sampled_from([("torque",), ("torque", "zone_temperature:Z 1/x"), ("a", "b", "c")]))
    t0 = draw(st.integers(-2, 2)) * DAY + draw(st.sampled_from([0, HOUR, 5 * HOUR, 23 * HOUR])) - 3 * step
    t0 = t0 // step * step
    blocks = []
    for _ in range(draw(st.integers(1, 4))):
        n = draw(st.integers(1, 9))
        size = n * len(channels)
        values = np.array(draw(st.lists(VALUES, min_size=size, max_size=size))).reshape(len(channels), n)
        status = np.array(draw(st.lists(st.sampled_from([4, 4, 4, 0, 1, 2, 3, 5, 6, 7]), min_size=size, max_size=size)))
        status = status.reshape(len(channels), n).astype(np.uint8)
        if draw(st.booleans()):
            status = np.where(np.isnan(values), np.uint8(NONE), np.uint8(4))
        # Lasting texts differ, for one that says what holds anyway is not kept.
        said = [
            Note(t0 + draw(st.integers(0, n * step - 1)), kind, f"{kind} {len(blocks)} {i}")
            for i, kind in enumerate(draw(st.lists(st.sampled_from(NOTE_KINDS), max_size=2, unique=True)))
        ]
        blocks.append(Block(t0, step, channels, values, status, tuple(sorted(said))))
        t0 += n * step + draw(st.sampled_from([0, 0, 1, 50, 90_000])) * step
    return blocks


@settings(max_examples=60, deadline=None)
@given(some_blocks())
def test_every_bit_comes_back(blocks: list[Block]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        keep(Path(folder), blocks)
        back = list(archive_blocks(folder, LINE))
        assert cells(back) == cells(blocks)
        assert notes(back) == notes(blocks)
        assert hours_are_whole(back)
        assert all(block.channels == blocks[0].channels for block in back)
        for block in back:
            assert all(block.t0 <= note.at_ns < block.end for note in block.notes)
        low, high = blocks[0].t0 + blocks[0].step + 1, blocks[-1].end - blocks[0].step - 1
        some = cells(archive_blocks(folder, LINE, low, high, blocks[0].channels[::-1]))
        assert some == {place: cell for place, cell in cells(blocks).items() if low <= place[1] < high}


def day_of_cells(day: int = 0, seed: int = 0, channels: tuple[str, ...] = ("torque", "screw_speed")) -> list[Block]:
    """A whole day at one a minute, in hours."""
    chance = np.random.default_rng(seed)
    found = []
    for hour in range(24):
        values = np.round(chance.normal(200, 5, (len(channels), 60)), 1)
        found.append(Block(day * DAY + hour * HOUR, MINUTE, channels, values, np.full(values.shape, 4, np.uint8)))
    return found


def test_what_others_can_read(tmp_path: Path) -> None:
    keep(tmp_path, day_of_cells(3))
    (path,) = tmp_path.glob("cells/line=L1/day=1970-01-04/*.parquet")
    file = pq.ParquetFile(path)
    assert file.schema_arrow.names == ["time", "torque", "screw_speed", "status:torque", "status:screw_speed"]
    assert file.schema_arrow.field("time").type == pa.timestamp("ns", "UTC")
    assert file.metadata.num_row_groups == DAY // group_ns(MINUTE) == 4
    table = pq.read_table(path)
    assert table.column("time")[0].value == 3 * DAY and len(table) == 1440
    assert table.column("status:torque").null_count == 1440  # all readings are fresh and good
    for group in range(4):
        about = file.metadata.row_group(group)
        assert about.column(0).compression == "ZSTD"
        assert about.column(0).statistics.min_raw == 3 * DAY + group * 6 * HOUR
        values = np.concatenate([block.values[0] for block in day_of_cells(3)])[group * 360 : group * 360 + 360]
        assert about.column(1).statistics.min == values.min() and about.column(1).statistics.max == values.max()
    assert [one.column_index for one in file.metadata.row_group(0).sorting_columns] == [0]


def test_only_the_days_and_groups_asked_for_are_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(tmp_path, [*day_of_cells(0), *day_of_cells(1), *day_of_cells(2)])
    asked: list[tuple[int, list[str]]] = []
    original = pq.ParquetFile.read_row_group

    def spy(self: pq.ParquetFile, group: int, columns: list[str]) -> pa.Table:
        asked.append((group, columns))
        return original(self, group, columns=columns)

    monkeypatch.setattr(pq.ParquetFile, "read_row_group", spy)
    found = list(archive_blocks(str(tmp_path), LINE, DAY + 7 * HOUR, DAY + 8 * HOUR, ["torque"]))
    assert [block.t0 for block in found] == [DAY + 7 * HOUR]
    assert asked == [(1, ["time", "torque", "status:torque"])]


def test_channels_that_come_later(tmp_path: Path) -> None:
    keep(tmp_path, day_of_cells(0))
    keep(tmp_path, day_of_cells(1, channels=("screw_speed", "motor_current")), "two")
    line = ArchivedLine(str(tmp_path), LINE)
    assert line.channels == ("torque", "screw_speed", "motor_current")
    first, *_, last = line.blocks()
    assert (first.status[2] == NONE).all() and np.isnan(first.values[2]).all()
    assert (last.status[0] == NONE).all() and not np.isnan(last.values[2]).any()


def test_an_archive_that_has_not_got_it(tmp_path: Path) -> None:
    with pytest.raises(BadLog, match="is empty or is no archive"):
        archive_blocks(str(tmp_path / "none"), LINE)
    keep(tmp_path, day_of_cells(0))
    with pytest.raises(BadLog, match="nothing of line 'L2'; it holds 'L1'"):
        archive_blocks(str(tmp_path), "L2")
    other = [Block(9 * DAY, SECOND, ("torque",), np.zeros((1, 1)), np.zeros((1, 1), np.uint8))]
    with pytest.raises(BadLog, match="kept in cells of 60 s, but its line file says 1 s"):
        keep(tmp_path, other, "two")


def test_a_year_of_days_is_found_without_reading_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = np.zeros((1, 1)), np.full((1, 1), 4, np.uint8)
    keep(tmp_path, [Block(day * DAY, MINUTE, ("torque",), *one) for day in range(40)])
    opened: list[str] = []
    line = ArchivedLine(str(tmp_path), LINE)
    original = line.place.open
    monkeypatch.setattr(line.place, "open", lambda path: opened.append(path) or original(path))
    assert len(list(line.blocks(7 * DAY, 9 * DAY))) == 2
    assert len(opened) == 2
